"""Outlines carried over from one photo of a zone to another: a proposal until somebody looked at it and kept it.

What came of the work stands beside the job until it is asked for again.
"""

import json
from dataclasses import dataclass
from typing import Any

from app.platform import jobs
from app.platform.service import Service
from app.records.models import OutlineSet, Photo


@dataclass(frozen=True)
class Carried:
    """Outlines that were carried over, compact JSON for the page, and how well the two photos lie over one another.

    words: what it rests on, and how far the same spots still lie apart. lost: pieces that fell outside. is_beyond: the
    scar lies beyond what both photos were recognised by.
    """

    source_id: int
    outlines: str
    words: str
    lost: int
    is_beyond: bool

    @property
    def sentences(self) -> tuple[str, ...]:
        said = [self.words]
        if self.is_beyond:
            said.append("The scar lies beyond what was recognised in both photos: expect it to be off, and correct it.")
        if self.lost:
            said.append("One piece fell outside this photo and was left out." if self.lost == 1 else
                        f"{self.lost} pieces fell outside this photo and were left out.")
        return tuple(said)


def carried_of(job: jobs.Job | None) -> Carried | None:
    """What a job has found; None while it works, or when the photos could not be laid over one another."""
    about = _about(job)
    if job is None or job.state != "done" or not about.get("outlines"):
        return None
    return Carried(about["from"], about["outlines"], about["words"], about["lost"], about["is_beyond"])


def not_carried_words(job: jobs.Job | None) -> str:
    """Why there is nothing to look at, once the work is done."""
    about = _about(job)
    if about.get("how", "none") != "none":
        return "Every piece of the scar, or of the skin, fell outside this photo."
    return str(about.get("words", ""))


def _about(job: jobs.Job | None) -> dict[str, Any]:
    return {} if job is None else dict(json.loads(job.about))


def source_of(service: Service, job: jobs.Job | None) -> tuple[Photo, OutlineSet] | None:
    """The photo and the outlines that a job carries from."""
    if job is None:
        return None
    with service.database.read() as db:
        source = db.get(OutlineSet, json.loads(job.about)["from"])
        return None if source is None else (db.get_one(Photo, source.photo_id), source)
