import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.colour.difference import delta_e_00, delta_e_estimate, direction, direction_within
from app.colour.spaces import (
    lab_d65_from_reflectance,
    lab_d65_from_srgb8,
    lab_to_srgb8_hex,
    reflectance_weights,
    srgb8_from_lab_d65,
)

SKIN = np.array([65.0, 10.0, 16.0])
BYTES = st.tuples(st.integers(0, 255), st.integers(0, 255), st.integers(0, 255))


@settings(deadline=None)
@given(BYTES)
def test_a_screen_colour_survives_the_way_to_lab_and_back(srgb8: tuple[int, int, int]) -> None:
    assert tuple(srgb8_from_lab_d65(lab_d65_from_srgb8(srgb8)).tolist()) == srgb8
    assert lab_to_srgb8_hex(lab_d65_from_srgb8(srgb8)) == "#{:02x}{:02x}{:02x}".format(*srgb8)


@pytest.mark.parametrize("lab", [[120, 0, 0], [-5, 0, 0], [50, 200, -200]])
def test_a_colour_no_screen_has_is_clipped(lab: list[float]) -> None:
    assert len(lab_to_srgb8_hex(lab)) == 7


def test_a_screen_colour_is_made_of_one_colour_only() -> None:
    with pytest.raises(ValueError, match="one colour"):
        lab_to_srgb8_hex([[50, 0, 0], [60, 0, 0]])


def test_a_reflectance_of_another_number_of_bands_is_refused() -> None:
    assert reflectance_weights().shape == (36, 3)
    with pytest.raises(ValueError, match="36 bands"):
        lab_d65_from_reflectance(np.ones(31))


@settings(deadline=None)
@given(BYTES, BYTES)
def test_a_difference_is_symmetric_and_never_negative(one: tuple[int, int, int], other: tuple[int, int, int]) -> None:
    lab_1, lab_2 = lab_d65_from_srgb8(one), lab_d65_from_srgb8(other)
    there, back = float(delta_e_00(lab_1, lab_2)), float(delta_e_00(lab_2, lab_1))
    assert there == pytest.approx(back, abs=1e-9)
    assert there >= 0
    assert (there == 0) == (one == other)


def test_each_direction_has_its_word() -> None:
    assert direction(SKIN, SKIN + np.array([2, 2, 2])) == ("lighter", "redder", "yellower")
    assert direction(SKIN, SKIN - np.array([2, 2, 2])) == ("darker", "less red", "less yellow")
    assert direction(SKIN, SKIN + np.array([0.3, 0.3, -0.3])) == ()


def test_a_direction_is_plain_only_when_its_interval_excludes_zero() -> None:
    assert direction_within([2, -1, 0.1], [1, -2.4, -3], [3, 0.4, 3.2]) == ("lighter", "perhaps less red")


def test_the_interval_of_a_difference_holds_the_difference_and_grows_with_the_noise() -> None:
    scar = SKIN + np.array([5, -1, -3])
    seen = float(delta_e_00(SKIN, scar))
    narrow, wide = (delta_e_estimate(SKIN, scar, np.eye(3) * sd**2) for sd in (0.3, 1.2))
    assert wide.low < narrow.low < seen < narrow.high < wide.high
    assert wide.value < narrow.value < seen


def test_two_colours_that_agree_are_still_known_only_to_within_the_noise() -> None:
    found = delta_e_estimate(SKIN, SKIN, np.eye(3))
    assert (found.value, found.low) == (0, 0)
    assert 0.9 < found.high < 2


def test_an_interval_of_an_endless_uncertainty_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        delta_e_estimate(SKIN, SKIN, np.full((3, 3), np.nan))


@settings(deadline=None, max_examples=25)
@given(st.floats(0, 12), st.floats(0.2, 2.0), st.integers(0, 1000))
def test_an_interval_is_always_in_order(distance: float, noise: float, seed: int) -> None:
    found = delta_e_estimate(SKIN, SKIN + np.array([distance, 0, 0]), np.eye(3) * noise**2, seed)
    assert 0 <= found.low <= found.value <= found.high
    # Noise makes differences look larger, never smaller; a hair for the steps of the row of true differences.
    assert found.value <= float(delta_e_00(SKIN, SKIN + np.array([distance, 0, 0]))) + 0.05


@pytest.mark.parametrize("distance", [0.0, 1.5, 6.0])
def test_the_interval_holds_the_truth_nine_times_in_ten(distance: float) -> None:
    random = np.random.default_rng(9)
    covariance = np.diag([0.9, 0.5, 1.1]) ** 2
    scar = SKIN + np.array([0.6, -0.3, 0.74]) * distance
    true = float(delta_e_00(SKIN, scar))
    held = []
    for number in range(300):
        found = delta_e_estimate(SKIN, random.multivariate_normal(scar, covariance), covariance, number)
        held.append(found.low <= true <= found.high)
    # Near 0 the upper end cannot fail, so there it may hold more often.
    assert 0.86 <= np.mean(held) <= (1.0 if distance < 2 else 0.95)
