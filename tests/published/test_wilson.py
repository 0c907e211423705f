"""Wilson's 95 % interval against worked figures.

Source of the method: Wilson, Journal of the American Statistical Association 22 (1927) 209-212; the formula is worked
out here once more by hand, with z = 1.959964.
"""

import math

import pytest

from app.outcomes.scores import proportion


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [(0, 20, 0.0, 16.1), (3, 20, 5.2, 36.0), (10, 32, 18.0, 48.6), (0, 60, 0.0, 6.0)],
)
def test_worked_figures(k: int, n: int, low: float, high: float) -> None:
    found = proportion(k, n)
    assert (round(100 * found.low, 1), round(100 * found.high, 1)) == (low, high)


@pytest.mark.parametrize(("k", "n"), [(0, 1), (1, 1), (3, 4), (17, 40), (299, 300)])
def test_the_formula_by_hand(k: int, n: int) -> None:
    z, p = 1.959964, k / n
    centre = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    found = proportion(k, n)
    assert found.low == pytest.approx(max(0, centre - half), abs=1e-6)
    assert found.high == pytest.approx(min(1, centre + half), abs=1e-6)
