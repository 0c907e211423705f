"""A sample of the rendered truth bench (tests/bench): photos of skin with known spectra, read as real ones are.

The whole bench is `python -m tests.bench colour`; here are few photos, with a fixed seed.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.stats import binom, chi2

from app.colour.chart_reference import shipped
from app.colour.difference import delta_e_00
from app.colour.spaces import ita_deg, lab_d65_from_reflectance
from tests.bench import optics, skins
from tests.bench.colour_bench import Outcome, figures_of, held_share, outcome_of
from tests.bench.renders import look_at_random, render
from tests.bench.skins import CLASSES, TRUE_DELTAS

SEED = 21


def sampled(seed: int, each: int, width_px: int, *, placed: bool = False) -> list[Outcome]:
    """Photos of every class, each class and each true difference in turn; placed: charts are not looked for."""
    cv2.setNumThreads(1)
    return [
        outcome_of(
            render(
                np.random.default_rng((seed, number, place)),
                name,
                TRUE_DELTAS[(number + place) % len(TRUE_DELTAS)],
                width_px,
            ),
            placed=placed,
        )
        for number in range(each)
        for place, name in enumerate(CLASSES)
    ]


def held_if_scaled(read: list[Outcome], times: float) -> int:
    """How many intervals would hold the truth if they reached this many times as far from the reported value."""
    held = 0
    for outcome in read:
        assert outcome.reported is not None
        low, high = (outcome.reported + times * (end - outcome.reported) for end in (outcome.low, outcome.high))
        held += replace(outcome, low=low, high=high).held
    return held


def axis_spread(read: list[Outcome]) -> float:
    """Mean square of the errors in L*, a* and b*, each over the standard error that was given with it: 1 is right."""
    return float(np.mean(np.square([outcome.axis_errors for outcome in read])))


def test_every_made_up_scar_differs_from_its_skin_by_exactly_what_is_said() -> None:
    random = np.random.default_rng(1)
    for name, (low, high) in CLASSES.items():
        for wanted in (0.0, 4.0, 16.0):
            site = skins.site_of(name, wanted, random)
            lab_skin, lab_scar = lab_d65_from_reflectance(np.stack([site.skin, site.scar]))
            assert float(delta_e_00(lab_skin, lab_scar)) == pytest.approx(wanted, abs=1e-6)
            assert low - 0.01 <= float(ita_deg(lab_skin)) <= high + 0.01


def test_the_made_up_chart_has_the_colours_of_the_reference_and_its_copies_are_near() -> None:
    true = lab_d65_from_reflectance(optics.chart_reflectance())
    assert np.abs(true - shipped().lab_d65).max() < 1e-6
    copy = lab_d65_from_reflectance(optics.printed_chart(np.random.default_rng(2)))
    assert 0.2 < float(delta_e_00(true, copy).mean()) < 1.2


def test_a_placement_strays_from_its_site_as_the_measured_repeats_do() -> None:
    random = np.random.default_rng(3)
    for name in ("very light", "dark"):
        skin = skins.skin_of(name, random)
        shown = lab_d65_from_reflectance(np.stack([skins.placed(skin, random) for _ in range(80)]))
        away = float(delta_e_00(lab_d65_from_reflectance(skin), shown).mean())
        # 0.64 from the mean of three placements is sqrt(3/2) of that from the mean of many.
        assert away == pytest.approx(0.64 * np.sqrt(1.5), rel=0.2)


def test_readings_of_six_skins_are_near_the_truth_and_not_surer_than_they_may_be() -> None:
    read = [outcome for outcome in sampled(SEED, 1, 800, placed=True) if outcome.reported is not None]
    assert len(read) >= 5
    assert np.median([outcome.error for outcome in read]) < 1.5
    assert np.median([outcome.high - outcome.low for outcome in read]) < 4.5
    count = 3 * len(read)
    assert chi2.ppf(0.005, count) / count < axis_spread(read) < chi2.ppf(0.995, count) / count


def test_a_scar_narrower_than_three_edge_widths_is_not_measured() -> None:
    random = np.random.default_rng(5)
    soft = replace(look_at_random(random, 1000), blur_px=1.4)
    photo = render(random, "light", 8.0, width_mm=1.0, look=soft)
    outcome = outcome_of(photo, placed=True)
    assert outcome.reported is None
    assert "too_narrow" in outcome.refused_for


@pytest.mark.long
def test_intervals_hold_the_truth_nine_times_in_ten() -> None:
    found = sampled(SEED + 1, 6, 1000)
    read = [outcome for outcome in found if outcome.reported is not None]
    figures = figures_of(SEED + 1, found)
    assert figures.refused_share < 0.15
    assert figures.median_error_delta_e_00 < 1.0
    assert figures.p95_error_delta_e_00 < 3.5
    # As many as can be expected when 85 to 95 of 100 intervals hold the truth; one sample in a hundred falls outside.
    fewest = binom.ppf(0.01, len(read), 0.85)
    assert fewest <= round(held_share(read) * len(read)) <= binom.ppf(0.99, len(read), 0.95)
    # The sample is large enough to tell: intervals half as wide would not pass.
    assert held_if_scaled(read, 0.5) < fewest
    # Errors on the axes are as large as is said of them, within a third.
    assert 0.67 < axis_spread(read) < 1.33
