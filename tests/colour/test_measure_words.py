"""What a reading says, keeps and compares: grades, directions, skins, references, versions, two observers."""

import json
from dataclasses import replace

import numpy as np
import pytest

from app.colour.calibration import Calibration, calibrate
from app.colour.chart import chart_from_corners
from app.colour.difference import Estimate, delta_e_00, delta_e_estimate
from app.colour.measure import measure
from app.colour.observers import between_observers
from app.colour.reading import METHOD_VERSION, Reading
from app.colour.spaces import ByteArray, FloatArray
from app.colour.statements import TOO_DARK, TOO_LIGHT
from app.colour.thresholds import ITA_CLASSES, ita_class, ita_estimate, ita_words
from tests.colour.scenes import CHART_CORNERS, photo_of, plain_camera, scar_outline, skin_outline

SKIN = np.array([65.0, 10.0, 16.0])
OUTLINES = ((scar_outline(0.9),), (skin_outline(),))


def scene(step: FloatArray, skin: FloatArray = SKIN) -> tuple[ByteArray, Calibration]:
    photo = photo_of(skin + step, skin, plain_camera(), np.random.default_rng(3))
    return photo, calibrate(chart_from_corners(photo, CHART_CORNERS))


@pytest.fixture(scope="module")
def lighter() -> tuple[ByteArray, Calibration]:
    return scene(np.array([5.0, -1.0, -3.0]))


def test_too_dark_is_not_too_light(lighter: tuple[ByteArray, Calibration]) -> None:
    light = measure(lighter[0], *OUTLINES, lighter[1])
    photo, calibration = scene(np.array([-5.0, 0.5, 1.0]))
    dark = measure(photo, *OUTLINES, calibration)
    assert TOO_LIGHT in light.statement
    assert TOO_DARK in dark.statement
    assert light.delta_l is not None
    assert dark.delta_l is not None
    assert light.delta_l.low > 0 > dark.delta_l.high
    assert TOO_DARK not in light.statement


def test_the_grade_follows_the_skin_class_fixed_for_the_case(lighter: tuple[ByteArray, Calibration]) -> None:
    own, fixed = (measure(lighter[0], *OUTLINES, lighter[1], skin_class=kind) for kind in (None, "dark"))
    assert (own.skin_class, fixed.skin_class) == ("light", "dark")
    assert (own.delta_e_00, own.low, own.high) == (fixed.delta_e_00, fixed.low, fixed.high)
    assert own.grade in own.statement
    assert fixed.share_within is not None
    assert own.share_within is not None
    assert fixed.share_within >= own.share_within


def test_a_studios_own_repeatability_narrows_or_widens_the_interval(lighter: tuple[ByteArray, Calibration]) -> None:
    own, usual, poor = (measure(lighter[0], *OUTLINES, lighter[1], repeatability=one) for one in (0.2, None, 2.5))
    widths = [reading.high - reading.low for reading in (own, usual, poor) if reading.high and reading.low is not None]
    assert widths == sorted(widths)
    assert len(set(widths)) == 3
    with pytest.raises(ValueError, match="repeatability"):
        measure(lighter[0], *OUTLINES, lighter[1], repeatability=-1.0)


def test_very_dark_skin_says_that_it_was_tried_on_renders_only() -> None:
    photo, calibration = scene(np.array([4.0, 0.0, 0.0]), np.array([34.0, 9.0, 11.0]))
    reading = measure(photo, *OUTLINES, calibration)
    assert reading.state == "caution"
    assert any("rendered photos only" in finding.message for finding in reading.findings)


def test_a_grey_card_alone_gives_a_wide_interval_and_says_so(lighter: tuple[ByteArray, Calibration]) -> None:
    photo, chart = lighter
    grey = replace(chart, level="grey", usable="caution", loo_mean=5.7, reasons=("Only a grey card.",))
    wide, usual = (measure(photo, *OUTLINES, calibration) for calibration in (grey, chart))
    assert (wide.state, wide.reference) == ("caution", "grey")
    assert "grey card alone" in wide.statement
    assert wide.high is not None
    assert usual.high is not None
    assert wide.high > usual.high


def test_a_reading_of_version_one_is_read_back_as_it_was_kept(lighter: tuple[ByteArray, Calibration]) -> None:
    kept = measure(lighter[0], *OUTLINES, lighter[1]).to_dict()
    first = list(kept)[: list(kept).index("method_version") + 1]
    old = {name: kept[name] for name in first} | {"method_version": "reading 1: as it was"}
    again = Reading.from_dict(json.loads(json.dumps(old)))
    assert again.method_version == "reading 1: as it was"
    assert again.lab_scar == tuple(kept["lab_scar"])
    assert (again.grade, again.ita_deg, again.evenness, again.reference) == ("", None, None, "chart")
    assert METHOD_VERSION.startswith("reading 2: ")


def test_the_reported_difference_is_right_half_of_the_time_and_not_too_large_for_like_colours() -> None:
    random = np.random.default_rng(6)
    covariance = np.diag([0.8, 0.7, 1.0]) ** 2
    for distance in (0.0, 4.0):
        scar = SKIN + np.array([0.8, -0.2, -0.55]) * distance
        true = float(delta_e_00(SKIN, scar))
        seen = [random.multivariate_normal(scar, covariance) for _ in range(60)]
        said = np.array([delta_e_estimate(SKIN, one, covariance, 1).value for one in seen])
        plain = np.array([float(delta_e_00(SKIN, one)) for one in seen])
        assert np.mean(said <= true + 1e-9) == pytest.approx(0.5, abs=0.16)
        assert distance > 0 or np.abs(said - true).mean() < 0.6 * np.abs(plain - true).mean()


def test_typology_angles_fall_into_the_published_classes() -> None:
    assert [limit for limit, _ in ITA_CLASSES] == [55, 41, 28, 10, -30]
    names = [ita_class(angle) for angle in (55.1, 55, 41.1, 41, 28.1, 28, 10.1, 10, -29.9, -30)]
    assert names == ["very light", "light", "light", "intermediate", "intermediate", "tan", "tan", "brown", "brown",
                     "dark"]  # fmt: skip
    for wrong in (91.0, float("nan")):
        with pytest.raises(ValueError, match="between -90 and 90"):
            ita_class(wrong)


def test_a_typology_angle_near_no_yellow_is_said_to_be_vague() -> None:
    clear, vague = ita_estimate([65, 10, 16], np.eye(3) * 0.5), ita_estimate([55, 10, 1.0], np.eye(3) * 4)
    assert "more closely" not in ita_words(clear)
    assert "more closely" in ita_words(vague)
    assert vague.low <= vague.value <= vague.high


def test_two_outlines_of_the_same_scar_agree_and_one_over_the_skin_does_not(
    lighter: tuple[ByteArray, Calibration],
) -> None:
    photo, calibration = lighter
    first = measure(photo, *OUTLINES, calibration)
    like = measure(photo, (scar_outline(0.8),), (skin_outline(),), calibration)
    astray = measure(photo, (skin_outline() - [0, 120],), (skin_outline(),), calibration)
    assert not between_observers(first, like).is_more_than_chance
    apart = between_observers(first, astray)
    assert apart.is_more_than_chance
    assert isinstance(apart.delta_l, Estimate)
    assert apart.delta_l.high < 0


def test_readings_of_two_photos_are_not_two_observers(lighter: tuple[ByteArray, Calibration]) -> None:
    reading = measure(lighter[0], *OUTLINES, lighter[1])
    for other in (replace(reading, left_out_mean=9.0), replace(reading, sampling_covariance=None)):
        with pytest.raises(ValueError, match="reading"):
            between_observers(reading, other)
