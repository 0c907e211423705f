import uuid
from datetime import date
from typing import Any

from app.demo.cast import Crew
from app.pigments import actions as pigments
from app.pigments.forms import StateChange
from app.pigments.models import Item
from app.platform.service import Service
from app.records.models import Zone
from app.sessions.sheet import shelf_caution
from tests.intake.course import ON, Browse
from tests.sessions import chair as at


def kept(service: Service, crew: Crew, chair: at.Chair, drops: dict[int, int], layer: int = 1, on: date = ON) -> int:
    with service.database.write() as db:
        recipe = pigments.keep_recipe(
            db,
            db.get_one(Zone, chair.zone_id),
            kind="own",
            drops=drops,
            layer=layer,
            aim=None,
            prediction=None,
            on=on,
            by=crew.by("tomas"),
        )
    return recipe.id or 0


def bottle(service: Service, crew: Crew, label: str, lot: str, **more: Any) -> int:
    return at.shelved(service, crew, kind="strong", label=label, lot=lot, **more)


def test_the_kept_recipe_stands_on_the_sheet_with_every_lot(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    ochre, umber = bottle(service, crew, "Ochre", "O-1"), bottle(service, crew, "Umber", "U-1")
    recipe_id = kept(service, crew, chair, {ochre: 3, umber: 1})
    session_id = at.started(service, chair)
    held = {(item.label, item.lot, item.drops, item.zone_id) for item in at.items(service, session_id)}
    assert held == {("Ochre", "O-1", 3, chair.zone_id), ("Umber", "U-1", 1, chair.zone_id)}
    assert at.work_of(service, session_id).recipe_id == recipe_id
    page = browse("tomas").get(f"/sessions/{session_id}").text
    assert "3 drops Ochre, lot O-1" in page
    assert "1 drop Umber, lot U-1" in page


def test_a_drop_is_added_once_for_each_tap(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    kept(service, crew, chair, {bottle(service, crew, "Ochre", "O-1"): 3})
    session_id, browser = at.started(service, chair), browse("tomas")
    item = at.items(service, session_id)[0]
    one = {"tap_id": str(uuid.uuid4())}
    for _ in range(2):
        assert browser.post(f"/sessions/{session_id}/items/{item.id}/drop", data=one).status_code == 303
    assert at.items(service, session_id)[0].drops == 4
    browser.post(f"/sessions/{session_id}/items/{item.id}/drop", data={"tap_id": str(uuid.uuid4())})
    assert at.items(service, session_id)[0].drops == 5


def test_another_recipe_is_used_instead_or_too(service: Service, crew: Crew, browse: Browse) -> None:
    chair = at.cleared(service, crew)
    ochre, umber = bottle(service, crew, "Ochre", "O-1"), bottle(service, crew, "Umber", "U-1")
    first = kept(service, crew, chair, {ochre: 3}, layer=1)
    second = kept(service, crew, chair, {umber: 2}, layer=2)
    session_id, browser = at.started(service, chair), browse("tomas")
    assert [item.label for item in at.items(service, session_id)] == ["Umber"]
    address = f"/sessions/{session_id}/mix?zone={chair.zone_id}"
    assert "Another recipe kept for this zone" in browser.get(f"/sessions/{session_id}").text
    browser.post(address, data={"tap_id": str(uuid.uuid4()), "recipe_id": str(first), "how": "too"})
    assert [item.label for item in at.items(service, session_id)] == ["Umber", "Ochre"]
    browser.post(address, data={"tap_id": str(uuid.uuid4()), "recipe_id": str(second), "how": "instead"})
    assert [item.label for item in at.items(service, session_id)] == ["Umber"]
    assert browser.post(address, data={"tap_id": str(uuid.uuid4()), "recipe_id": "999"}).status_code == 422


def test_what_becomes_of_the_shelf_later_leaves_the_record_as_it_was(service: Service, crew: Crew) -> None:
    chair = at.cleared(service, crew)
    ochre = bottle(service, crew, "Ochre", "O-1")
    kept(service, crew, chair, {ochre: 3})
    session_id = at.started(service, chair)
    with service.database.write() as db:
        item = db.get_one(Item, ochre)
        change = StateChange.model_validate({"state": "quarantined", "reason": "cloudy", "revision": item.revision})
        pigments.change_state(db, item, change, by=crew.by("ines"))
    assert at.items(service, session_id)[0].caution == ""
    with service.database.write() as db:
        assert "quarantine" in shelf_caution(db.get_one(Item, ochre), ON)
