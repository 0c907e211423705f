"""What people do with the shelf and with recipes."""

from collections.abc import Mapping
from datetime import date

from sqlmodel import Session

from app.pigments import forms, queries, shelf
from app.pigments.models import PIGMENT_KINDS, Item, Recipe, RecipePart, Swatch
from app.pigments.proposals import Aim, Prediction
from app.platform import clock
from app.platform.audit import Actor, audited, note
from app.platform.db import take_revision
from app.platform.forms import Refused
from app.records.models import Zone


@audited("pigments.item.added")
def add_item(db: Session, form: forms.NewItem, *, by: Actor) -> Item:
    item = Item(**form.model_dump(), added_at=clock.now())
    db.add(item)
    return item


@audited("pigments.item.changed")
def change_item(db: Session, item: Item, form: forms.ChangeItem, *, by: Actor) -> Item:
    take_revision(item, form.revision)
    if form.kind != item.kind and item.id is not None and queries.swatches_of(db, item.id):
        raise Refused("kind", "This bottle has measured colours of its kind. Put it on the shelf anew instead.")
    for name, value in form.model_dump(exclude={"revision"}).items():
        setattr(item, name, value)
    db.add(item)
    return item


@audited("pigments.item.state_changed")
def change_state(db: Session, item: Item, form: forms.StateChange, *, by: Actor) -> Item:
    """Keeps a bottle apart, marks it empty, or makes it usable again; a recalled one stays recalled."""
    take_revision(item, form.revision)
    if item.state == "recalled":
        raise Refused("state", "This lot is recalled. It does not go back on the shelf.")
    if item.state == form.state:
        raise Refused("state", "It is in this state already.")
    note(db, reason=form.reason)
    item.state, item.state_reason = form.state, form.reason
    db.add(item)
    return item


@audited("pigments.swatch.added")
def add_swatch(db: Session, item: Item, form: forms.NewSwatch, *, by: Actor) -> Swatch:
    """Adds a measured sample. An earlier one of the same white share stays on file and no longer counts."""
    assert item.id is not None
    if item.kind not in queries.COLOURED:
        raise Refused("white_percent", "Only pigments are measured for mixing.")
    white = db.get(Item, form.white_id) if form.white_id is not None and form.white_percent > 0 else None
    if form.white_percent > 0 and item.kind == "white":
        raise Refused("white_percent", "A white is measured at full strength.")
    if form.white_percent > 0 and (white is None or white.kind != "white"):
        raise Refused("white_id", "Choose the white bottle that it was let down with.")
    doubt = shelf.doubts(item.kind, form.white_share, (form.lab_l, form.lab_a, form.lab_b))
    if doubt and not form.is_checked:
        raise Refused("is_checked", f"{doubt} Check the numbers, then tick here if they are right.")
    swatch = Swatch(item_id=item.id, white_share=form.white_share, white_id=white.id if white else None,
                    lab_l=form.lab_l, lab_a=form.lab_a, lab_b=form.lab_b, measured_on=form.measured_on,
                    measured_by=form.measured_by)
    db.add(swatch)
    return swatch


@audited("pigments.recipe.kept")
def keep_recipe(db: Session, zone: Zone, *, kind: str, drops: Mapping[int, int], layer: int, aim: Aim | None,
                prediction: Prediction | None, on: date, offered: str = "", name: str = "", words: str = "",
                by: Actor) -> Recipe:
    """Keeps counted drops for a zone. It replaces the zone's unjudged recipe of the same layer; a judged one stays."""
    assert zone.id is not None
    assert by.id is not None
    if not drops:
        raise Refused("_form", "Count the drops of at least one bottle.")
    for item_id in drops:
        item = db.get(Item, item_id)
        if item is None or item.kind not in PIGMENT_KINDS or not shelf.is_usable(item, on):
            raise Refused("_form", f"{item.name if item else 'A bottle'} may not be used now. Look at the shelf.")
    earlier = next((one for one in queries.recipes_of(db, zone.id) if one.layer == layer and not one.verdict), None)
    lab, target = (prediction.lab_d65 if prediction else (None,) * 3), (aim.lab_d65 if aim else (None,) * 3)
    recipe = Recipe(
        zone_id=zone.id, kind=kind, name=name, layer=layer, target_l=target[0], target_a=target[1], target_b=target[2],
        predicted_l=lab[0], predicted_a=lab[1], predicted_b=lab[2],
        delta_e_00=prediction.delta_e_00 if prediction else None, delta_e_00_low=prediction.low if prediction else None,
        delta_e_00_high=prediction.high if prediction else None, reading_id=aim.reading_id if aim else None,
        offered=offered, words=words, kept_by=by.id, kept_at=clock.now(), replaces_id=earlier.id if earlier else None)
    db.add(recipe)
    db.flush()
    assert recipe.id is not None
    for item_id, count in sorted(drops.items()):
        db.add(RecipePart(recipe_id=recipe.id, item_id=item_id, drops=count))
    return recipe


@audited("pigments.recipe.judged")
def judge_recipe(db: Session, recipe: Recipe, verdict: str, *, by: Actor) -> Recipe:
    """Writes what the settled zone showed; until then a recipe is unproven."""
    recipe.verdict = verdict
    db.add(recipe)
    return recipe
