"""What stands on the shelf, what its bottles do in a mixture, and which recipes are kept."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from sqlmodel import Session, col, select

from app.colour import mixing
from app.colour.change import skin_moved
from app.colour.mixing import Paint
from app.colour.reading import Reading as Measured
from app.pigments import shelf
from app.pigments.forms import ML_PER_DROP
from app.pigments.models import PIGMENT_KINDS, Item, Recipe, RecipePart, Swatch
from app.pigments.proposals import Aim
from app.records import queries as records
from app.records.models import Reading, Zone
from app.studio.access import NotFound, Who

COLOURED = ("strong", "skin_tone", "white")


@dataclass(frozen=True)
class Group:
    """One kind of item on the shelf; the empty ones stand apart."""

    heading: str
    lines: tuple[shelf.Line, ...]
    empty: tuple[shelf.Line, ...]


@dataclass(frozen=True)
class Use:
    """A recipe in which a bottle stands, and its zone."""

    recipe: Recipe
    zone: Zone
    drops: int


@dataclass(frozen=True)
class Uses:
    shown: tuple[Use, ...]
    hidden: int  # in cases that whoever asks may not open


def items(db: Session) -> list[Item]:
    return list(db.exec(select(Item).order_by(Item.label, col(Item.id))).all())


def item_for(db: Session, who: Who, item_id: int) -> Item:
    item = db.get(Item, item_id)
    if item is None or not who.sees_health:
        raise NotFound
    return item


def usable(db: Session, kinds: Iterable[str], on: date) -> list[Item]:
    """What may be used on a day: neither kept apart nor empty nor past its use-by date."""
    wanted = set(kinds)
    return [item for item in items(db) if item.kind in wanted and shelf.is_usable(item, on)]


def swatches_of(db: Session, item_id: int) -> list[Swatch]:
    """Every sample of a bottle, newest entry first."""
    return list(db.exec(select(Swatch).where(Swatch.item_id == item_id).order_by(col(Swatch.id).desc())).all())


def newest_of_each(swatches: Sequence[Swatch]) -> tuple[Swatch, ...]:
    """Of equal white shares the newest entry counts; the earlier ones stay on file."""
    by_share: dict[float, Swatch] = {}
    for swatch in swatches:
        held = by_share.get(swatch.white_share)
        if held is None or (swatch.id or 0) > (held.id or 0):
            by_share[swatch.white_share] = swatch
    return tuple(by_share[share] for share in sorted(by_share))


def whites(db: Session) -> list[Item]:
    """Every white bottle, also an empty one: an old tint was made with it."""
    return [item for item in items(db) if item.kind == "white"]


def paints(db: Session, on: date) -> tuple[Paint, ...]:
    """The bottles that may be used on a day and whose colour is known, keyed by item id."""
    known = _known_paints(db)
    return tuple(known[item.id or 0] for item in usable(db, PIGMENT_KINDS, on) if item.id in known)


def _known_paints(db: Session) -> dict[int, Paint]:
    """Every measured bottle. A drop's amount is that of its own bottle: the usual drop counts as 1."""
    samples: dict[int, list[Swatch]] = {}
    for swatch in db.exec(select(Swatch)).all():
        samples.setdefault(swatch.item_id, []).append(swatch)
    found: dict[int, Paint] = {}
    bottles = [item for item in items(db) if item.is_pigment]
    for item in sorted(bottles, key=lambda item: item.kind != "white"):  # whites first: the tints need them
        paint = _paint(item, newest_of_each(samples.get(item.id or 0, ())), found)
        if paint is not None:
            found[paint.key] = paint
    volume = {item.id: item.ml_per_drop / ML_PER_DROP for item in bottles}
    return {key: replace(paint, k=paint.k * volume[key], s=paint.s * volume[key]) for key, paint in found.items()}


def _paint(item: Item, swatches: Sequence[Swatch], found: dict[int, Paint]) -> Paint | None:
    assert item.id is not None
    full = [swatch for swatch in swatches if swatch.white_share == 0]
    tints = [swatch for swatch in swatches if swatch.white_share > 0]
    if item.kind == "diluent":
        return mixing.paint_from_swatches(item.id, "diluent", (), None)
    if not full:
        return None
    # All tints of one fit are compared with one white: that of the newest tint. Tints in another white stay out.
    white_id = max(tints, key=lambda swatch: swatch.id or 0).white_id if tints else None
    used = (*full, *(tint for tint in tints if tint.white_id == white_id))
    return mixing.paint_from_swatches(item.id, _mixing_kind(item.kind), [_sample(each) for each in used],
                                      found.get(white_id or 0))


def _mixing_kind(kind: str) -> mixing.Kind:
    return "white" if kind == "white" else "skin_tone" if kind == "skin_tone" else "strong"


def _sample(swatch: Swatch) -> mixing.Swatch:
    return mixing.Swatch(swatch.white_share, (swatch.lab_l, swatch.lab_a, swatch.lab_b))


def shelf_lines(db: Session, on: date) -> list[shelf.Line]:
    known = _known_paints(db)
    samples: dict[int, list[Swatch]] = {}
    for swatch in db.exec(select(Swatch)).all():
        samples.setdefault(swatch.item_id, []).append(swatch)
    return [_line(item, samples.get(item.id or 0, []), known.get(item.id or 0), on) for item in items(db)]


def _line(item: Item, swatches: Sequence[Swatch], paint: Paint | None, on: date) -> shelf.Line:
    return shelf.Line(item, shelf.use_by_words(item, on), shelf.state_words(item),
                      shelf.measured_words(item, swatches, paint),
                      paint is not None and paint.trust == "trusted", shelf.first_words(item, on))


def line_of(db: Session, item: Item, on: date) -> shelf.Line:
    assert item.id is not None
    return _line(item, swatches_of(db, item.id), _known_paints(db).get(item.id), on)


def groups(lines: Sequence[shelf.Line]) -> list[Group]:
    found = []
    for kind, heading in shelf.HEADINGS.items():
        of_kind = [line for line in lines if line.item.kind == kind]
        if of_kind:
            found.append(Group(heading, tuple(line for line in of_kind if line.item.state != "empty"),
                               tuple(line for line in of_kind if line.item.state == "empty")))
    return found


def seen_first(lines: Sequence[shelf.Line], on: date) -> list[shelf.Line]:
    return sorted((line for line in lines if line.first), key=lambda line: shelf.urgency(line.item, on))


def left_out(lines: Sequence[shelf.Line], on: date) -> list[shelf.Line]:
    """Coloured bottles in use that no proposal can hold: not measured, or not to be trusted yet."""
    return [line for line in lines if line.item.kind in COLOURED and shelf.is_usable(line.item, on)
            and not line.is_trusted]


def uses_of(db: Session, who: Who, item_id: int) -> Uses:
    """The recipes in which a bottle stands, replaced ones too: what is in somebody's skin does not unhappen."""
    wanted = select(Recipe, RecipePart).join(RecipePart).where(RecipePart.item_id == item_id)
    shown, hidden = [], 0
    for recipe, part in db.exec(wanted.order_by(col(Recipe.id).desc())).all():
        try:
            shown.append(Use(recipe, records.zone_for(db, who, recipe.zone_id), part.drops))
        except NotFound:
            hidden += 1
    return Uses(tuple(shown), hidden)


def recipe_for(db: Session, who: Who, recipe_id: int) -> Recipe:
    recipe = db.get(Recipe, recipe_id)
    if recipe is None:
        raise NotFound
    records.zone_for(db, who, recipe.zone_id)
    return recipe


def replaced_by(db: Session, recipe_id: int) -> Recipe | None:
    return db.exec(select(Recipe).where(Recipe.replaces_id == recipe_id)).first()


def recipes_of(db: Session, zone_id: int) -> list[Recipe]:
    """The recipes of a zone that no later one replaced, newest first."""
    replaced = select(Recipe.replaces_id).where(col(Recipe.replaces_id).is_not(None))
    wanted = select(Recipe).where(Recipe.zone_id == zone_id, col(Recipe.id).not_in(replaced))
    return list(db.exec(wanted.order_by(col(Recipe.id).desc())).all())


def parts_of(db: Session, recipe_id: int) -> list[tuple[Item, int]]:
    """Bottles and their drops, most drops first."""
    wanted = select(Item, RecipePart.drops).join(RecipePart).where(RecipePart.recipe_id == recipe_id)
    return list(db.exec(wanted.order_by(col(RecipePart.drops).desc(), col(Item.id))).all())


def skin_since(db: Session, recipe: Recipe) -> str:
    """Whether the skin has moved from the target a recipe was made for, in a sentence; empty when not, or not known."""
    target = records.target_of(db, recipe.zone_id)
    if target is None or recipe.reading_id is None or target.reading_id == recipe.reading_id:
        return ""
    kept = [_measured(db.get_one(Reading, one)) for one in (recipe.reading_id, target.reading_id)]
    return skin_moved(kept[0], kept[1]).words("than when this recipe was made")


def _measured(row: Reading) -> Measured:
    return Measured.from_dict(json.loads(row.result))


def aim_of(db: Session, zone_id: int, typed_lab_d65: tuple[float, float, float] | None) -> Aim | None:
    """The skin colour of the newest measured reading; a typed one only where there is none."""
    target = records.target_of(db, zone_id)
    if target is not None:
        return Aim(target.lab_d65, target.reading_id, target.taken_on)
    return Aim(typed_lab_d65) if typed_lab_d65 is not None else None
