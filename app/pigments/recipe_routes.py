from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.colour.mixing import Paint
from app.pigments import actions, forms, proposals, queries
from app.pigments.models import PIGMENT_KINDS, Item, Recipe
from app.pigments.proposals import Aim, Offer
from app.pigments.shelf import Line
from app.platform.forms import Filled, Posted, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import queries as records
from app.records.models import Case, Client, Zone
from app.studio import queries as studio
from app.studio.access import Artist, Who, today

router = APIRouter()
CHANGED = "The shelf or the target is not what it was on your page. These are the proposals as of now; choose again."


@dataclass(frozen=True)
class Bench:
    """Everything a recipe for a zone is made from."""

    zone: Zone
    case: Case
    client: Client
    aim: Aim | None
    bottles: list[Item]
    paints: tuple[Paint, ...]
    left_out: list[Line]
    kept: list[Recipe]
    moved: dict[int, str]  # recipe id to how the skin has moved since it was made, where it has

    @property
    def items(self) -> dict[int, Item]:
        return {item.id or 0: item for item in self.bottles}

    @property
    def next_layer(self) -> int:
        """The layer after the highest that has been judged: an unjudged recipe is still being made."""
        return 1 + max((recipe.layer for recipe in self.kept if recipe.verdict), default=0)


def _bench(service: Service, who: Who, zone_id: int, typed: forms.TypedTarget | None, on: date) -> Bench:
    with service.database.read() as db:
        zone = records.zone_for(db, who, zone_id)
        case = records.case_for(db, who, zone.case_id)
        kept = queries.recipes_of(db, zone_id)
        return Bench(zone, case, records.client_for(db, who, case.client_id),
                     queries.aim_of(db, zone_id, typed.typed_lab_d65 if typed else None),
                     queries.usable(db, PIGMENT_KINDS, on), queries.paints(db, on),
                     queries.left_out(queries.shelf_lines(db, on), on), kept,
                     {recipe.id or 0: queries.skin_since(db, recipe) for recipe in kept})


def _asked(request: Request) -> Posted:
    return Posted({name: request.query_params.getlist(name) for name in request.query_params}, {})


def _offer(bench: Bench, ask: forms.RecipeAsk | None) -> Offer | None:
    """The search itself: it runs with no database handle open."""
    if bench.aim is None or ask is None:
        return None
    return proposals.offer(bench.paints, bench.items, bench.aim, ask)


def _recipe_page(request: Request, bench: Bench, offer: Offer | None, form: Filled[Any], status: int) -> HTMLResponse:
    values = {"drops": "12", "max_paints": "3", "layer": str(bench.next_layer), **form.values}
    return show(request, "pigments/recipe_new.html", nav="clients", bench=bench, offer=offer,
                form=Filled(values, form.errors, form.data), paint_keys=[paint.key for paint in bench.paints],
                status=status)


@router.get("/zones/{zone_id}/recipe")
def recipe_new(request: Request, service: Here, zone_id: Id, who: Artist) -> HTMLResponse:
    filled = fill(forms.RecipeAsk, _asked(request))
    bench = _bench(service, who, zone_id, filled.data, today(request))
    if filled.data is not None and "layer" not in request.query_params:
        filled = Filled(filled.values, {}, filled.data.model_copy(update={"layer": bench.next_layer}))
    return _recipe_page(request, bench, _offer(bench, filled.data), filled, 200 if filled.ok else 422)


@router.post("/zones/{zone_id}/recipe")
def keep_proposal(request: Request, service: Here, zone_id: Id, posted: Sent, who: Artist) -> Response:
    """Searches again: what is kept is what this search says, and only if the page had shown the same."""
    filled: Filled[forms.KeepProposal] = fill(forms.KeepProposal, posted)
    bench = _bench(service, who, zone_id, filled.data, today(request))
    offer = _offer(bench, filled.data)
    chosen = offer.chosen(filled.sure.parts) if offer and filled.ok else None
    if filled.ok and (offer is None or chosen is None or offer.key != filled.sure.offer_key):
        filled = filled.refuse("_form", CHANGED)
    elif filled.ok and offer and chosen:
        try:
            with service.database.write() as db:
                recipe = actions.keep_recipe(
                    db, records.zone_for(db, who, zone_id), kind="computed", drops=chosen.drops,
                    layer=filled.sure.layer, aim=bench.aim, prediction=proposals.prediction_of(chosen),
                    on=today(request), offered=offer.record, by=who.actor)
            return see(f"/recipes/{recipe.id}")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return _recipe_page(request, bench, offer, filled, 422)


def _own_page(request: Request, bench: Bench, form: Filled[Any], drops: dict[int, int] | None,
              status: int = 200) -> HTMLResponse:
    """The form for an own mix; with drops, also what can be predicted of it."""
    prediction = proposals.predict(bench.paints, drops, bench.aim) if drops else None
    return show(request, "pigments/own_mix.html", nav="clients", bench=bench, form=form, prediction=prediction,
                is_counted=bool(drops), darker_by=proposals.darker_by(prediction, bench.aim),
                heading_of=proposals.heading_of, sentence_of=proposals.sentence_of, status=status)


@router.get("/zones/{zone_id}/recipe/own")
def own_mix(request: Request, service: Here, zone_id: Id, who: Artist) -> HTMLResponse:
    bench = _bench(service, who, zone_id, None, today(request))
    return _own_page(request, bench, shown({"layer": str(bench.next_layer)}), None)


@router.post("/zones/{zone_id}/recipe/own")
def keep_own_mix(request: Request, service: Here, zone_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.OwnMix, posted)
    bench = _bench(service, who, zone_id, filled.data, today(request))
    drops, wrong = forms.read_drops(posted)
    for name, message in wrong.items():
        filled = filled.refuse(name, message)
    if filled.ok and not drops:
        filled = filled.refuse("_form", "Count the drops of at least one bottle.")
    if not filled.ok:
        return _own_page(request, bench, filled, None if wrong else drops, 422)
    if filled.sure.do == "predict":
        return _own_page(request, bench, filled, drops)
    return _kept_own(request, service, who, bench, filled, drops)


def _kept_own(request: Request, service: Service, who: Who, bench: Bench, filled: Filled[forms.OwnMix],
              drops: dict[int, int]) -> Response:
    form, prediction = filled.sure, proposals.predict(bench.paints, drops, bench.aim)
    darker = proposals.darker_by(prediction, bench.aim)
    if darker > 0 and form.layer == 1 and not form.is_darker_accepted:
        return _own_page(request, bench, filled.refuse(
            "is_darker_accepted", f"This mix is predicted {darker:.1f} L* darker than the target, on a first layer. "
            "Too dark cannot be taken back. Lighten it, or tick here to keep it all the same."), drops, 422)
    try:
        with service.database.write() as db:
            recipe = actions.keep_recipe(
                db, records.zone_for(db, who, bench.zone.id or 0), kind="own", drops=drops, layer=form.layer,
                aim=bench.aim, prediction=prediction, on=today(request), name=form.name, words=form.words, by=who.actor)
        return see(f"/recipes/{recipe.id}")
    except Refused as refused:
        return _own_page(request, bench, filled.refuse(refused.name, refused.message), drops, 422)


@router.get("/recipes/{recipe_id}")
def recipe_page(request: Request, service: Here, recipe_id: Id, who: Artist) -> HTMLResponse:
    with service.database.read() as db:
        recipe = queries.recipe_for(db, who, recipe_id)
        zone = records.zone_for(db, who, recipe.zone_id)
        case = records.case_for(db, who, zone.case_id)
        client = records.client_for(db, who, case.client_id)
        parts, later = queries.parts_of(db, recipe_id), queries.replaced_by(db, recipe_id)
        keeper = studio.names(db).get(recipe.kept_by, "")
        skin_since = queries.skin_since(db, recipe)
    bottles = [proposals.Bottle(item.id or 0, item.name, drops, item.lot_words) for item, drops in parts]
    prediction, aim = proposals.kept_prediction(recipe), proposals.kept_aim(recipe)
    return show(request, "pigments/recipe.html", nav="clients", recipe=recipe, zone=zone, case=case, client=client,
                bottles=bottles, later=later, keeper=keeper, skin_since=skin_since, prediction=prediction,
                aim=aim, heading_of=proposals.heading_of, sentence_of=proposals.sentence_of,
                total=sum(drops for _, drops in parts), darker_by=proposals.darker_by(prediction, aim))
