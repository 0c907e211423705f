"""Kubelka and Munk's formulas against numbers worked from their closed forms.

Papers: P. Kubelka, F. Munk, Zeitschrift für technische Physik 12:593-601, 1931 (opaque layer); D. R. Duncan, Proc.
Phys. Soc. 52:390, 1940 (mixtures; from memory, unchecked); J. L. Saunderson, J. Opt. Soc. Am. 32:727, 1942 (surface);
P. Kubelka, J. Opt. Soc. Am. 38:448, 1948 (layer over a backing). The papers print no tables that could be had: every
number is computed from the closed form, and the layer is also integrated step by step from the differential equations.
"""

import math

import numpy as np
import pytest

from app.colour.mixing import (
    k_over_s,
    layer_over,
    reflectance_of,
    single_constant,
    two_constant,
    with_surface,
    without_surface,
)


@pytest.mark.parametrize(
    ("reflectance", "ratio"),
    [(0.05, 9.025), (0.1, 4.05), (0.2, 1.6), (0.25, 1.125), (0.5, 0.25), (0.8, 0.025), (0.9, 0.0055555556)],
)
def test_opaque_layer_of_kubelka_and_munk_1931_computed_from_the_closed_form(reflectance: float, ratio: float) -> None:
    assert float(k_over_s(reflectance)) == pytest.approx(ratio, abs=1e-9)
    assert float(reflectance_of(ratio)) == pytest.approx(reflectance, abs=1e-9)
    printed_form = 1.0 + ratio - math.sqrt(ratio * ratio + 2.0 * ratio)
    assert float(reflectance_of(ratio)) == pytest.approx(printed_form, abs=1e-12)


def test_one_constant_mixture_computed_from_the_closed_form() -> None:
    assert float(single_constant([[0.8], [0.2]], [1, 1])[0]) == pytest.approx(0.3008267, abs=5e-8)


def test_two_constant_mixture_computed_from_the_closed_form() -> None:
    mixed = float(two_constant([[2.0], [0.01]], [[0.1], [1.0]], [0.3, 0.7])[0])
    assert float(k_over_s(mixed)) == pytest.approx(0.8315068, abs=5e-7)
    assert mixed == pytest.approx(0.2970958, abs=5e-8)


@pytest.mark.parametrize(
    ("inside", "outside"), [(0.0, 0.04), (0.2, 0.127273), (0.5, 0.314286), (0.8, 0.630769), (1.0, 1.0)]
)
def test_surface_of_saunderson_1942_computed_from_the_closed_form(inside: float, outside: float) -> None:
    assert float(with_surface(inside, 0.04, 0.6)) == pytest.approx(outside, abs=5e-7)
    assert float(without_surface(outside, 0.04, 0.6)) == pytest.approx(inside, abs=2e-6)


@pytest.mark.parametrize(
    ("k", "s", "backing", "seen"),
    [(0.5, 1.0, 0.0, 0.346546), (0.5, 1.0, 0.8, 0.435600), (0.1, 2.0, 0.2, 0.637688), (0.1, 200.0, 0.2, 0.968873)],
)
def test_layer_of_kubelka_1948_computed_from_the_closed_form(k: float, s: float, backing: float, seen: float) -> None:
    assert float(layer_over(k, s, 1.0, backing)) == pytest.approx(seen, abs=5e-7)


def test_a_thick_layer_hides_its_backing() -> None:
    hidden = float(layer_over(0.5, 1.0, 60.0, 0.8))
    assert hidden == pytest.approx(0.381966, abs=5e-7)
    assert hidden == pytest.approx(float(reflectance_of(0.5)), abs=1e-12)


@pytest.mark.parametrize(("k", "s", "backing"), [(0.5, 1.0, 0.8), (2.0, 0.1, 0.6), (0.02, 3.0, 0.1)])
def test_layer_follows_the_differential_equation_of_1931(k: float, s: float, backing: float) -> None:
    """dR/dx = S - 2 (K + S) R + S R², integrated from the backing outwards by classical Runge-Kutta steps."""

    def growth(r: float) -> float:
        return s - 2.0 * (k + s) * r + s * r * r

    r, steps = backing, 4000
    h = 1.0 / steps
    for _ in range(steps):
        one = growth(r)
        two = growth(r + h * one / 2.0)
        three = growth(r + h * two / 2.0)
        four = growth(r + h * three)
        r += h * (one + 2.0 * two + 2.0 * three + four) / 6.0
    assert float(layer_over(k, s, 1.0, backing)) == pytest.approx(r, abs=1e-10)


def test_bands_are_mixed_each_for_itself() -> None:
    k, s = np.array([[2.0, 0.5], [0.01, 0.02]]), np.array([[0.1, 1.0], [1.0, 1.0]])
    both = two_constant(k, s, [0.3, 0.7])
    assert [float(two_constant(k[:, [band]], s[:, [band]], [0.3, 0.7])[0]) for band in (0, 1)] == both.tolist()
