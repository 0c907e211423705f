import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.colour.area import scale_from_chart
from app.colour.calibration import Calibration, calibrate
from app.colour.chart import chart_from_corners
from app.colour.difference import delta_e_00
from app.colour.measure import Reading, measure
from app.colour.spaces import ByteArray, FloatArray
from app.measure_command import measure_file
from tests.colour.scenes import (
    CHART_CORNERS,
    SCAR_CENTRE,
    photo_of,
    plain_camera,
    random_camera,
    scar_outline,
    skin_outline,
)

SKIN = np.array([65.0, 10.0, 16.0])
SCAR = SKIN + np.array([6.0, -1.5, -4.0])
OUTLINES = ((scar_outline(),), (skin_outline(),))
# Inner forearms of 70 people: NIST, DOI 10.18434/M38597.
NIST_LAB: FloatArray = np.genfromtxt(
    Path(__file__).parents[1] / "published" / "data" / "skin_nist_lab.csv",
    delimiter=",",
    skip_header=1,
    usecols=(1, 2, 3),
)


def scene(scar: FloatArray = SCAR, seed: int = 1, plain: bool = False) -> ByteArray:
    random = np.random.default_rng(seed)
    return photo_of(scar, SKIN, plain_camera() if plain else random_camera(random), random)


def calibration_of(photo: ByteArray) -> Calibration:
    return calibrate(chart_from_corners(photo, CHART_CORNERS))


def read(photo: ByteArray) -> Reading:
    return measure(photo, *OUTLINES, calibration_of(photo))


def test_a_perfect_photo_gives_the_true_colours_with_their_direction() -> None:
    reading = read(scene(plain=True))
    assert reading.state == "measured"
    assert reading.lab_scar == pytest.approx(SCAR, abs=0.6)
    assert reading.lab_skin == pytest.approx(SKIN, abs=0.6)
    assert reading.direction[0] == "lighter"
    assert reading.direction[-1] == "less yellow"
    assert reading.low is not None
    assert reading.high is not None
    assert reading.low < float(delta_e_00(SKIN, SCAR)) < reading.high


def test_the_same_photo_gives_the_same_reading_and_it_reads_back_whole() -> None:
    reading = read(scene())
    assert read(scene()) == reading
    assert Reading.from_dict(json.loads(json.dumps(reading.to_dict()))) == reading


@pytest.mark.long
def test_the_interval_of_the_truth_is_kept_nine_times_in_ten() -> None:
    """Random cameras, skins, scars, light and noise; each region placed anew as in the NIST set."""
    random = np.random.default_rng(1)
    held: list[bool] = []
    axes_held: list[bool] = []
    for _ in range(48):
        skin = NIST_LAB[random.integers(len(NIST_LAB))]
        towards = random.normal(size=3)
        scar = skin + towards / np.linalg.norm(towards) * random.uniform(0, 14) * [1, 0.7, 0.7]
        # 0.64 CIEDE2000 from the mean of three on the same skin is about this much in L*, a*, b*.
        placed_scar, placed_skin = (lab + random.normal(0, [0.6, 0.5, 0.75]) for lab in (scar, skin))
        photo = photo_of(placed_scar, placed_skin, random_camera(random), random)
        reading = read(photo)
        if reading.low is None or reading.high is None:
            continue
        held.append(reading.low <= float(delta_e_00(skin, scar)) <= reading.high)
        for estimate, true in zip((reading.delta_l, reading.delta_a, reading.delta_b), scar - skin, strict=True):
            assert estimate is not None
            axes_held.append(estimate.low <= true <= estimate.high)
    assert len(held) >= 40
    assert 0.84 <= np.mean(held) <= 0.97
    assert 0.84 <= np.mean(axes_held) <= 0.97


def test_equal_colours_are_never_called_different() -> None:
    reading = read(scene(scar=SKIN))
    assert reading.low == 0
    assert reading.high is not None
    assert reading.high > 0.8
    assert not [word for word in reading.direction if not word.startswith("perhaps")]


def test_without_a_chart_there_are_words_but_no_numbers() -> None:
    reading = measure(scene(), *OUTLINES, None)
    assert reading.state == "relative"
    assert reading.direction[0] == "lighter"
    assert "no colour and no size of the difference" in reading.statement
    assert (reading.lab_scar, reading.delta_e_00, reading.low, reading.delta_l) == (None, None, None, None)
    assert Reading.from_dict(json.loads(json.dumps(reading.to_dict()))) == reading


def test_without_a_chart_a_faint_difference_has_no_direction() -> None:
    reading = measure(scene(scar=SKIN + np.array([0.5, 0, 0])), *OUTLINES, None)
    assert reading.direction == ()
    assert reading.statement.startswith("No direction")


def test_a_refused_chart_counts_as_none_and_says_why() -> None:
    photo = scene()
    refused = replace(calibration_of(photo), usable="refused", reasons=("The chart is another maker's.",))
    reading = measure(photo, *OUTLINES, refused)
    assert reading.state == "relative"
    assert reading.delta_e_00 is None
    assert any("another maker" in finding.message for finding in reading.findings)


def test_an_over_exposed_scar_is_kept_unmeasured() -> None:
    photo = scene()
    photo[150:250, 460:540] = 255
    for calibration in (calibration_of(photo), None):
        reading = measure(photo, *OUTLINES, calibration)
        assert reading.state == "unmeasured"
        assert reading.direction == ()
        assert (reading.lab_scar, reading.low) == (None, None)
        assert "kept" in reading.statement


def test_a_little_glare_does_not_move_the_colour() -> None:
    photo = scene()
    before = read(photo)
    photo[195:205, 480:500] = [252, 250, 248]
    after = read(photo)
    assert after.state == before.state
    assert after.lab_scar == pytest.approx(before.lab_scar, abs=0.2)


def test_a_scar_redder_than_its_skin_is_flagged() -> None:
    reading = read(scene(scar=SKIN + np.array([0, 6, 0]), plain=True))
    assert reading.state == "caution"
    assert "redder" in reading.direction


def test_the_scar_is_cut_out_of_a_skin_outline_drawn_round_it() -> None:
    photo = scene(plain=True)
    ring = np.array([[430.0, 120.0], [570.0, 120.0], [570.0, 280.0], [430.0, 280.0]])
    reading = measure(photo, (scar_outline(1.02),), (ring,), calibration_of(photo))
    assert reading.lab_skin == pytest.approx(SKIN, abs=0.8)


def test_a_reading_needs_both_regions_and_valid_outlines() -> None:
    photo = scene()
    for scar, skin, sentence in (
        ((), OUTLINES[1], "an outline of the scar and one of the skin"),
        (OUTLINES[0], (scar_outline(0.4),), "wholly inside the scar"),
        (OUTLINES[0], (scar_outline() + 500,), "outside the photo"),
    ):
        with pytest.raises(ValueError, match=sentence):
            measure(photo, scar, skin, None)


def test_the_area_needs_a_scale() -> None:
    photo = scene()
    calibration = calibration_of(photo)
    without = measure(photo, *OUTLINES, calibration)
    assert (without.area, without.scar_area_mm2) == (None, None)
    area = measure(photo, *OUTLINES, calibration, scale_from_chart(calibration.chart, 45.0)).area
    assert area is not None
    # One pitch is about 55 px here; the outline is an oval of 34 by 47 px half axes.
    true_cm2 = np.pi * 34 * 46.75 * (45 / 55) ** 2 / 100
    assert area.cm2 == pytest.approx(true_cm2, rel=0.1)
    assert area.low < true_cm2 < area.high


def test_more_scatter_makes_a_wider_interval() -> None:
    random = np.random.default_rng(4)
    widths = []
    for texture in (0.3, 3.0):
        reading = read(photo_of(SCAR, SKIN, plain_camera(), random, texture=texture))
        assert reading.delta_l is not None
        widths.append(reading.delta_l.high - reading.delta_l.low)
    assert widths[1] > 1.05 * widths[0]


def files(folder: Path, photo: ByteArray, outlines: object) -> tuple[Path, Path]:
    photo_path, outlines_path = folder / "photo.raw", folder / "outlines.json"
    photo_path.write_bytes(photo.tobytes())
    outlines_path.write_text(outlines if isinstance(outlines, str) else json.dumps(outlines), encoding="utf-8")
    return photo_path, outlines_path


def decode(content: bytes) -> ByteArray:
    if len(content) != 400 * 640 * 3:
        raise ValueError("not a photo.")
    return np.frombuffer(content, dtype=np.uint8).reshape(400, 640, 3)


def test_the_command_measures_a_file(tmp_path: Path) -> None:
    outlines = {"scar": [scar_outline().tolist()], "skin": [skin_outline().tolist()]}
    found = measure_file(*files(tmp_path, scene(), outlines), decode)
    assert json.loads(json.dumps(found)) == found
    assert found["chart_found"]
    assert found["reading"]["state"] in ("measured", "caution")
    assert found["calibration"]["left_out_delta_e_00_mean"] < 6


@pytest.mark.parametrize(
    ("outlines", "sentence"),
    [
        ("{", "not valid JSON"),
        ("[]", "must hold"),
        ({"scar": []}, "Outline the scar"),
        ({"scar": [scar_outline().tolist()]}, "Outline the skin"),
        ({"scar": [[[0, 0], [1, 1]]], "skin": []}, "Outline of the scar: An outline has 3"),
        ({"scar": [[["a", 0], [1, 1], [2, 2]]], "skin": []}, "Outline of the scar: An outline is a list"),
        ({"scar": [[{"x": 1}]], "skin": []}, "Outline of the scar: An outline is a list"),
    ],
)
def test_the_command_refuses_bad_outlines_with_a_sentence(tmp_path: Path, outlines: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        measure_file(*files(tmp_path, scene(), outlines), decode)


def test_the_command_refuses_files_that_are_missing_or_no_photo(tmp_path: Path) -> None:
    photo_path, outlines_path = files(tmp_path, scene(), {})
    with pytest.raises(ValueError, match="cannot be opened"):
        measure_file(tmp_path / "absent.jpg", outlines_path, decode)
    photo_path.write_bytes(b"text")
    with pytest.raises(ValueError, match="cannot be read as a photo"):
        measure_file(photo_path, outlines_path, decode)


def test_the_scar_of_the_scene_lies_where_the_outline_says() -> None:
    assert np.allclose(scar_outline().mean(axis=0), SCAR_CENTRE)
