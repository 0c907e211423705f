"""What of a photo counts as scar and as skin, and what is said when too little is left."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from app.colour.calibration import Calibration, calibrate
from app.colour.chart import chart_from_corners
from app.colour.measure import measure
from app.colour.mottling import blocks_of, sampling_covariances, variogram
from app.colour.pieces import Piece
from app.colour.reading import Reading
from app.colour.regions import border_width_px, photo_edge_width_px, sample, scar_mask, skin_mask
from app.colour.spaces import ByteArray, FloatArray
from tests.colour.scenes import CHART_CORNERS, photo_of, plain_camera, scar_outline, skin_outline

SKIN = np.array([65.0, 10.0, 16.0])
SCAR = SKIN + np.array([6.0, -1.5, -4.0])


def box(left: float, top: float, right: float, bottom: float) -> FloatArray:
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=np.float64)


@pytest.fixture(scope="module")
def photo() -> ByteArray:
    return photo_of(SCAR, SKIN, plain_camera(), np.random.default_rng(1))


@pytest.fixture(scope="module")
def calibration(photo: ByteArray) -> Calibration:
    return calibrate(chart_from_corners(photo, CHART_CORNERS))


def levels(reading: Reading) -> dict[str, str]:
    return {finding.code: finding.level for finding in reading.findings if finding.level != "pass"}


def test_a_scar_is_shrunk_by_the_edge_width_all_round() -> None:
    found = scar_mask((box(10, 10, 60, 60),), 6.0, 100, 100)
    rows, columns = np.nonzero(found.inside)
    assert (rows.min(), rows.max(), columns.min(), columns.max()) == (6, 44, 6, 44)
    assert found.widest_px == pytest.approx(51, abs=1)


@pytest.mark.parametrize(("wide", "is_kept"), [(16, False), (19, True)])
def test_a_piece_narrower_than_three_edge_widths_is_left_out(wide: int, is_kept: bool) -> None:
    strip = box(10, 10, 80, 10 + wide - 1)
    assert bool(scar_mask((strip,), 6.0, 100, 100).inside.any()) == is_kept


def test_a_hole_belongs_to_the_skin_and_not_to_the_scar() -> None:
    ring = Piece(box(10, 10, 90, 90), (box(40, 40, 60, 60),))
    assert not scar_mask((ring,), 3.0, 100, 100).inside[40, 40]
    skin = skin_mask((box(0, 0, 99, 99),), (ring,), 3.0, 100, 100)
    assert skin.inside[50 - skin.box[1], 50 - skin.box[0]]
    assert not skin.inside[20, 20]


def test_skin_is_kept_an_edge_width_away_from_the_scar() -> None:
    skin = skin_mask((box(0, 0, 99, 99),), (box(40, 40, 60, 60),), 8.0, 100, 100)
    assert not skin.inside[50, 67]
    assert skin.inside[50, 70]


def test_glare_and_cut_off_pixels_are_not_sampled() -> None:
    picture = np.full((60, 60, 3), (200, 150, 120), np.uint8)
    picture[20:22, 20:30] = (252, 249, 247)
    picture[40, 20:30] = (254, 150, 120)
    region = sample(picture, scar_mask((box(5, 5, 55, 55),), 2.0, 60, 60))
    assert region.glare > 0
    assert region.clipped > 0
    assert region.srgb8.max() == 200


def test_the_edge_width_grows_with_the_photo_and_is_never_below_what_jpeg_keeps() -> None:
    assert photo_edge_width_px(3.0, 4000, 3000) == 12
    assert photo_edge_width_px(1.0, 1000, 800) == 2
    assert photo_edge_width_px(None, 1000, 800) == 3.5


@pytest.mark.parametrize("sigma", [1.5, 4.0])
def test_the_border_of_a_scar_shows_how_soft_the_photo_is_there(sigma: float) -> None:
    picture = np.full((200, 200, 3), 120, np.uint8)
    picture[50:150, 50:150] = 180
    soft = np.asarray(cv2.GaussianBlur(picture, (0, 0), sigma))
    square = (Piece(box(48, 52, 150, 150)),)
    assert border_width_px(soft, square, 3.0) == pytest.approx(2.563 * sigma, rel=0.35)
    assert border_width_px(np.full((200, 200, 3), 120, np.uint8), square, 3.0) is None


def test_a_scar_too_narrow_is_kept_unmeasured_with_what_to_do(photo: ByteArray, calibration: Calibration) -> None:
    thin = box(480, 195, 520, 200)
    reading = measure(photo, (thin,), (skin_outline(),), calibration)
    assert reading.state == "unmeasured"
    assert levels(reading)["too_narrow"] == "keep_unmeasured"
    assert all(finding.next_time for finding in reading.findings if finding.level != "pass")
    both = measure(photo, (thin - 60, scar_outline(0.7)), (skin_outline(),), calibration)
    assert levels(both)["too_narrow"] == "caution"
    assert both.delta_e_00 is not None


def test_an_outline_drawn_over_the_edge_reads_the_same_colour(photo: ByteArray, calibration: Calibration) -> None:
    inside, on = (measure(photo, (scar_outline(shrink),), (skin_outline(),), calibration) for shrink in (0.8, 1.03))
    assert on.lab_scar == pytest.approx(inside.lab_scar, abs=0.3)


def test_a_soft_border_is_said_and_more_of_the_rim_left_out(photo: ByteArray, calibration: Calibration) -> None:
    soft = photo.copy()
    soft[:, 400:] = cv2.GaussianBlur(soft, (0, 0), 5)[:, 400:]
    reading = measure(soft, (scar_outline(1.0),), (skin_outline(),), calibration)
    assert levels(reading)["softness"] == "caution"
    assert reading.edge_width_px is not None
    assert reading.edge_width_px > 8
    assert reading.lab_scar == pytest.approx(SCAR, abs=0.8)


def test_a_photo_blurred_at_the_chart_is_kept_unmeasured(photo: ByteArray, calibration: Calibration) -> None:
    blurred = replace(calibration, chart=replace(calibration.chart, edge_width_px=7.0))
    assert measure(photo, (scar_outline(),), (skin_outline(),), blurred).state == "unmeasured"


def mottled(random: np.random.Generator, size: int = 240, wide: float = 12.0) -> FloatArray:
    """Skin (size, size) with mottles of about 2 * wide px, in some unit with a standard deviation of 1."""
    field = cv2.GaussianBlur(random.normal(size=(size, size)), (0, 0), wide)
    return np.asarray(field / field.std(), dtype=np.float64)


def test_mottles_as_large_as_the_scar_are_counted_in_its_sampling() -> None:
    """The difference of two small patches of the same mottled skin, against what it is said to scatter by."""
    random = np.random.default_rng(8)
    y, x = np.mgrid[0:240, 0:240] - 120
    scar, ring = np.hypot(x, y) < 25, (np.hypot(x, y) > 40) & (np.hypot(x, y) < 90)
    cell = (y // 8 + 15) * 30 + x // 8 + 15
    at = np.asarray(np.argwhere(np.ones((30, 30)))[:, ::-1] * 8.0 + 4, dtype=np.float64)
    z = []
    for _ in range(40):
        field = np.repeat(mottled(random)[..., None], 3, axis=2)
        values = [np.asarray(field[inside], np.float64) for inside in (scar, ring)]
        blocks = [blocks_of(one, cell[inside], at) for one, inside in zip(values, (scar, ring), strict=True)]
        said = sampling_covariances(blocks[0], blocks[1], (values[0], values[1]))[0]
        z.append((np.median(values[0][:, 0]) - np.median(values[1][:, 0])) / np.sqrt(said[0, 0]))
    assert 0.7 < np.sqrt(np.mean(np.square(z))) < 1.4


def test_a_region_of_one_block_counts_its_whole_scatter() -> None:
    one = np.random.default_rng(0).normal(size=(30, 3))
    block = blocks_of(one, np.zeros(30, dtype=np.int64), np.zeros((1, 2)))
    assert variogram((block, block)) is None
    assert sampling_covariances(block, block, (one, one))[1][0, 0] == pytest.approx(np.var(one[:, 0]))
