from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from app.platform.forms import Filled, shown
from app.platform.pages import show
from app.platform.routing import Here, Id
from app.records import queries
from app.records.happened import ABOUT, happened_words, parts
from app.records.models import Case, DeclaredScar, Zone
from app.records.scars import CAUSES, PADDING_HINTS, PADDING_WORDS, SCAR_KINDS, declared_words
from app.records.sites import SIDE_RECORD_WORDS, SITE, SITES
from app.studio.access import Artist

router = APIRouter()


@dataclass(frozen=True)
class Offered:
    """What the zone form offers."""

    sites: list[tuple[str, str]]
    sides: list[tuple[str, str]]
    kinds: list[tuple[str, str]]
    causes: list[tuple[str, str]]
    padding: list[tuple[str, str, str]]
    about: list[tuple[str, str]]


@dataclass(frozen=True)
class Point:
    """A place on the body figure."""

    number: int
    view: str
    x: float
    y: float
    words: str


def _first_up(words: str) -> str:
    return words[:1].upper() + words[1:]


OFFERED = Offered(
    sites=[(site.code, site.words) for site in SITES],
    sides=[(code, _first_up(words.replace("'", "’"))) for code, words in SIDE_RECORD_WORDS.items()],
    kinds=[(code, _first_up(words)) for code, words in SCAR_KINDS.items()],
    causes=[(code, _first_up(words)) for code, words in CAUSES.items()],
    padding=[(code, _first_up(words), PADDING_HINTS[code]) for code, words in PADDING_WORDS.items()],
    about=[(code, _first_up(words)) for code, words in ABOUT.items()],
)


def said(scar: DeclaredScar) -> str:
    return declared_words(scar.site, scar.side, scar.kind, scar.happened, scar.words)


def point_of(zone: Zone, number: int = 1) -> Point:
    return Point(number, zone.view, zone.x, zone.y, zone.name)


def form_page(request: Request, service: Here, case: Case, zone: Zone | None, form: Filled[Any],
               status: int = 200) -> HTMLResponse:
    assert case.id is not None
    with service.database.read() as db:
        declared = queries.declared_to_join(db, case.id, zone.id if zone else None)
    options = [(scar.key, f"Declared by the client: {said(scar)}") for scar in declared]
    return show(request, "records/zone_form.html", nav="clients", case=case, zone=zone, form=form, offered=OFFERED,
                declared=options, status=status)


@router.get("/cases/{case_id}/zones/new")
def new_zone(request: Request, service: Here, case_id: Id, who: Artist) -> HTMLResponse:
    with service.database.read() as db:
        case = queries.case_for(db, who, case_id)
    return form_page(request, service, case, None, shown({}))


def as_typed(zone: Zone, declared: list[DeclaredScar]) -> Filled[Any]:
    """A zone as its form shows it."""
    values = zone.model_dump()
    for name in ("is_irradiated", "is_grafted", "darkens", "is_sensitive"):
        values[name] = "yes" if values[name] else ""
    values.update({f"place_{name}": values.pop(name) for name in ("x", "y", "view")})
    values.update(parts(values.pop("happened")), declared=[scar.key for scar in declared if scar.zone_id == zone.id])
    return shown(values)


@router.get("/zones/{zone_id}/edit")
def edit_zone(request: Request, service: Here, zone_id: Id, who: Artist) -> HTMLResponse:
    with service.database.read() as db:
        zone = queries.zone_for(db, who, zone_id)
        case = queries.case_for(db, who, zone.case_id)
        declared = queries.declared_of(db, zone.case_id)
    return form_page(request, service, case, zone, as_typed(zone, declared))


def zone_facts(zone: Zone) -> list[tuple[str, str]]:
    """What a zone is, in lines of a label and words."""
    site = SITE[zone.site].words if zone.site in SITE else zone.site
    side = zone.name.rpartition(", ")[2]
    extra = [words for is_so, words in ((zone.is_irradiated, "had radiotherapy"), (zone.is_grafted, "a graft or flap"),
                                        (zone.darkens, "tends to dark marks after injury")) if is_so]
    known = [("Place", f"{site}, {side}"), ("Scar", _first_up(SCAR_KINDS.get(zone.scar_kind, zone.scar_kind))),
             ("Texture", zone.texture), ("Under it", _first_up(PADDING_WORDS[zone.padding])),
             ("Since", _first_up(happened_words(zone.happened))), ("From", _first_up(CAUSES.get(zone.cause, ""))),
             ("Skin", _first_up(", ".join(extra)))]
    return [(label, words) for label, words in known if words]
