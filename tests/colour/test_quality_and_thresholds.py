from dataclasses import replace

import numpy as np
import pytest

from app.colour.calibration import Calibration, calibrate
from app.colour.chart import Chart, chart_from_corners
from app.colour.quality import (
    Finding,
    finding_of_redness,
    findings_of_chart,
    findings_of_region,
    glare_mask,
)
from app.colour.thresholds import GRADES, LIMITS, SkinClass, grade, grade_words, skin_class, skin_is_untested
from tests.colour.scenes import CHART_CORNERS, photo_of, plain_camera

SKIN = np.array([65.0, 10.0, 16.0])


@pytest.fixture(scope="module")
def good() -> Calibration:
    photo = photo_of(SKIN, SKIN, plain_camera(), np.random.default_rng(0))
    return calibrate(chart_from_corners(photo, CHART_CORNERS))


def levels(findings: tuple[Finding, ...]) -> dict[str, str]:
    return {finding.code: finding.level for finding in findings}


def with_chart(calibration: Calibration, chart: Chart) -> Calibration:
    return replace(calibration, chart=chart)


def test_a_good_chart_passes_everything(good: Calibration) -> None:
    assert set(levels(findings_of_chart(good)).values()) == {"pass"}


@pytest.mark.parametrize(
    ("width", "level"), [(2.0, "pass"), (4.5, "caution"), (6.0, "keep_unmeasured"), (None, "caution")]
)
def test_blur_is_judged_by_the_width_of_the_borders(good: Calibration, width: float | None, level: str) -> None:
    blurred = with_chart(good, replace(good.chart, edge_width_px=width))
    assert levels(findings_of_chart(blurred))["sharpness"] == level


@pytest.mark.parametrize(("uneven", "level"), [(0.05, "pass"), (0.15, "caution"), (0.21, "keep_unmeasured")])
def test_uneven_light_is_judged(good: Calibration, uneven: float, level: str) -> None:
    lit = with_chart(good, replace(good.chart, uneven_light=uneven))
    assert levels(findings_of_chart(lit))["uneven_light"] == level


@pytest.mark.parametrize(("patches", "level"), [(0, "pass"), (2, "caution"), (4, "keep_unmeasured")])
def test_a_shadow_on_the_chart_is_judged_by_its_size(good: Calibration, patches: int, level: str) -> None:
    residual = np.zeros(24)
    residual[:patches] = -0.5
    shaded = with_chart(good, replace(good.chart, shadow_residual=residual))
    assert levels(findings_of_chart(shaded))["shadow"] == level


@pytest.mark.parametrize(
    ("count", "clipped", "glare", "expected"),
    [
        (5000, 0.0, 0.0, ("pass", "pass", "pass")),
        (1000, 0.0, 0.0, ("caution", "pass", "pass")),
        (399, 0.0, 0.0, ("keep_unmeasured", "pass", "pass")),
        (5000, 0.006, 0.0, ("pass", "keep_unmeasured", "pass")),
        (5000, 0.0, 0.06, ("pass", "pass", "keep_unmeasured")),
    ],
)
def test_a_region_is_judged(count: int, clipped: float, glare: float, expected: tuple[str, ...]) -> None:
    assert tuple(finding.level for finding in findings_of_region("scar", count, clipped, glare)) == expected


def test_whatever_is_not_passed_says_what_to_do_next_time(good: Calibration) -> None:
    bad = with_chart(good, replace(good.chart, edge_width_px=9.0, uneven_light=0.5, shadow_residual=np.full(24, 0.9)))
    found = (*findings_of_chart(bad), *findings_of_region("skin", 10, 0.5, 0.5), finding_of_redness(9))
    assert all(finding.next_time for finding in found if finding.level != "pass")
    assert [Finding.from_dict(finding.to_dict()) for finding in found] == list(found)


def test_matt_skin_has_no_glare_however_blotchy() -> None:
    random = np.random.default_rng(0)
    skin = np.array([200.0, 150.0, 120.0]) * random.normal(1, 0.05, (5000, 1))
    assert glare_mask(skin).mean() < 0.001


def test_a_redder_scar_is_flagged_only_beyond_three() -> None:
    assert finding_of_redness(3.0).level == "pass"
    assert finding_of_redness(3.1).level == "caution"
    assert finding_of_redness(-9.0).level == "pass"


@pytest.mark.parametrize("skin", ["light", "dark"])
def test_grades_change_exactly_above_their_limits(skin: SkinClass) -> None:
    limits = LIMITS[skin]
    for name, worse, limit in zip(GRADES, GRADES[1:], (limits.match, limits.close, limits.visible), strict=False):
        assert grade(limit, skin) == name
        assert grade(limit + 0.01, skin) == worse


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.0, 1.9, "match"),
        (1.0, 3.0, "match or close"),
        (3.0, 7.0, "close or visible"),
        (1.0, 7.0, "from match to visible"),
        (1.0, 12.0, "cannot be told from this photo"),
        (9.0, 14.0, "strong"),
    ],
)
def test_a_grade_names_everything_the_interval_allows(low: float, high: float, words: str) -> None:
    assert grade_words(low, high, "light") == words


def test_a_wrong_interval_has_no_grade() -> None:
    for low, high in ((3.0, 1.0), (-1.0, 2.0), (float("nan"), 1.0)):
        with pytest.raises(ValueError, match=r"colour difference|interval"):
            grade_words(low, high, "light")


def test_skin_is_classed_by_its_typology_angle_and_very_dark_skin_is_called_untested() -> None:
    assert skin_class([65, 10, 16]) == "light"
    assert skin_class([55, 11, 20]) == "dark"
    assert not skin_is_untested([45, 11, 18])
    assert skin_is_untested([32, 9, 11])
