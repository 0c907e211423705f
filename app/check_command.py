"""`evenseam check`: holds trail, triggers, files and signed papers against one another and names the first fault.

`evenseam check --paper` holds one printed paper, or its check sum as somebody read it, against the record.
"""

import json
import re
from collections.abc import Callable
from pathlib import Path

from sqlmodel import Session, col, select

from app.consents import checking, papers
from app.consents.models import Signature
from app.consents.paper_pdf import KEYWORD, make_paper
from app.consents.paper_queries import drawings_of, paper_of
from app.intake.models import Submission
from app.platform.audit_check import Fault, verify, verify_anchors
from app.platform.migrate import is_current
from app.platform.service import Service
from app.platform.settings import BadSetting, Settings
from app.platform.storage import Blob, Damaged
from app.studio.models import Studio


def _opened(settings: Settings, say: Callable[..., None]) -> Service | None:
    file = Path(settings.database_url.removeprefix("sqlite:///"))
    if settings.database_url.startswith("sqlite") and not file.exists():
        raise BadSetting(f"there is no studio in {settings.data}; give its folder with --data or EVENSEAM_DATA")
    service = Service.open(settings)
    if is_current(service.database):
        return service
    say("FAULT: the database is not at this version's tables; run: evenseam migrate")
    return None


def check(settings: Settings, say: Callable[..., None]) -> int:
    """0 when everything verifies; otherwise 1, after saying the first fault."""
    service = _opened(settings, say)
    if service is None:
        return 1
    with service.database.engine.connect() as connection:
        result = verify(connection)
        fault = result if isinstance(result, Fault) else verify_anchors(connection, settings.data / "audit-heads.jsonl")
    if fault is not None:
        say(f"FAULT: {fault.words}")
        return 1
    assert not isinstance(result, Fault)
    with service.database.read() as db:
        blobs = db.exec(select(Blob).order_by(col(Blob.id))).all()
    for blob in blobs:
        try:
            service.storage.get(blob)
        except Damaged as damaged:
            say(f"FAULT: {damaged}")
            return 1
    with service.database.read() as db:
        try:
            signed = checking.check_papers(db)
            _check_answers(db)
        except checking.Changed as changed:
            say(f"FAULT: {changed}")
            return 1
    say(
        f"Everything verifies: {result.entries} audit entries (the content of {result.erased} erased), "
        f"{len(blobs)} stored files, {signed.checked} signed papers with {signed.site_checks} checks on site"
        f"{f', {signed.before} signed before papers were kept' if signed.before else ''}."
    )
    say(f"Head of the trail: {result.head}")
    return 0


def _check_answers(db: Session) -> None:
    """The answers of a form are those that its declaration was signed under."""
    for submission in db.exec(select(Submission).order_by(col(Submission.id))).all():
        signature = db.get(Signature, submission.signature_id) if submission.signature_id is not None else None
        about = json.loads(signature.paper)["about"] if signature is not None and signature.paper else {}
        if about.get("form") == submission.id and about.get("answers_sha256") != papers.hash_of(submission.answers):
            raise checking.Changed(f"the answers of form {submission.id} are not those that were signed")


def check_paper(settings: Settings, given: str, say: Callable[..., None]) -> int:
    """Whether a paper, as a file or by its check sum, is on record and as it was signed: 0 when it is."""
    file = Path(given)
    content = file.read_bytes() if file.is_file() else b""
    digest = hash_in(content) if content else papers.typed_hash(given)
    if not digest:
        say("FAULT: this is neither a signed paper of ours nor a check sum of 64 letters and numbers")
        return 1
    service = _opened(settings, say)
    if service is None:
        return 1
    with service.database.read() as db:
        signature = checking.by_hash(db, digest)
        if signature is None:
            say("FAULT: no paper with this check sum was signed here")
            return 1
        fault = checking.fault_of(db, signature)
        if fault:
            say(f"FAULT: {fault}")
            return 1
        paper, blobs = paper_of(db, signature), drawings_of(db, paper_of(db, signature))
        time_zone = db.get_one(Studio, 1).time_zone
    say(f"Signed here as number {signature.id} on {papers.plain_moment(signature.signed_at)}, and unchanged since.")
    if not content:
        say("Compare the words on the paper with the record by eye: the check sum stands for those on record.")
        return 0
    drawing, guardian = (service.storage.get(blob) if blob is not None else b"" for blob in blobs)
    if make_paper(paper, time_zone, drawing, guardian) == content:
        say("The file is byte for byte what the record prints.")
        return 0
    say("The file is not byte for byte what the record prints now: something was added on record since, such as the")
    say("check on site or a permission taken back, or the file was changed. Print it again and compare the two.")
    return 1


def hash_in(content: bytes) -> str:
    """The check sum that a PDF of ours carries among its keywords; nothing where it carries none, or two."""
    found = set(re.findall(rb"%s([0-9a-f]{64})" % KEYWORD.encode(), content))
    return found.pop().decode() if len(found) == 1 else ""
