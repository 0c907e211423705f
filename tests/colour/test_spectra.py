import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.colour.difference import delta_e_00
from app.colour.spaces import lab_d65_from_reflectance
from app.colour.spectra import reflectance_from_lab


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.floats(25, 88), st.floats(-5, 22), st.floats(0, 32))
def test_a_skin_or_pigment_colour_comes_back_exactly_from_a_bounded_curve(l_star: float, a: float, b: float) -> None:
    curve = reflectance_from_lab([l_star, a, b])
    assert curve.shape == (36,)
    assert curve.min() >= 0.0
    assert curve.max() <= 1.0
    assert np.allclose(lab_d65_from_reflectance(curve), [l_star, a, b], atol=1e-6)


def test_saturated_pigments_come_back_exactly() -> None:
    for lab in ([45.0, 60.0, 40.0], [25.0, 5.0, -60.0], [80.0, 10.0, 90.0], [35.0, 2.0, 3.0], [96.5, -0.7, 2.0]):
        assert np.allclose(lab_d65_from_reflectance(reflectance_from_lab(lab)), lab, atol=1e-6)


def test_a_grey_has_a_flat_curve() -> None:
    curve = reflectance_from_lab([60.0, 0.0, 0.0])
    assert np.ptp(curve) < 1e-4


@pytest.mark.parametrize("lab", [(101.0, 2.0, 3.0), (-2.0, 1.0, 0.0), (99.0, 3.0, 20.0), (10.0, 30.0, 20.0)])
def test_a_colour_no_surface_can_have_gives_a_near_bounded_curve(lab: tuple[float, float, float]) -> None:
    curve = reflectance_from_lab(lab)
    assert np.all(np.isfinite(curve))
    assert curve.min() >= 0.0
    assert curve.max() <= 1.0
    assert float(delta_e_00(lab_d65_from_reflectance(curve), lab)) < 6.0


def test_noise_round_a_white_bottle_never_breaks_the_curve() -> None:
    random = np.random.default_rng(5)
    for _ in range(60):
        lab = np.array([97.0, -0.5, 2.0]) + random.normal(0.0, 2.0, 3)
        curve = reflectance_from_lab(lab)
        assert float(delta_e_00(lab_d65_from_reflectance(curve), lab)) < 5.0


def test_something_else_than_a_colour_is_refused() -> None:
    for wrong in ([50.0, 0.0], [np.nan, 0.0, 0.0], [[50.0, 0.0, 0.0]]):
        with pytest.raises(ValueError, match="three finite numbers"):
            reflectance_from_lab(wrong)
