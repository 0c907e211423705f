"""The control chart of camera and light, and how well photos repeat one another."""

import numpy as np
import pytest
from scipy import stats

from app.colour.calibration import Calibration
from app.colour.grey import calibrate_grey
from app.colour.repeatability import FEWEST_DEGREES, RUN, control_chart, light_facts, pooled_repeat

SKIN = np.array([65.0, 10.0, 16.0])


def steady(count: int, seed: int = 0) -> list[float]:
    return list(np.random.default_rng(seed).normal(1.0, 0.02, count))


def test_a_steady_light_gives_no_signal() -> None:
    alarms = [len(control_chart(steady(40, seed), 0.05).signals) for seed in range(50)]
    assert np.mean(alarms) < 0.5


def test_one_day_under_another_lamp_is_outside() -> None:
    chart = control_chart([*steady(15), 1.2, *steady(4, 1)], 0.05)
    assert [(signal.kind, signal.index, signal.is_high) for signal in chart.signals] == [("outside", 15, True)]
    assert len(chart.stretches) == 1


def test_a_new_lamp_begins_a_new_stretch_from_its_first_day() -> None:
    chart = control_chart([*steady(20), *(value - 0.06 for value in steady(12, 1))], 0.05)
    rows = [signal for signal in chart.signals if signal.kind == "run"]
    assert [(signal.first, signal.index, signal.is_high) for signal in rows] == [(20, 20 + RUN - 1, False)]
    assert [(stretch.first, stretch.end) for stretch in chart.stretches] == [(0, 20), (20, 32)]
    assert chart.centre == pytest.approx(0.94, abs=0.02)


def test_a_change_too_small_to_matter_is_no_signal() -> None:
    values = [*np.linspace(0.999, 1.001, 20), *([1.004] * 12)]
    assert control_chart(values, 0.05).signals == ()
    assert control_chart(values).signals != ()


def test_seven_days_have_no_limits_and_no_day_no_chart() -> None:
    assert control_chart(steady(RUN - 1)).centre is None
    assert control_chart(steady(RUN)).centre is not None
    assert control_chart([]).centre is None
    with pytest.raises(ValueError, match="not a number"):
        control_chart([1.0, float("nan")])


def tinted(red: float, green: float, blue: float) -> Calibration:
    photo = np.full((100, 100, 3), [red, green, blue]).round().astype(np.uint8)
    return calibrate_grey(photo, [[9, 9], [90, 9], [90, 90], [9, 90]])


def test_the_light_is_described_as_the_camera_saw_it() -> None:
    even, warm, dark = (light_facts(tinted(*rgb)) for rgb in ((118, 118, 118), (130, 118, 100), (59, 59, 59)))
    assert (even.red_green, even.blue_green) == pytest.approx((1, 1), abs=0.01)
    assert even.exposure_stops == pytest.approx(0, abs=0.1)
    assert warm.red_green > 1.1
    assert warm.blue_green < 0.9
    assert dark.exposure_stops < -1.5


def test_the_pooled_scatter_is_the_one_within_groups_of_an_analysis_of_variance() -> None:
    random = np.random.default_rng(0)
    groups = [random.normal(random.normal(0, 5, 3), [1.0, 0.5, 0.8], (size, 3)) for size in (2, 3, 5, 4, 2, 6)]
    repeat = pooled_repeat([*groups, np.zeros((1, 3))], SKIN)
    assert repeat is not None
    assert (repeat.groups, repeat.photos, repeat.degrees) == (6, 22, 16)
    for axis in range(3):
        values = [group[:, axis] for group in groups]
        every, grand = np.concatenate(values), np.concatenate(values).mean()
        between = sum(len(group) * (group.mean() - grand) ** 2 for group in values)
        within = (((every - grand) ** 2).sum() - between) / 16
        assert repeat.sd_lab[axis] ** 2 == pytest.approx(within)
        assert stats.f_oneway(*values).statistic == pytest.approx(between / 5 / repeat.sd_lab[axis] ** 2)


def test_the_figure_for_one_colour_is_its_mean_distance_from_many() -> None:
    """Two colours, each off by the same scatter on all axes as CIEDE2000 weighs them near grey."""
    random = np.random.default_rng(1)
    off = random.normal(0, 0.5, (2, 4000, 3))
    groups = [(off[0] - off[1])[start : start + 4] for start in range(0, 4000, 4)]
    repeat = pooled_repeat(groups, np.array([50.0, 0.0, 0.0]))
    assert repeat is not None
    assert repeat.sd_lab == pytest.approx((0.707, 0.707, 0.707), abs=0.03)
    assert repeat.mean_delta_e_00 == pytest.approx(np.linalg.norm(off[0], axis=1).mean(), rel=0.35)


def test_few_repeats_are_not_believed() -> None:
    pair = np.array([[1.0, 0, 0], [2.0, 0, 0]])
    assert pooled_repeat([pair] * (FEWEST_DEGREES - 1), SKIN) is None
    assert pooled_repeat([], SKIN) is None


def test_the_last_days_of_the_old_lamp_are_not_counted_to_the_new_one() -> None:
    old = [*steady(18), 1.003, 1.004]  # above the middle by chance
    chart = control_chart([*old, *(value + 0.1 for value in steady(12, 1))], 0.05)
    assert [signal.first for signal in chart.signals if signal.kind == "run"] == [20]
