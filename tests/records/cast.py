"""What the tests of records begin with: a client, a case, a zone, and photos as a camera would send them."""

from dataclasses import dataclass
from functools import cache

from sqlmodel import Session, select

from app.consents import actions as consents
from app.demo.cast import Crew
from app.demo.photos import Rendered, Scene, render
from app.platform import jobs
from app.platform.audit import Actor, AuditEntry
from app.platform.service import Service
from app.records import actions, forms
from app.records.carry_job import carry_outlines
from app.records.examine import examine, measure_outlines
from app.records.models import Case, Client, Zone
from tests.conftest import Browser

SKIN, SCAR = (63.0, 10.2, 18.1), (70.0, 8.4, 12.6)
WORK: dict[str, jobs.Work] = {
    "records.photo.examine": examine,
    "records.photo.measure": measure_outlines,
    "records.outlines.carry": carry_outlines,
}


@dataclass(frozen=True)
class Begun:
    client: Client
    case: Case
    zone: Zone


def zone_form(**changes: object) -> forms.PlaceZone:
    values = {"label": "Forearm", "site": "forearm", "side": "left", "scar_kind": "flat_pale", **changes}
    return forms.PlaceZone.model_validate(values)


def answer_photos(db: Session, client_id: int, name: str, *, yes: bool = True, by: Actor) -> None:
    """The client says whether their record may hold photos."""
    document = consents.keep_document(db, "permissions", "1", "May we take photos?", by=by)
    signature = consents.sign(db, client_id, document, typed_name=name, drawing=None, by=by)
    consents.answer(db, client_id, "record_photos", yes, signature, by=by)


def begin(
    service: Service, crew: Crew, *, restricted: bool = False, says_yes: bool | None = True, **zone: object
) -> Begun:
    """Tomas's client, case and zone; `says_yes` to photos for the record, None: was never asked."""
    by = Actor("member", crew.tomas.id)
    assert crew.tomas.id is not None
    with service.database.write() as db:
        client = actions.add_client(db, forms.NewClient(name="Maren Solberg", phone="+353 87 123 4567"), by=by)
        if says_yes is not None:
            answer_photos(db, client.id or 0, client.name, yes=says_yes, by=by)
        case = actions.open_case(
            db, client, forms.NewCase(title="Forearm", lead_id=crew.tomas.id, is_restricted=restricted), by=by
        )
        return Begun(client, case, actions.place_zone(db, case, zone_form(**zone), by=by))


@cache
def photographed(with_chart: bool = True) -> Rendered:
    return render(Scene(5, SKIN, SCAR, "patch", width=800, height=600, chart="classic" if with_chart else None))


def work_all(service: Service) -> None:
    while jobs.work_once(service, WORK):
        pass


def upload(browser: Browser, zone: Zone, *contents: bytes, purpose: str = "before", taken_on: str = "") -> str:
    """Sends photos and gives the address that answers."""
    files = [("photos", (f"photo {n}.jpg", content, "image/jpeg")) for n, content in enumerate(contents, 1)]
    sent = {"purpose": purpose, "taken_on": taken_on, "chaperone": "Ruth Adeyemi" if zone.is_sensitive else ""}
    answer = browser.post(f"/zones/{zone.id}/photos", data=sent, files=files)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def trail_of(service: Service, action: str) -> int:
    """How many lines of the trail an action has."""
    with service.database.read() as db:
        return len(db.exec(select(AuditEntry).where(AuditEntry.action == action)).all())
