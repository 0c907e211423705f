"""What the search offers for a target, in words and colours that a page shows; and the record that is kept of it."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

import numpy as np

from app.colour.difference import delta_e_00, direction
from app.colour.mixing import Paint, mix
from app.colour.recipes import LENGTH_90, MEAN_LENGTH, MODEL_ERROR, Proposal, SearchResult, in_words, search
from app.colour.spaces import lab_to_srgb8_hex
from app.pigments.forms import RecipeAsk
from app.pigments.models import Item, Recipe
from app.platform.audit import canonical
from app.platform.pages import list_words

Lab = tuple[float, float, float]
SHOWN_FIRST = 3


@dataclass(frozen=True)
class Aim:
    """The skin colour a mix should reach; typed by hand where there is no reading."""

    lab_d65: Lab
    reading_id: int | None = None
    taken_on: date | None = None

    @property
    def hex(self) -> str:
        return lab_to_srgb8_hex(self.lab_d65)

    @property
    def numbers(self) -> str:
        return lab_words(self.lab_d65)


@dataclass(frozen=True)
class Bottle:
    """A line of a recipe."""

    id: int
    name: str
    drops: int
    note: str  # its lot
    words: str = ""  # what it does in the mix


@dataclass(frozen=True)
class Prediction:
    """What a mix is expected to look like; beside a target, how far from it as a 90 % interval."""

    lab_d65: Lab
    delta_e_00: float | None = None
    low: float | None = None
    high: float | None = None
    direction: tuple[str, ...] = ()
    amounts: str = ""

    @property
    def hex(self) -> str:
        return lab_to_srgb8_hex(self.lab_d65)


@dataclass(frozen=True)
class Shown:
    """A proposal as a page shows it."""

    code: str
    bottles: tuple[Bottle, ...]
    mix_hex: str
    heading: str
    sentence: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Offer:
    """All that one search offers. `record` is what is kept of it; `key` names exactly this offer."""

    result: SearchResult
    record: str
    key: str
    closest: tuple[Shown, ...]
    more: tuple[Shown, ...]
    simpler: tuple[Shown, ...]
    nearest: Shown | None

    def chosen(self, code: str) -> Proposal | None:
        """The proposal meant by the code on its button, out of this search and no other."""
        return next((each for each in every(self.result) if code_of(each) == code), None)


def lab_words(lab: Lab) -> str:
    said = f"L* {lab[0]:.1f}, a* {lab[1]:.1f}, b* {lab[2]:.1f}"
    return said.replace("-", "−")


def code_of(proposal: Proposal) -> str:
    return ",".join(f"{part.key}:{part.drops}" for part in proposal.parts)


def every(result: SearchResult) -> tuple[Proposal, ...]:
    return (*result.proposals, *result.by_pigment_count, *result.smaller_totals)


def offer(paints: Sequence[Paint], items: Mapping[int, Item], aim: Aim, ask: RecipeAsk) -> Offer:
    """Searches the trusted bottles that are not left out. A first layer is never darker than its target."""
    trusted = [paint for paint in paints if paint.trust == "trusted" and paint.key not in ask.leave_out]
    result = search(trusted, aim.lab_d65, drops=ask.drops, max_paints=ask.max_paints, never_darker=ask.layer == 1)
    record = canonical(_record(result, items, aim, ask))
    shown: dict[str, Shown] = {}
    for proposal in every(result):
        shown.setdefault(code_of(proposal), _shown(proposal, items, aim, ask.layer))
    best = [code_of(proposal) for proposal in result.proposals]
    fewer = sorted(every(result), key=lambda each: (each.total, len(each.parts)))
    simpler = dict.fromkeys(code for code in map(code_of, fewer) if code not in best)
    return Offer(result, record, hashlib.sha256(record.encode()).hexdigest(),
                 tuple(shown[code] for code in best[:SHOWN_FIRST]), tuple(shown[code] for code in best[SHOWN_FIRST:]),
                 tuple(shown[code] for code in simpler),
                 None if result.nearest is None else _shown(result.nearest, items, aim, ask.layer))


def _record(result: SearchResult, items: Mapping[int, Item], aim: Aim, ask: RecipeAsk) -> dict[str, Any]:
    named = {part.key for each in every(result) for part in each.parts}
    bottles = {str(key): {"label": items[key].label, "lot": items[key].lot_words} for key in sorted(named)}
    asked = ask.model_dump(include=set(RecipeAsk.model_fields))  # a posted form also says which proposal is meant
    record: dict[str, Any] = _rounded({"asked": asked, "bottles": bottles, "result": asdict(result),
                                       "target": {"lab_d65": aim.lab_d65, "reading_id": aim.reading_id}})
    return record


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, dict):
        return {key: _rounded(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(each) for each in value]
    return value


def prediction_of(proposal: Proposal) -> Prediction:
    return Prediction(proposal.lab_d65, proposal.delta_e_00, proposal.low, proposal.high, proposal.direction,
                      proposal.words)


def predict(paints: Iterable[Paint], drops: Mapping[int, int], aim: Aim | None) -> Prediction | None:
    """An own mix, if every bottle of it can be predicted; the interval is built as the search builds its own."""
    by_key = {paint.key: paint for paint in paints if paint.trust == "trusted"}
    used = [by_key[key] for key in drops if key in by_key]
    if len(used) < len(drops) or all(paint.kind == "diluent" for paint in used):
        return None
    l_star, a, b = (float(value) for value in mix(used, drops).lab_d65)
    if aim is None:
        return Prediction((l_star, a, b))
    error = float(np.hypot(MODEL_ERROR, max(paint.fit_error_delta_e_00 for paint in used)))
    off, reach = float(delta_e_00((l_star, a, b), aim.lab_d65)), LENGTH_90 * error / MEAN_LENGTH
    return Prediction((l_star, a, b), off, max(0.0, off - reach), off + reach, direction(aim.lab_d65, (l_star, a, b)),
                      in_words(aim.lab_d65, (l_star, a, b)))


def heading_of(prediction: Prediction) -> str:
    """Which way the mix leans from the target."""
    return f"Leans {list_words(list(prediction.direction))}" if prediction.direction else "Leans no particular way"


def sentence_of(prediction: Prediction) -> str:
    """How far from the target, as an interval with its direction."""
    if prediction.low is None or prediction.high is None:
        return f"Predicted at {lab_words(prediction.lab_d65)}; there is no target to compare it with."
    amounts = f"; the likeliest is {prediction.amounts}" if prediction.amounts else ""
    return f"{prediction.low:.1f} to {prediction.high:.1f} ΔE00 from the target skin, nine times in ten{amounts}."


def darker_by(prediction: Prediction | None, aim: Aim | None) -> float:
    """By how much L* the mix is predicted darker than the target; 0 when it is not, or nothing is known."""
    return max(0.0, aim.lab_d65[0] - prediction.lab_d65[0]) if prediction and aim else 0.0


def _shown(proposal: Proposal, items: Mapping[int, Item], aim: Aim, layer: int) -> Shown:
    bottles = tuple(Bottle(part.key, items[part.key].name, part.drops, items[part.key].lot_words, part.words)
                    for part in proposal.parts)
    count = proposal.sensitivity_delta_e_00
    risk = aim.lab_d65[0] - proposal.darkest_l_star
    notes = [f"One time in twenty the mix falls more than {risk:.1f} L* darker than the target." if risk > 0
             else "Even one time in twenty the mix is not darker than the target.",
             f"One drop more or less of one bottle moves the mix by up to {count:.1f} ΔE00."
             + (" Count with care." if count > proposal.high else "")]
    if layer == 1 and proposal.lab_d65[0] >= aim.lab_d65[0]:
        notes.insert(0, "Not darker than the target, as a first layer must be.")
    prediction = prediction_of(proposal)
    total = f"{proposal.total} drops, {len(bottles)} {'bottle' if len(bottles) == 1 else 'bottles'}"
    return Shown(code_of(proposal), bottles, prediction.hex, f"{total}. {heading_of(prediction)}",
                 sentence_of(prediction), tuple(notes))


def kept_prediction(recipe: Recipe) -> Prediction | None:
    """What was predicted of a kept recipe when it was kept."""
    if recipe.predicted_l is None or recipe.predicted_a is None or recipe.predicted_b is None:
        return None
    lab = (recipe.predicted_l, recipe.predicted_a, recipe.predicted_b)
    aim = kept_aim(recipe)
    if aim is None:
        return Prediction(lab)
    return Prediction(lab, recipe.delta_e_00, recipe.delta_e_00_low, recipe.delta_e_00_high,
                      direction(aim.lab_d65, lab), in_words(aim.lab_d65, lab))


def kept_aim(recipe: Recipe) -> Aim | None:
    if recipe.target_l is None or recipe.target_a is None or recipe.target_b is None:
        return None
    return Aim((recipe.target_l, recipe.target_a, recipe.target_b), recipe.reading_id)
