"""A shelf, a zone and its target, as the pigment tests need them. All of it is invented."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from sqlmodel import select

from app.demo.cast import Crew
from app.pigments import actions, forms
from app.pigments.models import Item
from app.platform import clock
from app.platform.audit import SYSTEM, AuditEntry, entry
from app.platform.service import Service
from app.platform.storage import Blob
from app.records import actions as records
from app.records.forms import NewCase, NewClient, PlaceZone
from app.records.models import OutlineSet, Photo, Reading, Zone
from tests.conftest import Browser

ON = date(2026, 3, 16)
Browse = Callable[[str], Browser]
Lab = tuple[float, float, float]
SKIN: Lab = (64.0, 12.0, 18.0)
NEW = {"kind": "skin_tone", "label": "Warm sand", "lot": "A12", "expires_on": "2027-01-31"}


def put(service: Service, crew: Crew, label: str, kind: str = "skin_tone", lab: Lab | None = None, **more: Any) -> int:
    """A bottle on the shelf, measured at full strength when a colour is given; its id."""
    form = forms.NewItem.model_validate({"kind": kind, "label": label, "lot": f"L-{label[:3]}", **more})
    with service.database.write() as db:
        item_id = actions.add_item(db, form, by=crew.by("tomas")).id or 0
    if lab is not None:
        measure(service, crew, item_id, lab)
    return item_id


def measure(service: Service, crew: Crew, item_id: int, lab: Lab, percent: float = 0,
            white_id: int | None = None) -> None:
    form = forms.NewSwatch(white_percent=percent, white_id=white_id, lab_l=lab[0], lab_a=lab[1], lab_b=lab[2],
                           measured_on=ON, measured_by="typed from an instrument")
    with service.database.write() as db:
        actions.add_swatch(db, db.get_one(Item, item_id), form, by=crew.by("tomas"))


def stock(service: Service, crew: Crew) -> list[int]:
    """Four measured skin tones and a white round the target."""
    tones = {"Pale base": (82.0, 6.0, 14.0), "Deep base": (42.0, 14.0, 20.0), "Rose": (64.0, 24.0, 14.0),
             "Olive": (60.0, 4.0, 26.0)}
    white = put(service, crew, "White", "white", (96.0, 0.0, 2.0))
    return [*(put(service, crew, label, lab=lab) for label, lab in tones.items()), white]


def new_zone(service: Service, crew: Crew, **case: Any) -> int:
    by = crew.by("tomas")
    with service.database.write() as db:
        client = records.add_client(db, NewClient(name="Robin Ash"), by=by)
        opened = records.open_case(db, client, NewCase(title="Forearm", lead_id=by.id or 0, **case), by=by)
        zone = records.place_zone(db, opened, PlaceZone.model_validate(
            {"label": "Forearm", "site": "forearm", "side": "left", "scar_kind": "flat_pale"}), by=by)
    return zone.id or 0


def read_skin(service: Service, zone_id: int, lab: Lab = SKIN) -> int:
    """A measured reading of the zone's skin, as a photo with a chart would leave it."""
    with service.database.write() as db, entry(db, "records.reading.kept", SYSTEM):
        blob = Blob(name=f"blob-{zone_id}-{lab[0]}", sha256="0" * 64, size=1, kind="image/png", key_id="k",
                    stored_at=clock.now())
        db.add(blob)
        db.flush()
        photo = Photo(case_id=db.get_one(Zone, zone_id).case_id, zone_id=zone_id, purpose="before", taken_on=ON,
                      original_id=blob.id or 0, width=10, height=10, added_at=clock.now())
        db.add(photo)
        db.flush()
        outlines = OutlineSet(photo_id=photo.id or 0, version=1, outlines="{}", drawn_at=clock.now())
        db.add(outlines)
        db.flush()
        reading = Reading(photo_id=photo.id or 0, zone_id=zone_id, outline_set_id=outlines.id or 0, state="measured",
                          taken_on=ON, read_at=clock.now(), method_version="1", result="{}", delta_e_00=6.0,
                          delta_e_00_low=5.0, delta_e_00_high=7.0, scar_l=72, scar_a=9, scar_b=14,
                          skin_l=lab[0], skin_a=lab[1], skin_b=lab[2])
        db.add(reading)
        db.flush()
        return reading.id or 0


def audit_lines(service: Service, action: str) -> Sequence[AuditEntry]:
    with service.database.read() as db:
        return db.exec(select(AuditEntry).where(AuditEntry.action == action)).all()
