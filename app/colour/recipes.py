"""Which drops of which bottles come closest to a skin colour: the proven best recipes, and what they risk."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from app.colour.difference import NORMAL_90, WORDS, delta_e_00, direction
from app.colour.mixing import Paint, mix
from app.colour.pruning import Aim, Ranked, Shelf, best_recipes
from app.colour.spaces import FloatArray

Colour = tuple[float, float, float]

MOST_DROPS = 20  # beyond 12 drops the gain (0.05 ΔE00) drowns in the model's error: our own trials, 20 paints
MOST_PAINTS = 4
WITHIN_DELTA_E_00 = 0.3  # a smaller recipe this close to the best is worth its simplicity: far below the model's error

# Error of Kubelka-Munk itself for opaque coats measured well, ΔE00, beside what each bottle's swatches leave unknown.
# Source: "under 1" in closed-loop trials, R. Furferi and M. Carfagni 2010 (from memory, unchecked).
MODEL_ERROR = 1.0
# Three independent normal errors of equal size: mean length 1.596 sd, 90 % of lengths under 2.5 sd (Maxwell 1860).
MEAN_LENGTH, LENGTH_90 = 1.5958, 2.5003


UNSAID_UNDER = 0.05  # rounds to 0.0


@dataclass(frozen=True)
class Part:
    """One bottle of a recipe: its key, its whole drops, and what it does there."""

    key: int
    drops: int
    words: str


@dataclass(frozen=True)
class Proposal:
    """A recipe and what is expected of it, against the target.

    lab_d65: predicted, D65, 2 degree observer. delta_e_00: predicted difference to the target; low and high are the
    90 % interval of the true one, darkest_l_star the L* below which the mix falls 1 time in 20, all under the stated
    model error. direction: words without amounts, words: with. sensitivity_delta_e_00: the largest change of the mix
    by one drop more or less. untrusted_because: why its prediction is worth nothing, when it is.
    """

    parts: tuple[Part, ...]
    total: int
    lab_d65: tuple[float, float, float]
    delta_e_00: float
    low: float
    high: float
    darkest_l_star: float
    direction: tuple[str, ...]
    words: str
    sensitivity_delta_e_00: float
    trusted: bool
    untrusted_because: tuple[str, ...]

    @property
    def drops(self) -> dict[int, int]:
        return {part.key: part.drops for part in self.parts}


@dataclass(frozen=True)
class SearchResult:
    """What a search found, and what it rests on.

    proposals: the best of exactly the asked drops, best first. by_pigment_count: the best with one, two, ... bottles,
    as far as one more brings an improvement. smaller_totals: the best of fewer drops within 0.3 ΔE00 of the best.
    considered = tried + pruned: recipes of all these classes. reason: why there is no proposal; nearest: the closest
    recipe, which is not offered for that reason. notes: what was left out.
    """

    proposals: tuple[Proposal, ...]
    by_pigment_count: tuple[Proposal, ...]
    smaller_totals: tuple[Proposal, ...]
    considered: int
    tried: int
    pruned: int
    proof: str
    reason: str
    nearest: Proposal | None
    notes: tuple[str, ...]


def search(
    paints: Sequence[Paint],
    target_lab_d65: Sequence[float],
    *,
    drops: int = 12,
    max_paints: int = 3,
    never_darker: bool = True,
    must_use: Collection[int] = (),
    must_not_use: Collection[int] = (),
    keep: int = 6,
) -> SearchResult:
    """The best recipes of whole drops for a skin colour, proven best under the mixing model.

    paints: the bottles, each key once; target_lab_d65: (3,), D65, 2 degree observer; drops: 1..20, exactly that many;
    max_paints: 1..4; never_darker: only mixes whose predicted L* is at least the target's; must_use, must_not_use:
    paint keys; keep: how many proposals.
    Returns: SearchResult. Equal differences (to 1e-9) stand in the order of fewer bottles, then of the lower keys.
    No figure for other light is given: curves rebuilt from D65 colours say nothing about it.
    Raises: ValueError for numbers out of range, a key that occurs twice, is unknown, or is both demanded and barred.
    Source: the mixing model of app/colour/mixing.py; the proof in app/colour/pruning.py.

    >>> from app.colour.mixing import Swatch, paint_from_swatches
    >>> shelf = [paint_from_swatches(key, "skin_tone", (Swatch(0.0, lab),), None)
    ...          for key, lab in ((1, (82.0, 6.0, 14.0)), (2, (45.0, 14.0, 22.0)))]
    >>> found = search(shelf, mix(shelf, {1: 9, 2: 3}).lab_d65)
    >>> found.proposals[0].drops, found.smaller_totals[0].drops
    ({1: 9, 2: 3}, {1: 3, 2: 1})
    """
    usable = _usable(paints, must_use, must_not_use)
    l_star, a, b = (float(v) for v in target_lab_d65)
    if not bool(np.all(np.isfinite([l_star, a, b]))):
        raise ValueError("the target must be three finite numbers")
    if not (1 <= drops <= MOST_DROPS and 1 <= max_paints <= MOST_PAINTS and keep >= 1):
        raise ValueError(f"1 to {MOST_DROPS} drops, 1 to {MOST_PAINTS} bottles, at least one proposal")
    must = tuple(index for index, paint in enumerate(usable) if paint.key in must_use)
    notes = tuple(
        f"Diluent ({count} on the shelf) is left out of the prediction: it thins the mix and does not turn its colour."
        for count in (sum(paint.kind == "diluent" for paint in paints),)
        if count
    )
    reason = _impossible(usable, len(must), drops, max_paints)
    if reason:
        return SearchResult((), (), (), 0, 0, 0, "", reason, None, notes)
    shelf = Shelf(np.array([paint.k for paint in usable]), np.array([paint.s for paint in usable]))
    aim = Aim((l_star, a, b), drops, 1, must, never_darker, keep)
    classes = [best_recipes(shelf, each) for each in _counts(aim, max_paints)]
    order = _order(classes)
    if not order:
        return _nothing(shelf, usable, aim, classes, max_paints, notes)
    smaller, smaller_classes = _smaller(shelf, aim, max_paints, order[0][0])
    best_of_each = [(float(found.delta_e_00[0]), found.drops[0]) for found in classes if len(found.drops)]
    improving = [
        row for place, row in enumerate(best_of_each) if all(row[0] < before[0] for before in best_of_each[:place])
    ]
    searched = (*classes, *smaller_classes)
    return SearchResult(
        tuple(_describe(usable, aim.target_lab_d65, row) for _, row in order[:keep]),
        tuple(_describe(usable, aim.target_lab_d65, row) for _, row in improving),
        tuple(_describe(usable, aim.target_lab_d65, row) for _, row in smaller),
        *_counted(searched),
        _proof(searched, drops, never_darker),
        "",
        None,
        notes,
    )


def _usable(paints: Sequence[Paint], must_use: Collection[int], must_not_use: Collection[int]) -> list[Paint]:
    keys = [paint.key for paint in paints]
    colours = {paint.key for paint in paints if paint.kind != "diluent"}
    if len(set(keys)) != len(keys):
        raise ValueError("a paint key occurs twice")
    if not set(must_use) <= colours or not set(must_not_use) <= set(keys):
        raise ValueError("a demanded or barred key is not a pigment on the shelf")
    if set(must_use) & set(must_not_use):
        raise ValueError("a key is both demanded and barred")
    kept = [paint for paint in paints if paint.key in colours and paint.key not in must_not_use]
    return sorted(kept, key=lambda paint: paint.key)


def _impossible(usable: list[Paint], demanded: int, drops: int, max_paints: int) -> str:
    if not usable:
        return "There is no pigment to mix from."
    if demanded > max_paints:
        return f"{demanded} bottles are asked for, but a recipe may have {max_paints} at most."
    if demanded > drops:
        return f"{demanded} bottles are asked for, but {drops} drops cannot hold one drop of each."
    return ""


def _counts(aim: Aim, max_paints: int) -> Iterator[Aim]:
    for count in range(max(1, len(aim.must)), min(max_paints, aim.total) + 1):
        yield replace(aim, count=count)


def _order(classes: Sequence[Ranked]) -> list[tuple[float, FloatArray]]:
    """All kept recipes, best first; equal to nine decimals: fewer bottles, then more of the lower keys."""
    rows = [(float(d), row) for found in classes for d, row in zip(found.delta_e_00, found.drops, strict=True)]
    return sorted(rows, key=lambda pair: (round(pair[0], 9), int((pair[1] > 0).sum()), (-pair[1]).tolist()))


def _smaller(
    shelf: Shelf, aim: Aim, max_paints: int, best: float
) -> tuple[list[tuple[float, FloatArray]], list[Ranked]]:
    """From few drops to many: the best of each total that is close to the best and improves on all smaller ones."""
    kept: list[tuple[float, FloatArray]] = []
    searched: list[Ranked] = []
    ceiling = best + WITHIN_DELTA_E_00
    for total in range(max(1, len(aim.must)), aim.total):
        found = [
            best_recipes(shelf, each)
            for each in _counts(replace(aim, total=total, keep=1, ceiling=ceiling), max_paints)
        ]
        searched += found
        order = _order(found)
        if order and (not kept or order[0][0] < kept[-1][0] - 1e-9):
            kept.append(order[0])
            ceiling = order[0][0]
    return kept, searched


def _nothing(
    shelf: Shelf, usable: list[Paint], aim: Aim, classes: list[Ranked], max_paints: int, notes: tuple[str, ...]
) -> SearchResult:
    """Only the ban on darker mixes can leave nothing: say what would be closest, and why it is not offered."""
    free = replace(aim, never_darker=False, keep=1)
    closest = _order([best_recipes(shelf, each) for each in _counts(free, max_paints)])[0][1]
    nearest = _describe(usable, aim.target_lab_d65, closest)
    short = aim.target_lab_d65[0] - nearest.lab_d65[0]
    reason = (
        f"Every recipe of {aim.total} drops from these bottles is darker than the target. The nearest is "
        f"{short:.1f} L* darker and is not offered: too dark cannot be taken back. A lighter bottle is needed."
    )
    return SearchResult((), (), (), *_counted(classes), _proof(classes, aim.total, True), reason, nearest, notes)


def _counted(classes: Sequence[Ranked]) -> tuple[int, int, int]:
    considered = sum(found.considered for found in classes)
    tried = sum(found.evaluated for found in classes)
    return considered, tried, considered - tried


def _proof(classes: Sequence[Ranked], drops: int, never_darker: bool) -> str:
    considered, tried, pruned = _counted(classes)
    darker = " or darker than it" if never_darker else ""
    return (
        f"Of {considered:,} recipes of up to {drops} drops, {tried:,} were tried and {pruned:,} ruled out in groups, "
        f"each shown to lie further from the target than those kept{darker}. Best under the model, not a promise."
    )


def _describe(paints: Sequence[Paint], target: Colour, row: FloatArray) -> Proposal:
    used = [(paint, int(count)) for paint, count in zip(paints, row, strict=True) if count > 0]
    drops = {paint.key: count for paint, count in used}
    lab = mix(paints, drops).lab_d65
    difference = float(delta_e_00(lab, target))
    error = float(np.hypot(MODEL_ERROR, max(paint.fit_error_delta_e_00 for paint, _ in used)))
    sigma = error / MEAN_LENGTH
    off = (float(lab[0]) - 50) ** 2
    s_l = 1 + 0.015 * off / np.sqrt(20 + off)  # CIEDE2000's L* units per ΔE00, Sharma, Wu, Dalal 2005
    doubts = tuple(paint.note for paint, _ in used if paint.trust == "untrusted")
    return Proposal(
        parts=tuple(Part(paint.key, count, _role(paints, paint.key, drops, lab)) for paint, count in used),
        total=sum(drops.values()),
        lab_d65=(float(lab[0]), float(lab[1]), float(lab[2])),
        delta_e_00=difference,
        low=max(0.0, difference - LENGTH_90 * sigma),
        high=difference + LENGTH_90 * sigma,
        darkest_l_star=float(lab[0]) - NORMAL_90 * sigma * float(s_l),
        direction=direction(target, lab),
        words=in_words(target, lab) or "no measurable difference",
        sensitivity_delta_e_00=_sensitivity(paints, drops, lab),
        trusted=not doubts,
        untrusted_because=doubts,
    )


def _role(paints: Sequence[Paint], key: int, drops: dict[int, int], lab: FloatArray) -> str:
    others = {other: count for other, count in drops.items() if other != key}
    if not others:
        return "the whole mix"
    change = in_words(lab, mix(paints, others).lab_d65)
    return f"without it the mix would be {change}" if change else "without it the mix would look the same"


def _sensitivity(paints: Sequence[Paint], drops: dict[int, int], lab: FloatArray) -> float:
    changed = [{**drops, key: count + step} for key, count in drops.items() for step in (-1, 1)]
    labs = [mix(paints, each).lab_d65 for each in changed if sum(each.values()) > 0]
    return float(delta_e_00(np.array(labs), lab).max())


def in_words(lab_from: Sequence[float] | FloatArray, lab_to: Sequence[float] | FloatArray) -> str:
    """How the second colour differs from the first, with amounts in L*, a*, b*; empty when nothing rounds above 0.

    lab_from, lab_to: (3,), D65. Returns: words in the order L*, a*, b*. Raises nothing.
    Source: the axes of ISO/CIE 11664-4:2019.

    >>> in_words((60.0, 10.0, 15.0), (57.9, 10.4, 15.0))
    '2.1 darker and 0.4 redder'
    """
    steps = np.asarray(lab_to, dtype=np.float64) - np.asarray(lab_from, dtype=np.float64)
    said = [
        f"{abs(step):.1f} {names[0] if step > 0 else names[1]}"
        for step, names in zip(steps, WORDS, strict=True)
        if abs(step) >= UNSAID_UNDER
    ]
    return " and ".join([", ".join(said[:-1]), said[-1]]) if len(said) > 1 else "".join(said)
