import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.colour.difference import delta_e_00
from app.colour.mixing import (
    UNTRUSTED_ERROR,
    Paint,
    Swatch,
    k_over_s,
    layer_over,
    mix,
    paint_from_swatches,
    reflectance_of,
    single_constant,
    two_constant,
    with_surface,
    without_surface,
)
from app.colour.spaces import lab_d65_from_reflectance
from tests.colour.paints import random_shelf, skin_tone

WHITE_LAB = (96.5, -0.6, 2.2)
DEEP_RED = (33.0, 42.0, 24.0)


def white() -> Paint:
    return paint_from_swatches(9, "white", (Swatch(0.0, WHITE_LAB),), None)


def true_red() -> Paint:
    """A strong red that scatters a fifth as much as white: the truth that swatches are made from."""
    masstone = reflectance_of(skin_tone(1, DEEP_RED).k)
    s = np.full(36, 0.2)
    return Paint(1, "strong", k_over_s(masstone) * s, s, "trusted", 0.0, "truth")


def swatch_of(paint: Paint, white_share: float, noise: np.ndarray | None = None) -> Swatch:
    base = white()
    shares = {paint.key: 1.0 - white_share, base.key: white_share}
    lab = mix((paint, base), shares).lab_d65 + (0.0 if noise is None else noise)
    return Swatch(white_share, (float(lab[0]), float(lab[1]), float(lab[2])))


@given(st.floats(1e-5, 1.0))
def test_reflectance_and_k_over_s_undo_each_other(reflectance: float) -> None:
    assert float(reflectance_of(k_over_s(reflectance))) == pytest.approx(reflectance, rel=1e-9)


@pytest.mark.parametrize("q", [0.0, 1e-300, 1e-12, 1e8, 1e150])
def test_reflectance_is_safe_at_the_ends(q: float) -> None:
    assert 0.0 <= float(reflectance_of(q)) <= 1.0


def test_black_has_a_finite_k_over_s() -> None:
    assert np.isfinite(k_over_s(0.0))
    assert float(k_over_s(1.2)) == 0.0


@given(st.floats(0.0, 1.0), st.floats(0.03, 0.08), st.floats(0.4, 0.6))
def test_the_surface_can_be_taken_off_again(reflectance: float, k1: float, k2: float) -> None:
    assert float(without_surface(with_surface(reflectance, k1, k2), k1, k2)) == pytest.approx(reflectance, abs=1e-12)


@settings(max_examples=60)
@given(st.floats(0.0, 5.0), st.floats(0.0, 5.0), st.floats(0.0, 30.0), st.floats(0.0, 1.0))
def test_a_layer_lies_between_its_backing_and_its_own_colour(k: float, s: float, thick: float, under: float) -> None:
    seen = float(layer_over(k, s, thick, under))
    own = float(reflectance_of(k / s)) if s > 1e-9 else 0.0
    assert min(own, under) - 1e-6 <= seen <= max(own, under) + 1e-6


def test_a_layer_without_scattering_is_a_filter_passed_twice() -> None:
    assert float(layer_over(0.3, 0.0, 2.0, 0.7)) == pytest.approx(0.7 * np.exp(-2 * 0.3 * 2.0), rel=1e-12)


def test_a_layer_without_absorption_follows_its_own_closed_form() -> None:
    assert float(layer_over(0.0, 1.5, 2.0, 0.2)) == pytest.approx((0.8 * 3.0 + 0.2) / (0.8 * 3.0 + 1.0), rel=1e-9)


def test_no_layer_shows_the_backing_and_a_negative_one_is_refused() -> None:
    assert layer_over([0.5], [1.0], 0.0, [0.8]).tolist() == [0.8]
    with pytest.raises(ValueError, match="negative"):
        layer_over(-0.5, 1.0, 1.0, 0.8)


def test_equal_scattering_makes_both_ways_of_mixing_agree() -> None:
    parts = np.array([[0.8, 0.3], [0.2, 0.6]])
    both = two_constant(k_over_s(parts), np.ones((2, 2)), [3, 1])
    assert np.allclose(single_constant(parts, [3, 1]), both, atol=1e-15)


def test_a_premixed_tone_needs_its_undiluted_colour_alone() -> None:
    tone = paint_from_swatches(2, "skin_tone", (Swatch(0.0, (66.0, 11.0, 19.0)),), None)
    assert tone.trust == "trusted"
    assert tone.s.tolist() == [1.0] * 36
    assert np.allclose(mix((tone,), {2: 5}).lab_d65, (66.0, 11.0, 19.0), atol=1e-6)


def test_a_strong_pigment_without_a_tint_is_not_trusted_and_says_so() -> None:
    red = paint_from_swatches(1, "strong", (Swatch(0.0, DEEP_RED),), white())
    assert red.trust == "untrusted"
    assert red.fit_error_delta_e_00 == UNTRUSTED_ERROR
    assert "let down with white" in red.note
    assert "tens of ΔE00" in red.note
    no_white = paint_from_swatches(1, "strong", (Swatch(0.0, DEEP_RED), Swatch(0.75, (70.0, 20.0, 8.0))), None)
    assert no_white.trust == "untrusted"
    assert "no measured white" in no_white.note


def test_one_tint_in_white_finds_both_constants() -> None:
    truth = true_red()
    fitted = paint_from_swatches(1, "strong", (swatch_of(truth, 0.0), swatch_of(truth, 0.75)), white())
    assert fitted.trust == "trusted"
    base = white()
    for drops in ({1: 1, 9: 11}, {1: 1, 9: 5}, {1: 6, 9: 6}):
        error = delta_e_00(mix((fitted, base), drops).lab_d65, mix((truth, base), drops).lab_d65)
        assert float(error) < 0.6
    alone = paint_from_swatches(1, "strong", (swatch_of(truth, 0.0),), white())
    worst = delta_e_00(mix((alone, base), {1: 1, 9: 11}).lab_d65, mix((truth, base), {1: 1, 9: 11}).lab_d65)
    assert float(worst) > 10.0


def test_more_tints_bear_noise_better_than_one() -> None:
    truth, base, random = true_red(), white(), np.random.default_rng(3)
    errors: dict[int, list[float]] = {1: [], 3: []}
    for _ in range(25):
        for count, shares in ((1, (0.0, 0.75)), (3, (0.0, 0.9, 0.75, 0.5))):
            swatches = tuple(swatch_of(truth, share, random.normal(0.0, 1.5, 3)) for share in shares)
            fitted = paint_from_swatches(1, "strong", swatches, base)
            assert fitted.k.min() >= 0.0
            assert fitted.s.min() > 0.0
            for drops in ({1: 1, 9: 11}, {1: 2, 9: 10}, {1: 6, 9: 6}):
                found, true = mix((fitted, base), drops).lab_d65, mix((truth, base), drops).lab_d65
                errors[count].append(float(delta_e_00(found, true)))
    assert np.mean(errors[3]) < np.mean(errors[1])


def test_swatches_that_contradict_each_other_raise_the_stated_error() -> None:
    truth = true_red()
    good = tuple(swatch_of(truth, share) for share in (0.0, 0.9, 0.5))
    bad = (*good[:2], Swatch(0.5, (80.0, 5.0, 30.0)))
    assert paint_from_swatches(1, "strong", bad, white()).fit_error_delta_e_00 > (
        paint_from_swatches(1, "strong", good, white()).fit_error_delta_e_00 + 2.0
    )


def test_noisier_swatches_raise_the_stated_error() -> None:
    errors = [
        paint_from_swatches(2, "skin_tone", (Swatch(0.0, (66.0, 11.0, 19.0), noise),), None).fit_error_delta_e_00
        for noise in (0.0, 1.0, 2.0, 4.0)
    ]
    assert errors == sorted(errors)
    assert errors[3] > errors[2] > errors[1] > errors[0]


def test_diluent_changes_no_colour_and_cannot_stand_alone() -> None:
    tone, diluent = skin_tone(1, (66.0, 11.0, 19.0)), paint_from_swatches(7, "diluent", (), None)
    assert np.array_equal(mix((tone, diluent), {1: 3, 7: 4}).lab_d65, mix((tone,), {1: 3}).lab_d65)
    with pytest.raises(ValueError, match="at least one pigment"):
        mix((tone, diluent), {7: 4})


def test_only_the_shares_count() -> None:
    shelf = random_shelf(1, 3, two_constant=True)
    assert np.allclose(mix(shelf, {1: 2, 3: 1}).lab_d65, mix(shelf, {1: 8, 3: 4}).lab_d65, atol=1e-10)


def test_a_mix_lies_between_its_parts_in_every_band() -> None:
    shelf = random_shelf(4, 3, two_constant=True)
    alone = np.array([mix(shelf, {key: 1}).reflectance for key in (1, 2, 3)])
    mixed = mix(shelf, {1: 2, 2: 3, 3: 7})
    assert bool(np.all(mixed.reflectance >= alone.min(axis=0) - 1e-12))
    assert bool(np.all(mixed.reflectance <= alone.max(axis=0) + 1e-12))
    assert np.allclose(mixed.lab_d65, lab_d65_from_reflectance(mixed.reflectance))


def test_impossible_swatches_and_amounts_are_refused() -> None:
    with pytest.raises(ValueError, match="white share"):
        paint_from_swatches(1, "strong", (Swatch(1.0, WHITE_LAB),), white())
    with pytest.raises(ValueError, match="undiluted"):
        paint_from_swatches(1, "strong", (Swatch(0.5, WHITE_LAB),), white())
    with pytest.raises(ValueError, match="no negative ones"):
        mix((white(),), {9: -1})
    with pytest.raises(KeyError):
        mix((white(),), {3: 1})
