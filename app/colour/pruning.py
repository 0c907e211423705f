"""The best whole-drop recipes, proven: every recipe is either tried or shown to be worse than those kept.

Two facts carry the proof. (1) K/S of a mixture is a ratio of two sums that are linear in the drops, so over any set of
recipes it lies, band by band, between its values at the set's corners; so does the reflectance. (2) Every colour
within t ΔE00 of the target lies in a box of L*, a*, b* (`window`), and so in a window of X, Y, Z and their differences.
A set whose corners keep it outside that window holds nothing better than t.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, combinations
from math import comb

import numpy as np
import numpy.typing as npt

from app.colour.difference import delta_e_00
from app.colour.spaces import LAB_DELTA, WHITE_XYZ_D65, FloatArray, lab_d65_from_xyz_d65, reflectance_weights

Whole = npt.NDArray[np.int64]

BLOCK = 4096  # rows at a time: 36 bands of them fit into a second-level cache
SLACK = 1e-7  # ΔE00 by which a bound must fail before anything is dropped: far above rounding, far below sight
DARKER_TOLERANCE = 1e-6  # L*: a bottle that is the target itself must not fail by rounding
SAME = 9  # decimals of ΔE00 to which two recipes count as equally good
WARM_START_FROM = 20_000  # smaller classes are scanned faster than a good first guess is found
# CIEDE2000's rotation term is at most 2·sin 60°; its quadratic form is then at least 1 - sqrt(3)/2 of the plain sum.
WORST_ROTATION = (1 - np.sqrt(3) / 2) ** -0.5
# With both hues between 0 and 180° the term is under 1.2e-6 (mean hue at least 95° from 275°).
WARM_ROTATION = 1 + 1e-6


@dataclass(frozen=True, eq=False)
class Shelf:
    """Absorption and scattering per drop, (n, 36) each, of the bottles a search may use."""

    k: FloatArray
    s: FloatArray


@dataclass(frozen=True)
class Aim:
    """What a search looks for: the colour, how many drops and bottles, bottles that must be in, and what to keep."""

    target_lab_d65: tuple[float, float, float]
    total: int
    count: int
    must: tuple[int, ...]
    never_darker: bool
    keep: int
    ceiling: float = np.inf


@dataclass(frozen=True, eq=False)
class Ranked:
    """The best recipes in order: drops (r, n), lab_d65 (r, 3), delta_e_00 (r,); recipes in the class, and tried."""

    drops: FloatArray
    lab_d65: FloatArray
    delta_e_00: FloatArray
    considered: int
    evaluated: int


@dataclass(frozen=True, eq=False)
class Window:
    """Bounds that every colour within a given ΔE00 meets: L* limits, and low and high of six sums (6,)."""

    lightness: tuple[float, float]
    low: FloatArray
    high: FloatArray


def reflectances(shelf: Shelf, drops: FloatArray) -> FloatArray:
    """Reflectance of mixtures. drops: (m, n), each row with a positive sum. Returns: (m, 36), 0..1.

    Source: Kubelka and Munk 1931, two constants (see app/colour/mixing.py).
    """
    q = drops @ shelf.k
    q /= drops @ shelf.s
    root = q + 2.0
    root *= q
    np.sqrt(root, out=root)
    root += q
    root += 1.0
    return np.asarray(np.reciprocal(root, out=root))


def best_recipes(shelf: Shelf, aim: Aim, *, prune: bool = True) -> Ranked:
    """The `keep` best recipes of exactly `total` drops from exactly `count` bottles, none worse than the ceiling.

    prune=False tries every recipe: the plain enumeration that the pruned search is compared with.
    Returns: Ranked, ties in the order of the drops of the first, second, ... bottle (more first).
    """
    subsets = _subsets(shelf.k.shape[0], aim)
    considered = len(subsets) * comb(aim.total - 1, aim.count - 1) if aim.total >= aim.count else 0
    best = Ranked(np.zeros((0, shelf.k.shape[0])), np.zeros((0, 3)), np.zeros(0), considered, 0)
    if considered == 0:
        return best
    limit, tried = aim.ceiling, 0
    if prune and considered > WARM_START_FROM:
        limit, tried = _warm_start(shelf, aim, subsets)
    stack = [(block, np.zeros((len(block), 0), dtype=np.int64)) for block in reversed(_blocks(subsets))]
    window = window_of(aim.target_lab_d65, limit, aim.never_darker)
    while stack:
        bottles, fixed = stack.pop()
        if fixed.shape[1] == aim.count - 1:
            rest = aim.total - fixed.sum(axis=1, keepdims=True)
            drops = _spread(shelf, bottles, np.hstack([fixed, rest]))
            tried += len(drops)
            best = _merged(best, shelf, aim, drops, window)
            if len(best.delta_e_00) == aim.keep and best.delta_e_00[-1] < limit:
                limit = float(best.delta_e_00[-1])
                window = window_of(aim.target_lab_d65, limit, aim.never_darker)
            continue
        if prune and np.isfinite(window.low).any():
            possible = _possible(shelf, aim, bottles, fixed, window)
            bottles, fixed = bottles[possible], fixed[possible]
        bottles, fixed = _children(aim, bottles, fixed)
        stack.extend(zip(reversed(_blocks(bottles)), reversed(_blocks(fixed)), strict=True))
    return Ranked(best.drops, best.lab_d65, best.delta_e_00, considered, min(tried, considered))


def window_of(target_lab_d65: tuple[float, float, float], limit: float, never_darker: bool) -> Window:
    """A window that holds every colour within `limit` ΔE00 of the target (and, if asked, none darker than it).

    With the rotation term bounded by its largest value, ΔE00 is at least |ΔL*| / S_L, and the distance in the (a', b)
    plane is at most ΔE00 · S_C: S_C = 1 + 0.045 C' is never below S_H = 1 + 0.015 C' T, as T is at most 1.93.
    a' = (1 + G) a with one G of 0..0.5 for both colours, so |Δa| and |Δb| are no larger than that distance.
    Source: our derivation from the formulas of Sharma, Wu, Dalal 2005.
    """
    lightness, a, b = target_lab_d65
    t = limit + SLACK
    reach = _lightness_reach(lightness, t)
    plane = _plane_reach(a, b, t)
    lowest = lightness - (DARKER_TOLERANCE if never_darker else reach)
    highest = lightness + reach
    f_y = (np.array([lowest, highest]) + 16) / 116
    d_x, d_z = np.array([a - plane, a + plane]) / 500, np.array([b - plane, b + plane]) / 200
    if not np.isfinite(reach + plane):
        low, high = np.full(6, -np.inf), np.full(6, np.inf)
        low[1], high[1] = _inverse_f(f_y)  # the lightness limits may still be finite
        return Window((lowest, highest), low, high)
    corners = np.array(np.meshgrid(f_y, d_x, d_z, indexing="ij")).reshape(3, -1)
    y, x, z = (_inverse_f(v) for v in (corners[0], corners[0] + corners[1], corners[0] - corners[2]))
    # Each sum is monotone in every coordinate while the others stand (f's inverse is convex), so corners are extremes.
    sums = np.array([x, y, z, x - y, y - z, x - z])
    return Window((lowest, highest), sums.min(axis=1) - 1e-9, sums.max(axis=1) + 1e-9)


def _inverse_f(f: FloatArray) -> FloatArray:
    return np.asarray(np.where(f > LAB_DELTA, f**3, 3 * LAB_DELTA**2 * (f - 4 / 29)))


def _lightness_reach(lightness: float, t: float) -> float:
    """How far L* may be off: S_L grows away from L* 50, so the ends of the possible mean bound it."""
    ends = (lightness / 2, lightness / 2 + 50)
    reach = np.inf
    for _ in range(4):
        off = max(abs(end - 50) for end in ends)
        reach = min(reach, t * (1 + 0.015 * off**2 / np.sqrt(20 + off**2)))
        ends = (max(lightness / 2, lightness - reach / 2), min(lightness / 2 + 50, lightness + reach / 2))
    return float(reach)


def _plane_reach(a: float, b: float, t: float) -> float:
    """How far a* and b* may be off; infinite when the bound says nothing."""

    def reach(rotation: float) -> float:
        wide = t * rotation
        if 0.0225 * wide >= 1:
            return float(np.inf)
        chroma = np.hypot(1.5 * a, b)
        other = (chroma * (1 + 0.0225 * wide) + wide) / (1 - 0.0225 * wide)
        return float(wide * (1 + 0.0225 * (chroma + other)))

    widest = reach(float(WORST_ROTATION))
    return reach(WARM_ROTATION) if widest < b else widest


def _sums() -> FloatArray:
    """Weights (36, 6) of X, Y, Z as shares of white, and of X-Y, Y-Z, X-Z."""
    x, y, z = (reflectance_weights() / WHITE_XYZ_D65).T
    return np.asarray(np.stack([x, y, z, x - y, y - z, x - z], axis=1))


def _possible(shelf: Shelf, aim: Aim, bottles: Whole, fixed: Whole, window: Window) -> npt.NDArray[np.bool_]:
    """Which sets of recipes (first drops fixed, the others free, at least one each) may hold one in the window."""
    free = aim.count - fixed.shape[1]
    spare = aim.total - fixed.sum(axis=1) - free
    corner_low = corner_high = np.zeros(0)
    for corner in range(free):
        drops = np.hstack([fixed, np.ones((len(fixed), free), dtype=np.int64)])
        drops[:, fixed.shape[1] + corner] += spare
        r = reflectances(shelf, _spread(shelf, bottles, drops))
        corner_low = r if corner == 0 else np.minimum(corner_low, r)
        corner_high = r if corner == 0 else np.maximum(corner_high, r)
    sums = _sums()
    up, down = np.maximum(sums, 0.0), np.minimum(sums, 0.0)
    lowest, highest = corner_low @ up + corner_high @ down, corner_high @ up + corner_low @ down
    return np.asarray(((lowest <= window.high) & (highest >= window.low)).all(axis=1))


def _children(aim: Aim, bottles: Whole, fixed: Whole) -> tuple[Whole, Whole]:
    """Each set split by the drops of its next bottle."""
    free = aim.count - fixed.shape[1]
    choices = aim.total - fixed.sum(axis=1) - free + 1
    parent = np.repeat(np.arange(len(fixed)), choices)
    first = np.repeat(np.cumsum(choices) - choices, choices)
    return bottles[parent], np.hstack([fixed[parent], (np.arange(len(parent)) - first + 1)[:, None]])


def _merged(best: Ranked, shelf: Shelf, aim: Aim, drops: FloatArray, window: Window) -> Ranked:
    lab = lab_d65_from_xyz_d65(reflectances(shelf, drops) @ reflectance_weights())
    inside = (lab[:, 0] >= window.lightness[0]) & (lab[:, 0] <= window.lightness[1])
    drops, lab = drops[inside], lab[inside]
    difference = delta_e_00(lab, np.asarray(aim.target_lab_d65)) if len(lab) else np.zeros(0)
    near = difference <= aim.ceiling
    if len(best.delta_e_00) == aim.keep:
        near &= difference <= best.delta_e_00[-1] + SLACK
    drops = np.vstack([best.drops, drops[near]])
    lab = np.vstack([best.lab_d65, lab[near]])
    difference = np.concatenate([best.delta_e_00, difference[near]])
    order = np.lexsort((*(-drops.T[::-1]), difference.round(SAME)))[: aim.keep]
    return Ranked(drops[order], lab[order], difference[order], best.considered, best.evaluated)


def _warm_start(shelf: Shelf, aim: Aim, subsets: Whole) -> tuple[float, int]:
    """A ceiling that at least `keep` recipes meet, by improving a few samples drop by drop; and how many were tried."""
    random = np.random.default_rng(0)  # any sample will do; a fixed one makes runs repeat
    rows = random.integers(len(subsets), size=BLOCK)
    cuts = np.sort(random.random((BLOCK, aim.total - 1)).argsort(axis=1)[:, : aim.count - 1], axis=1) + 1
    amounts = np.diff(np.hstack([np.zeros((BLOCK, 1)), cuts, np.full((BLOCK, 1), aim.total)]), axis=1)
    window = window_of(aim.target_lab_d65, np.inf, aim.never_darker)
    empty = Ranked(np.zeros((0, shelf.k.shape[0])), np.zeros((0, 3)), np.zeros(0), 0, 0)
    unique = np.unique(_spread(shelf, subsets[rows], amounts), axis=0)
    best, tried = _merged(empty, shelf, aim, unique, window), len(unique)
    while len(best.drops):
        around = np.unique(np.vstack(list(_neighbours(best.drops[0], aim))), axis=0)
        known = (around[:, None, :] == best.drops[None, :, :]).all(axis=2).any(axis=1)
        tried += len(around)
        first = best.delta_e_00[0]
        best = _merged(best, shelf, aim, around[~known], window)
        if not best.delta_e_00[0] < first:
            break
    enough = len(best.delta_e_00) == aim.keep
    return (min(aim.ceiling, float(best.delta_e_00[-1])) if enough else aim.ceiling), tried


def _neighbours(drops: FloatArray, aim: Aim) -> Iterator[FloatArray]:
    """Recipes one drop, or one bottle, away."""
    used, unused = np.flatnonzero(drops), np.flatnonzero(drops == 0)
    for source in used:
        if drops[source] > 1:
            for goal in used[used != source]:
                moved = drops.copy()
                moved[source] -= 1
                moved[goal] += 1
                yield moved[None, :]
        if source not in aim.must:
            for goal in unused:
                moved = drops.copy()
                moved[goal], moved[source] = drops[source], 0
                yield moved[None, :]
    yield drops[None, :]


def _subsets(bottles: int, aim: Aim) -> Whole:
    others = [index for index in range(bottles) if index not in aim.must]
    wanted = aim.count - len(aim.must)
    if wanted < 0 or wanted > len(others):
        return np.zeros((0, aim.count), dtype=np.int64)
    flat = np.fromiter(chain.from_iterable(combinations(others, wanted)), dtype=np.int64)
    chosen = flat.reshape(comb(len(others), wanted), wanted)
    must = np.broadcast_to(np.array(aim.must, dtype=np.int64), (len(chosen), len(aim.must)))
    return np.sort(np.hstack([must, chosen]), axis=1)


def _spread(shelf: Shelf, bottles: Whole, amounts: Whole | FloatArray) -> FloatArray:
    drops = np.zeros((len(bottles), shelf.k.shape[0]))
    np.put_along_axis(drops, bottles, amounts.astype(np.float64), axis=1)
    return drops


def _blocks(rows: Whole) -> list[Whole]:
    return [rows[start : start + BLOCK] for start in range(0, len(rows), BLOCK)]
