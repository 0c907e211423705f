"""The pruned recipe search against every recipe tried one by one, in plain scalar arithmetic.

Formulas written out again from: Kubelka and Munk 1931 (mixture); ISO/CIE 11664-4 (L*a*b*); Sharma, Wu, Dalal 2005
(CIEDE2000). Only the tables of observer and light are shared with the program.
"""

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np
import pytest

from app.colour.mixing import Paint
from app.colour.pruning import Aim, Shelf, best_recipes
from app.colour.recipes import search
from app.colour.spaces import WHITE_XYZ_D65, reflectance_weights
from tests.colour.paints import random_shelf, skin_target

WEIGHTS = reflectance_weights().tolist()
WHITE = WHITE_XYZ_D65.tolist()
Colour = tuple[float, float, float]


def scalar_lab(paints: Sequence[Paint], drops: Sequence[int]) -> Colour:
    xyz = [0.0, 0.0, 0.0]
    for band in range(36):
        k = sum(count * float(paint.k[band]) for paint, count in zip(paints, drops, strict=True))
        s = sum(count * float(paint.s[band]) for paint, count in zip(paints, drops, strict=True))
        q = k / s
        reflectance = 1 + q - math.sqrt(q * q + 2 * q)
        for axis in range(3):
            xyz[axis] += reflectance * WEIGHTS[band][axis]
    f = [
        v ** (1 / 3) if v > (6 / 29) ** 3 else v / (3 * (6 / 29) ** 2) + 4 / 29
        for v in map(lambda a, b: a / b, xyz, WHITE)
    ]
    return 116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])


def scalar_delta_e_00(one: Colour, two: Colour) -> float:
    mean_c = (math.hypot(one[1], one[2]) + math.hypot(two[1], two[2])) / 2
    g = 1 + 0.5 * (1 - math.sqrt(mean_c**7 / (mean_c**7 + 25**7)))
    c1, c2 = math.hypot(g * one[1], one[2]), math.hypot(g * two[1], two[2])
    h1 = math.degrees(math.atan2(one[2], g * one[1])) % 360
    h2 = math.degrees(math.atan2(two[2], g * two[1])) % 360
    turn = (h2 - h1 + 180) % 360 - 180
    hue = (h1 + turn / 2) % 360
    big_h = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn) / 2)
    mean_l, mean_c = (one[0] + two[0]) / 2, (c1 + c2) / 2
    t = 1 - 0.17 * math.cos(math.radians(hue - 30)) + 0.24 * math.cos(math.radians(2 * hue))
    t += 0.32 * math.cos(math.radians(3 * hue + 6)) - 0.20 * math.cos(math.radians(4 * hue - 63))
    light = (two[0] - one[0]) / (1 + 0.015 * (mean_l - 50) ** 2 / math.sqrt(20 + (mean_l - 50) ** 2))
    chroma = (c2 - c1) / (1 + 0.045 * mean_c)
    big_h /= 1 + 0.015 * mean_c * t
    rotation = -2 * math.sqrt(mean_c**7 / (mean_c**7 + 25**7))
    rotation *= math.sin(math.radians(60 * math.exp(-(((hue - 275) / 25) ** 2))))
    return math.sqrt(max(0.0, light**2 + chroma**2 + big_h**2 + rotation * chroma * big_h))


def whole_drops(bottles: int, total: int, most: int) -> Iterator[tuple[int, ...]]:
    for drops in itertools.product(range(total + 1), repeat=bottles):
        if sum(drops) == total and sum(count > 0 for count in drops) <= most:
            yield drops


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("two_constant", [False, True])
@pytest.mark.parametrize("never_darker", [False, True])
def test_the_search_finds_what_trying_everything_finds(seed: int, two_constant: bool, never_darker: bool) -> None:
    bottles, total, most = 3 + seed % 3, 4 + seed % 4, 2 + seed % 3
    paints = random_shelf(100 + seed, bottles, two_constant=two_constant)
    aimed = skin_target(seed)
    target = (float(aimed[0]), float(aimed[1]), float(aimed[2]))
    by_count: dict[int, float] = {}
    ranked: list[float] = []
    for drops in whole_drops(bottles, total, most):
        lab = scalar_lab(paints, drops)
        if never_darker and lab[0] < target[0]:
            continue
        error = scalar_delta_e_00(lab, target)
        ranked.append(error)
        used = sum(count > 0 for count in drops)
        by_count[used] = min(error, by_count.get(used, math.inf))
    found = search(paints, target, drops=total, max_paints=most, never_darker=never_darker)
    assert [proposal.delta_e_00 for proposal in found.proposals] == pytest.approx(sorted(ranked)[:6], abs=1e-9)
    for proposal in found.by_pigment_count:
        assert proposal.delta_e_00 == pytest.approx(by_count[len(proposal.parts)], abs=1e-9)
    if not ranked:
        assert found.reason


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("two_constant", [False, True])
def test_fewer_drops_are_listed_exactly_when_they_come_close(seed: int, two_constant: bool) -> None:
    paints = random_shelf(200 + seed, 4, two_constant=two_constant)
    aimed = skin_target(seed)
    target = (float(aimed[0]), float(aimed[1]), float(aimed[2]))
    best: dict[int, float] = {}
    for total in range(1, 8):
        errors = [scalar_delta_e_00(lab, target) for lab in (scalar_lab(paints, d) for d in whole_drops(4, total, 3))]
        best[total] = min(errors)
    expected, so_far = [], math.inf
    for total in range(1, 7):
        if best[total] <= best[7] + 0.3 and best[total] < so_far - 1e-9:
            expected.append((total, best[total]))
            so_far = best[total]
    found = search(paints, target, drops=7, max_paints=3, never_darker=False)
    assert [proposal.total for proposal in found.smaller_totals] == [total for total, _ in expected]
    assert [p.delta_e_00 for p in found.smaller_totals] == pytest.approx([error for _, error in expected], abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("two_constant", [False, True])
@pytest.mark.parametrize("never_darker", [False, True])
def test_pruning_changes_no_recipe_of_large_shelves(seed: int, two_constant: bool, never_darker: bool) -> None:
    """Shelves too large for scalars: the same arithmetic with and without pruning and warm start."""
    paints = random_shelf(300 + seed, 12, two_constant=two_constant)
    shelf = Shelf(np.array([paint.k for paint in paints]), np.array([paint.s for paint in paints]))
    random = np.random.default_rng(seed)
    # Targets far off the skin too: blue hues, where CIEDE2000's rotation term counts, and greys.
    wild = random.uniform([30, -30, -30], [80, 30, 30]) if seed % 2 else skin_target(seed)
    must = (int(random.integers(12)),) if seed % 4 == 3 else ()
    aim = Aim((float(wild[0]), float(wild[1]), float(wild[2])), 13, 3 if seed % 4 else 4, must, never_darker, 6)
    pruned, plain = best_recipes(shelf, aim), best_recipes(shelf, aim, prune=False)
    assert pruned.drops.tolist() == plain.drops.tolist()
    assert np.allclose(pruned.delta_e_00, plain.delta_e_00, atol=1e-9)
    assert pruned.considered == plain.considered == plain.evaluated
