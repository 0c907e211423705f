"""A whole session as one page of fields: read from what was sent, and filled in from what is on file."""

from collections.abc import Sequence
from typing import Any, TypeVar

from app.platform.forms import Filled, Form, Posted, fill
from app.sessions.forms import UsedItem, WholeSession, ZoneWork
from app.sessions.models import SessionItem, SessionZone
from app.sessions.sheet import Sheet

M = TypeVar("M", bound=Form)
SPARE_ROWS = 4
MOST_ROWS = 60
_ZONE_FIELDS = (
    "needle", "device", "device_setting", "device_unit", "hang_mm", "passes", "first_dots", "bleeding", "redness",
    "sensitivity", "no_pigment", "recipe_id", "is_untouched", "note",
)  # fmt: skip
_ITEM_FIELDS = ("kind", "label", "lot", "lot_unreadable", "zone_id", "drops", "expires_on", "caution")


def part_of(posted: Posted, prefix: str) -> Posted:
    """The fields that begin with a prefix, without it."""
    texts = {name[len(prefix) :]: given for name, given in posted.texts.items() if name.startswith(prefix)}
    return Posted(texts, {})


def item_rows(posted: Posted) -> list[int]:
    """The rows of items in which anything that names one was written."""
    rows = []
    for row in range(1, MOST_ROWS + 1):
        written = (posted.one(f"i{row}_{name}").strip() for name in ("label", "lot", "lot_unreadable", "shelf_id"))
        if any(written):
            rows.append(row)
    return rows


def fill_whole(posted: Posted, zone_ids: Sequence[int]) -> Filled[WholeSession]:
    """Reads the page. What is wrong in a zone or an item stands beside its own field."""
    values: dict[str, Any] = {name: given[0] for name, given in posted.texts.items()}
    chosen = [zone_id for zone_id in zone_ids if str(zone_id) in posted.texts.get("zones", [])]
    values["zones"] = [str(zone_id) for zone_id in chosen]
    errors: dict[str, str] = {}
    works = [_fill_part(posted, ZoneWork, f"z{zone_id}_", {"zone_id": str(zone_id)}, errors) for zone_id in chosen]
    items = [_fill_part(posted, UsedItem, f"i{row}_", {}, errors) for row in item_rows(posted)]
    for zone_id in zone_ids:
        values[f"z{zone_id}_techniques"] = posted.texts.get(f"z{zone_id}_techniques", [])
    head = fill(WholeSession, Posted({k: v for k, v in posted.texts.items() if k not in ("works", "items")}, {}))
    errors = {**head.errors, **errors}
    if not chosen:
        errors["zones"] = "Choose at least one zone."
    for row, item in zip(item_rows(posted), items, strict=True):
        if item is not None and item.shelf_id is None and not (item.kind and item.label):
            errors[f"i{row}_label"] = "Say what it is: its kind, and its name as the label says."
    if errors or head.data is None:
        return Filled(values, errors, None)
    kept = [work for work in works if work is not None]
    used = [item for item in items if item is not None]
    return Filled(values, {}, head.data.model_copy(update={"works": kept, "items": used}))


def _fill_part(posted: Posted, model: type[M], prefix: str, more: dict[str, str], errors: dict[str, str]) -> M | None:
    part = part_of(posted, prefix)
    filled = fill(model, Posted({**part.texts, **{name: [text] for name, text in more.items()}}, {}))
    errors.update({f"{prefix}{name}": message for name, message in filled.errors.items()})
    return filled.data


def whole_values(sheet: Sheet) -> dict[str, Any]:
    """The page filled in from a session on file, for correcting it."""
    session = sheet.session
    values: dict[str, Any] = {
        "kind": session.kind,
        "state": session.state,
        "artist_id": session.artist_id,
        "worked_on": session.worked_on.isoformat(),
        "room": session.room,
        "assistant": session.assistant,
        "needle_minutes": session.needle_minutes,
        "stop_reason": session.stop_reason,
        "note": session.note,
        "said_again": session.reaffirmed_at is not None,
        "why": "",
        "zones": [str(one.zone.id) for one in sheet.zones],
    }
    for one in sheet.zones:
        values.update(_zone_values(one.work, one.techniques))
    for row, item in enumerate(sheet.items, start=1):
        values.update(_item_values(row, item))
    return values


def _zone_values(work: SessionZone, techniques: Sequence[str]) -> dict[str, Any]:
    values: dict[str, Any] = {f"z{work.zone_id}_{name}": getattr(work, name) for name in _ZONE_FIELDS}
    values[f"z{work.zone_id}_techniques"] = list(techniques)
    return values


def _item_values(row: int, item: SessionItem) -> dict[str, Any]:
    values: dict[str, Any] = {f"i{row}_{name}": getattr(item, name) for name in _ITEM_FIELDS}
    values[f"i{row}_shelf_id"] = item.item_id
    return values


def sheet_values(work: SessionZone, techniques: Sequence[str]) -> dict[str, Any]:
    """What the sheet at the chair shows of one zone, by the names of its entries."""
    values: dict[str, Any] = {name: getattr(work, name) for name in _ZONE_FIELDS if name != "needle"}
    return {**values, "configuration": work.needle, "techniques": list(techniques)}
