"""Charts of other layouts, placed by hand, mirrored, tilted or faded; the shipped one is in test_chart_and_geometry."""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from app.colour.calibration import Calibration, apply, calibrate
from app.colour.chart import Chart, chart_at, chart_from_corners, find_chart
from app.colour.chart_file import read_values
from app.colour.chart_plane import photo_from_chart, project, size_units, tilt_deg
from app.colour.chart_reference import ChartReference, NotAChart, faults_of, reference_of, shipped
from app.colour.difference import delta_e_00
from app.colour.grey import calibrate_grey
from app.colour.quality import findings_of_chart
from app.colour.spaces import ByteArray, FloatArray, linear_rgb_from_srgb, srgb_from_linear_rgb
from tests.colour.scenes import CHART_CORNERS, photo_of, plain_camera, random_camera

SKIN = np.array([65.0, 10.0, 16.0])


def scene(seed: int = 1, plain: bool = False) -> ByteArray:
    random = np.random.default_rng(seed)
    return photo_of(SKIN, SKIN, plain_camera() if plain else random_camera(random), random)


def own_chart(columns: int = 5, rows: int = 3) -> ChartReference:
    """A chart of another layout: five neutrals, then as many strong colours as it has room for."""
    names = [f"neutral {n}" for n in range(5)] + [f"colour {n}" for n in range(columns * rows - 5)]
    lab = [[light, 0.3, -0.4] for light in (95, 76, 57, 38, 20)]
    lab += [[35.0 + 7 * (n % 5), 28 * np.cos(n * 0.63), 28 * np.sin(n * 0.63)] for n in range(columns * rows - 5)]
    layout = {"columns": columns, "rows": rows, "names": names}
    return reference_of(json.dumps(layout), json.dumps({"lab_d65": lab}), "own 1", 20.0)


def drawn(reference: ChartReference, px: int = 44) -> tuple[ByteArray, FloatArray]:
    """A chart without gaps seen from the front, and the outer corners of its patches, in a photo with a warm tint."""
    patches = np.clip(reference.linear_rgb, 0.004, 1).reshape(reference.rows, reference.columns, 3) * [0.9, 0.8, 0.6]
    flat = np.round(255 * srgb_from_linear_rgb(patches.reshape(-1, 3))).reshape(patches.shape).astype(np.uint8)
    high, wide = reference.rows * px, reference.columns * px
    photo = np.full((high + 80, wide + 100, 3), 150, np.uint8)
    photo[40 : 40 + high, 50 : 50 + wide] = np.kron(flat, np.ones((px, px, 1), np.uint8))
    left, top = 49.5, 39.5
    return photo, np.array([[left, top], [left + wide, top], [left + wide, top + high], [left, top + high]])


def test_a_chart_of_another_layout_is_read_from_corners_placed_in_any_order() -> None:
    reference = own_chart()
    photo, corners = drawn(reference)
    assert find_chart(photo, reference) is None  # only charts of six by four are looked for
    for placed in (corners, np.roll(corners, 2, axis=0), corners[::-1], np.roll(corners[::-1], 3, axis=0) + 2.0):
        found = calibrate(chart_at(photo, placed, reference), reference)
        assert found.usable == "measured"
        assert not found.chart.is_mirrored
        assert found.loo_mean < 1
        assert np.median(delta_e_00(apply(found, found.chart.patch_srgb8 / 255), reference.lab_d65)) < 0.5
        assert Calibration.from_dict(found.to_dict()).to_dict() == found.to_dict()
    assert found.chart.edge_width_px is not None
    assert found.chart.edge_width_px < 4


def test_a_chart_read_with_the_wrong_reference_is_refused_and_another_layout_raises() -> None:
    photo, corners = drawn(own_chart(6, 4))
    assert calibrate(chart_at(photo, corners)).usable == "refused"
    with pytest.raises(ValueError, match="another reference"):
        calibrate(chart_at(photo, corners), own_chart())


def test_a_mirrored_photo_is_said_to_be_one_and_keeps_its_colours() -> None:
    mirrored = np.ascontiguousarray(scene()[:, ::-1])
    corners = CHART_CORNERS.copy()
    corners[:, 0] = scene().shape[1] - 1 - corners[:, 0]
    placed = chart_at(
        mirrored, project(photo_from_chart(corners), [[0.25, 0.25], [16.5, 0.25], [16.5, 11], [0.25, 11]])
    )
    found = find_chart(mirrored)
    assert found is not None
    for chart in (placed, found):
        assert chart.is_mirrored
        assert "mirrored" in [finding.code for finding in findings_of_chart(calibrate(chart))]
        assert np.abs(chart.patch_srgb8 - chart_from_corners(scene(), CHART_CORNERS).patch_srgb8).max() < 6


@pytest.mark.parametrize("degrees", [0, 10, 20, 30, 40])
@pytest.mark.parametrize("focal", [0.75, 1.4])
def test_the_tilt_of_a_chart_is_known_to_three_degrees(degrees: float, focal: float) -> None:
    """Pinhole views of a chart of 27 cm from 80 cm, in the middle and at the side; corners off by 0.4 px."""
    random = np.random.default_rng(0)
    wide, high = size_units() * 16
    flat = np.array([[-wide, -high, 0], [wide, -high, 0], [wide, high, 0], [-wide, high, 0]]) / 2
    for axis in np.linspace(0, 2 * np.pi, 6, endpoint=False):
        for aside in ((0, 0), (160, 80), (-160, 120)):
            turn = np.asarray(cv2.Rodrigues(np.array([np.cos(axis), np.sin(axis), 0]) * np.radians(degrees))[0])
            at = flat @ turn.T + [*aside, 800.0]
            seen = focal * 1600 * at[:, :2] / at[:, 2:] + [800, 600] + random.normal(0, 0.4, (4, 2))
            assert tilt_deg(seen, 1600, 1200) == pytest.approx(degrees, abs=3.0)


@pytest.mark.parametrize(
    ("tilt", "level"), [(None, "pass"), (19.0, "pass"), (25.0, "caution"), (41.0, "keep_unmeasured")]
)
def test_a_chart_out_of_the_plane_is_judged(tilt: float | None, level: str) -> None:
    good = calibrate(chart_from_corners(scene(plain=True), CHART_CORNERS))
    tilted = replace(good, chart=replace(good.chart, tilt_deg=tilt))
    finding = next(one for one in findings_of_chart(tilted) if one.code == "out_of_plane")
    assert finding.level == level
    assert bool(finding.next_time) == (level != "pass")


def faded(chart: Chart, red: float, green: float, blue: float) -> Chart:
    """The chart with a share of its cyan, magenta and yellow dyes gone; greys are of soot and stay."""
    light = linear_rgb_from_srgb(chart.patch_srgb8 / 255)
    white = light[18]
    light[:18] = white * (light[:18] / white) ** (1 - np.array([red, green, blue]))
    return replace(chart, patch_srgb8=255 * srgb_from_linear_rgb(light))


def paled(chart: Chart, share: float) -> Chart:
    """The chart with every colour drawn towards grey by the same share, as a matrix could."""
    light = linear_rgb_from_srgb(chart.patch_srgb8 / 255)
    balanced = light[:18] / light[18]
    grey = (balanced @ [0.2126, 0.7152, 0.0722])[:, None]
    light[:18] = (grey + (balanced - grey) * (1 - share)) * light[18]
    return replace(chart, patch_srgb8=255 * srgb_from_linear_rgb(light))


@pytest.mark.parametrize("seed", [0, 2])
def test_a_faded_chart_is_refused(seed: int) -> None:
    chart = chart_from_corners(scene(seed), CHART_CORNERS)
    assert calibrate(chart).usable == "measured"
    assert calibrate(faded(chart, 0, 0, 0.3)).usable != "measured"
    assert calibrate(faded(chart, 0.04, 0.4, 0.4)).usable == "refused"


def test_a_chart_paled_all_over_is_refused_though_leaving_out_cannot_see_it() -> None:
    chart = chart_from_corners(scene(1), CHART_CORNERS)
    half = calibrate(paled(chart, 0.5))
    assert half.loo_mean < calibrate(chart).loo_mean + 0.5
    assert half.usable == "refused"
    assert "paler" in half.reasons[0]
    assert calibrate(paled(chart, 0.3)).usable == "caution"


def test_one_grey_patch_in_a_reflection_hardly_moves_the_skin() -> None:
    chart = chart_from_corners(scene(0), CHART_CORNERS)
    light = linear_rgb_from_srgb(chart.patch_srgb8 / 255)
    light[20] *= 1.25
    shining = replace(chart, patch_srgb8=255 * srgb_from_linear_rgb(light))
    colour = [0.75, 0.6, 0.5]
    assert delta_e_00(apply(calibrate(shining), colour), apply(calibrate(chart), colour)) < 0.5


def test_a_grey_card_levels_tint_and_brightness_and_says_what_it_cannot() -> None:
    photo = scene(plain=True).astype(np.float64)
    tinted = np.round(255 * srgb_from_linear_rgb(linear_rgb_from_srgb(photo.reshape(-1, 3) / 255) * [0.9, 0.7, 0.5]))
    srgb8 = tinted.reshape(photo.shape).astype(np.uint8)
    square = project(
        photo_from_chart(CHART_CORNERS), np.array([[8.75, 8.6], [10.75, 8.6], [10.75, 10.9], [8.75, 10.9]])
    )
    found = calibrate_grey(srgb8, square, shipped().lab_d65[21])
    assert (found.level, found.usable) == ("grey", "caution")
    assert found.loo_mean > 5
    assert delta_e_00(apply(found, srgb8[200, 420] / 255), SKIN) < 4  # blotches of the skin included
    again = Calibration.from_dict(found.to_dict())
    assert again.to_dict() == found.to_dict()
    assert {one.level for one in findings_of_chart(again) if one.code == "chart"} == {"caution"}


def test_a_grey_card_that_is_none_is_refused_with_the_reason() -> None:
    square = np.array([[10.0, 10], [90, 10], [90, 90], [10, 90]])
    plain = np.full((100, 100, 3), 118, np.uint8)
    written = plain.copy()
    written[30:60, 20:80] = 20
    for photo, said in ((np.full_like(plain, 255), "over-exposed"), (plain // 30, "too dark"), (written, "not even"),
                        (plain * np.array([2, 1, 0], np.uint8) + np.uint8(5), "coloured")):  # fmt: skip
        found = calibrate_grey(photo, square)
        assert found.usable == "refused"
        assert said in " ".join(found.reasons)
    fall = np.linspace(150, 100, 100)[None, :, None].repeat(100, 0).repeat(3, 2).astype(np.uint8)
    assert calibrate_grey(fall, square).chart.light_slope[0] < -0.003
    with pytest.raises(ValueError, match="outside the photo"):
        calibrate_grey(plain, square + 50)


LIST = "\n".join(f"patch {n},{10 + 3 * n},{n},{-n}" for n in range(4))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "The list is empty"),
        ("white,96,0", "Line 1: a name and the three numbers"),
        ("name,L,a,b\nwhite,many,0,0", "Line 2: L is “many”, which is not a number"),
        ("white,96,,0", "Line 1: a is missing"),
        ("white,196,0,0", "Line 1: L is 196"),
        ("red,50,140,0", "stronger than any paint"),
        (",50,0,0", "Line 1: the patch has no name"),
        ("red,50,0,0\nRed,50,0,0", "Line 2: “Red” stands on line 1 already"),
        ("red,nan,0,0", "not a number"),
        ("\n".join("x,x,x,x" for _ in range(20)), "And 12 more lines"),
        ("\n".join("x,1,1,1" for _ in range(500)), "has 500 lines"),
    ],
)
def test_a_wrong_list_is_refused_line_by_line(text: str, said: str) -> None:
    with pytest.raises(NotAChart, match=said):
        read_values(text, "D65")


def test_lists_are_read_as_people_write_them() -> None:
    plain = read_values(LIST, "D65")
    written = "\ufeff# my chart\nb*;a*;L*;name\n" + "\n".join(
        f"{-n},0;{n},0;{10 + 3 * n},0;patch {n}".replace("-", "−") for n in range(4)
    )
    other = read_values(written, "D65")
    assert other.names == plain.names
    assert np.array_equal(other.lab_d65, plain.lab_d65)


def test_a_chart_that_cannot_carry_a_calibration_says_why() -> None:
    good = own_chart()
    values = read_values(
        "\n".join(f"{n},{a},{b},{c}" for n, (a, b, c) in zip(good.names, good.lab_d65, strict=True)), "D65"
    )
    assert faults_of(values, 5, 3) == []
    assert "make 16 patches" in faults_of(values, 4, 4)[0]
    assert "2 to 20 columns" in faults_of(values, 15, 1)[0]
    few = replace(values, names=values.names[:9], lab_d65=values.lab_d65[:9])
    assert "At least 12" in faults_of(few, 3, 3)[0]
    colourful = replace(values, names=("x", *values.names[1:]), lab_d65=values.lab_d65 + np.array([0, 20, 0]))
    assert "0 neutral patches" in faults_of(replace(colourful, names=tuple("abcdefghijklmno")), 5, 3)[0]
    dull = values.lab_d65.copy()
    dull[:5, 0] = [50, 52, 55, 57, 60]
    assert "span only 10" in faults_of(replace(values, lab_d65=dull), 5, 3)[0]
    grey = replace(
        values,
        names=tuple(f"grey {n}" for n in range(15)),
        lab_d65=np.array([[20.0 + 60 * abs(n - 7) / 7, 0, 0] for n in range(15)]),
    )
    assert "upside down" in faults_of(grey, 5, 3)[0]


def test_a_black_registered_as_darker_than_nothing_is_no_end_of_a_calibration() -> None:
    lab = shipped().lab_d65.copy()
    lab[23] = (0.3, 2.0, -2.0)  # under zero in green
    layout = {"columns": 6, "rows": 4, "names": shipped().names}
    reference = reference_of(json.dumps(layout), json.dumps({"lab_d65": lab.tolist()}))
    found = calibrate(chart_at(scene(), CHART_CORNERS, reference), reference)
    assert found.usable == "measured"
    assert np.isfinite(found.loo_mean)
