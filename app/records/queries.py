"""What is on file of clients, cases, zones, photos and readings, and for whom."""

import json
import re
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from app.platform.jobs import Job
from app.platform.search import escape_like, words_of
from app.platform.storage import Blob
from app.records.alerts import alert_for, alerts_of, contact_lines, kinds_of, setup_lines
from app.records.models import (
    Case,
    Client,
    DeclaredScar,
    OutlineSet,
    Photo,
    Reading,
    SearchWord,
    Zone,
)
from app.records.people import kept_client, kept_clients, person_ids, persons
from app.studio.access import NotFound, Who

__all__ = [
    "Target", "alert_for", "alerts_of", "blob_of", "case_for", "case_ids_of", "case_numbers", "case_to_arrange",
    "cases_of", "client_for", "clients", "contact_lines", "declared_of", "declared_to_join", "is_hidden", "job_of",
    "kept_client", "kept_clients", "kinds_of", "newest_outlines", "newest_reading", "outlines_to_carry", "person_ids",
    "persons", "photo_for", "photos_of", "reading_of_photo", "readings_at_rest", "readings_of", "second_sets",
    "setup_lines", "target_of", "zone_for", "zones_of",
]  # fmt: skip

LISTED = 200  # a longer list is not read but searched


AT_REST = ("before", "settled")


@dataclass(frozen=True)
class Target:
    """The skin colour a zone should reach, D65 and 2 degree observer, and the reading it comes from."""

    lab_d65: tuple[float, float, float]
    reading_id: int
    taken_on: date


def client_for(db: Session, who: Who, client_id: int) -> Client:
    """Any member may look a client up; a merged one leads to the record that was kept."""
    if db.get(Client, client_id) is None:
        raise NotFound
    return kept_client(db, client_id)


def clients(db: Session, who: Who, words: str = "") -> list[Client]:
    """Clients with a word that begins like each word asked for: name, telephone, e-mail, number of a case. The words of
    every record of a person find the one that was kept."""
    wanted = select(Client).where(col(Client.merged_into).is_(None)).order_by(Client.sort_name, col(Client.id))
    asked = _asked(words)
    if words.strip() and not asked:
        return []  # only signs: they find nobody, not everybody
    tree = persons()
    for word in asked:
        begins = col(SearchWord.word).like(escape_like(word) + "%", escape="\\")
        named = select(tree.c.kept_id).join(SearchWord, col(SearchWord.client_id) == tree.c.id).where(begins)
        wanted = wanted.where(col(Client.id).in_(named))
    return list(db.exec(wanted.limit(LISTED)).all())


def _asked(words: str) -> set[str]:
    if re.fullmatch(r"[\d\s()+./-]+", words) and (digits := re.sub(r"\D", "", words.replace("(0)", ""))):
        return {digits[:80]}  # a telephone number is one run of digits however it is spaced
    return words_of(words[:200])


def _may_open(who: Who, case: Case) -> bool:
    if not who.sees_health:
        return False
    return who.is_owner or not case.is_restricted or who.id in (case.lead_id, case.deputy_id)


def case_for(db: Session, who: Who, case_id: int) -> Case:
    case = db.get(Case, case_id)
    if case is None or not _may_open(who, case):
        raise NotFound
    return case


def case_to_arrange(db: Session, who: Who, case_id: int) -> Case:
    """A case for making links and bookings, which the desk does too: its number, never its content."""
    case = db.get(Case, case_id)
    if case is None or (who.sees_health and not _may_open(who, case)):
        raise NotFound
    return case


def cases_of(db: Session, who: Who, client_id: int) -> list[Case]:
    """The cases of a client that this member may know of; of the desk's, pages show the number only."""
    mine = col(Case.client_id).in_(person_ids(db, client_id))
    found = db.exec(select(Case).where(mine).order_by(col(Case.number))).all()
    return [case for case in found if not who.sees_health or _may_open(who, case)]


def case_ids_of(db: Session, client_id: int) -> list[int]:
    """Every case of a person, also those that whoever asks may not open: to count, never to show."""
    found = db.exec(select(Case.id).where(col(Case.client_id).in_(person_ids(db, client_id)))).all()
    return [case_id for case_id in found if case_id is not None]


def case_numbers(db: Session, who: Who, found: list[Client]) -> dict[int, list[int]]:
    """Client id to the numbers of the cases this member may know of."""
    tree = persons()
    of_found = select(Case, tree.c.kept_id).join(tree, col(Case.client_id) == tree.c.id)
    of_found = of_found.where(tree.c.kept_id.in_([client.id for client in found])).order_by(col(Case.number))
    numbers: dict[int, list[int]] = {}
    for case, kept_id in db.exec(of_found).all():
        if not who.sees_health or _may_open(who, case):
            numbers.setdefault(kept_id, []).append(case.number)
    return numbers


def zones_of(db: Session, case_id: int) -> list[Zone]:
    return list(db.exec(select(Zone).where(Zone.case_id == case_id).order_by(col(Zone.id))).all())


def zone_for(db: Session, who: Who, zone_id: int) -> Zone:
    zone = db.get(Zone, zone_id)
    if zone is None:
        raise NotFound
    case_for(db, who, zone.case_id)
    return zone


def declared_of(db: Session, case_id: int) -> list[DeclaredScar]:
    declared = select(DeclaredScar).where(DeclaredScar.case_id == case_id).order_by(col(DeclaredScar.id))
    return list(db.exec(declared).all())


def declared_to_join(db: Session, case_id: int, zone_id: int | None = None) -> list[DeclaredScar]:
    """Declared scars that belong to no zone yet, or to this one."""
    return [scar for scar in declared_of(db, case_id) if scar.zone_id is None or scar.zone_id == zone_id]


def photo_for(db: Session, who: Who, photo_id: int) -> Photo:
    photo = db.get(Photo, photo_id)
    if photo is None:
        raise NotFound
    case_for(db, who, photo.case_id)
    return photo


def is_hidden(db: Session, photo: Photo) -> bool:
    """Whether it is shown only when asked for: its zone is sensitive, or it has none and a zone of its case is."""
    here = Zone.case_id == photo.case_id if photo.zone_id is None else Zone.id == photo.zone_id
    return db.exec(select(Zone.id).where(Zone.is_sensitive, here).limit(1)).first() is not None


def photos_of(db: Session, zone_id: int) -> list[Photo]:
    taken = select(Photo).where(Photo.zone_id == zone_id).order_by(col(Photo.taken_on), col(Photo.id))
    return list(db.exec(taken).all())


def picture_id(db: Session, photo: Photo, which: str) -> int | None:
    """The blob of a photo's shown picture, its thumb, or the difference map of its reading."""
    if which == "map":
        standing = reading_of_photo(db, photo.id or 0)
        return standing.map_id if standing else None
    return photo.shown_id if which == "shown" else photo.thumb_id


def blob_of(db: Session, blob_id: int) -> Blob:
    return db.get_one(Blob, blob_id)


def job_of(db: Session, kind: str, subject_id: int) -> Job | None:
    """The slow work on a photo: how far it is, or that it failed."""
    return db.exec(select(Job).where(Job.unique_key == f"{kind}/{subject_id}")).first()


def newest_outlines(db: Session, photo_id: int, *, is_second: bool = False) -> OutlineSet | None:
    """The outlines that stand for a photo, or those of its second observer."""
    drawn = select(OutlineSet).where(OutlineSet.photo_id == photo_id, OutlineSet.is_second == is_second)
    return db.exec(drawn.order_by(col(OutlineSet.version).desc()).limit(1)).first()


def outlines_to_carry(db: Session, photo: Photo) -> list[tuple[Photo, OutlineSet]]:
    """Other photos of the same zone with the outlines that stand for them, newest photo first."""
    others = [other for other in photos_of(db, photo.zone_id or 0) if other.id != photo.id and other.state == "ready"]
    found = [(other, newest_outlines(db, other.id or 0)) for other in reversed(others)]
    return [(other, drawn) for other, drawn in found if drawn is not None]


def readings_of(db: Session, zone_id: int) -> list[Reading]:
    """The readings of a zone that no newer reading of the same photo replaced, oldest photo first. What a second
    observer found is for comparing and never counts."""
    replaced = select(Reading.replaces_id).where(col(Reading.replaces_id).is_not(None))
    wanted = select(Reading).where(Reading.zone_id == zone_id, col(Reading.id).not_in(replaced))
    wanted = wanted.where(col(Reading.outline_set_id).not_in(second_sets()))
    return list(db.exec(wanted.order_by(col(Reading.taken_on), col(Reading.id))).all())


def second_sets() -> SelectOfScalar[int | None]:
    """The outlines of second observers."""
    return select(col(OutlineSet.id)).where(col(OutlineSet.is_second))


def reading_of_photo(db: Session, photo_id: int, *, is_second: bool = False) -> Reading | None:
    """The newest reading of one photo, or of its second observer's outlines."""
    seconds = col(Reading.outline_set_id).in_(second_sets())
    wanted = select(Reading).where(Reading.photo_id == photo_id, seconds if is_second else ~seconds)
    return db.exec(wanted.order_by(col(Reading.id).desc()).limit(1)).first()


def readings_at_rest(db: Session, zone_id: int) -> list[Reading]:
    """The readings that say how a zone looks: before work or settled. On the day of work, and while healing, skin and
    scar are red, and a colour measured then is neither a target nor a result."""
    at_rest = select(Photo.id).where(Photo.zone_id == zone_id, col(Photo.purpose).in_(AT_REST))
    kept = set(db.exec(at_rest).all())
    return [reading for reading in readings_of(db, zone_id) if reading.photo_id in kept]


def newest_reading(db: Session, zone_id: int) -> Reading | None:
    """The newest measured reading of a zone at rest."""
    measured = [reading for reading in readings_at_rest(db, zone_id) if reading.is_measured]
    return measured[-1] if measured else None


def target_of(db: Session, zone_id: int) -> Target | None:
    """The skin colour of the newest usable reading of the zone at rest: skin changes with the sun, and its target with
    it. A grey card leaves the camera's own colours in, so that it counts only where no photo had a chart."""
    measured = [reading for reading in readings_at_rest(db, zone_id) if reading.is_measured]
    on_chart = [reading for reading in measured if json.loads(reading.result).get("reference") != "grey"]
    if not measured:
        return None
    reading = (on_chart or measured)[-1]
    if reading.id is None or reading.skin_l is None or reading.skin_a is None or reading.skin_b is None:
        return None
    return Target((reading.skin_l, reading.skin_a, reading.skin_b), reading.id, reading.taken_on)
