"""The demo's photos: found, calibrated and measured like a real photo, and right."""

import io
from functools import cache
from typing import Literal

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from app.colour.calibration import apply, calibrate
from app.colour.chart import find_chart
from app.colour.difference import delta_e_00
from app.demo.camera import Camera, Light
from app.demo.photos import Rendered, Scene, render

# Skins by class after the NIST set's means (very light to brown); the dark one is made up, as the set has none.
SCENES = {
    "very light, forearm line": Scene(101, (70.7, 8.4, 13.1), (77.0, 5.6, 8.6), "line", "forearm"),
    "light, shin patch, warm light": Scene(
        102,
        (67.3, 9.5, 14.8),
        (71.4, 8.2, 11.6),
        "patch",
        "shin",
        visit=1,
        mirrored=True,
        light=Light(1.10, 0.86, 0.85),
    ),
    "intermediate, abdomen stretch marks, uneven light": Scene(
        103, (63.0, 10.2, 18.1), (70.8, 8.0, 11.6), "stretch", "abdomen", light=Light(fall_x=0.08, fall_y=-0.05)
    ),
    "tan, chest graft": Scene(104, (56.5, 11.5, 21.1), (62.6, 10.3, 16.9), "graft", "chest", visit=2),
    "brown, abdomen burn": Scene(105, (48.9, 11.6, 19.8), (61.5, 9.6, 14.0), "burn", "abdomen", mirrored=True),
    "dark, forearm patch, nearly matched": Scene(106, (38.0, 11.0, 15.5), (40.2, 11.1, 15.4), "patch", "forearm"),
    "light, face, fresh": Scene(107, (66.0, 11.5, 15.6), (66.0, 16.5, 13.6), "line", "face_side", redness=0.8),
    "another camera": Scene(
        108,
        (43.5, 11.8, 17.5),
        (50.5, 12.6, 15.8),
        "line",
        "chest",
        camera=Camera(0.1, 0.07, 1.05, 0.94, 0.12, 2.2, 0.9),
    ),
}


def small(seed: int = 5, visit: int = 0, redness: float = 0.0, chart: Literal["classic"] | None = "classic") -> Scene:
    """A scene of a quarter of the size, for what does not depend on it."""
    return Scene(
        seed,
        (63.0, 10.2, 18.1),
        (70.0, 8.4, 12.6),
        "patch",
        width=800,
        height=600,
        visit=visit,
        redness=redness,
        chart=chart,
    )


@cache
def photo_of(name: str) -> Rendered:
    return render(SCENES[name])


def pixels(picture: NDArray[np.uint8], outline: NDArray[np.float64]) -> NDArray[np.uint8]:
    inside = np.zeros(picture.shape[:2], np.uint8)
    cv2.fillPoly(inside, [outline.astype(np.int32)], 1)
    found: NDArray[np.uint8] = picture[inside.astype(bool)]
    return found


def true_difference(rendered: Rendered) -> float:
    return float(delta_e_00(rendered.truth.skin_lab_d65, rendered.truth.scar_lab_d65))


@pytest.mark.parametrize("name", SCENES)
def test_a_rendered_photo_measures_as_it_was_painted(name: str) -> None:
    rendered = photo_of(name)
    picture = np.array(Image.open(io.BytesIO(rendered.jpeg)))
    chart = find_chart(picture)
    assert chart is not None
    calibration = calibrate(chart)
    scar, skin = (
        apply(calibration, np.median(pixels(picture, outline), axis=0) / 255)
        for outline in (rendered.scar_outline, rendered.skin_outline)
    )
    assert calibration.loo_mean < 4
    assert abs(float(delta_e_00(skin, scar)) - true_difference(rendered)) < 1.0
    assert float(delta_e_00(skin, rendered.truth.skin_lab_d65)) < 2.5
    assert float(delta_e_00(scar, rendered.truth.scar_lab_d65)) < 2.5


@pytest.mark.parametrize("name", SCENES)
def test_outlines_lie_in_the_frame_and_apart(name: str) -> None:
    scene = SCENES[name]
    rendered = photo_of(name)
    for outline in (rendered.scar_outline, rendered.skin_outline):
        assert outline.shape[0] >= 8
        assert outline.shape[1] == 2
        assert (outline >= 0).all()
        assert (outline < (scene.width, scene.height)).all()
    gaps = rendered.scar_outline[:, None] - rendered.skin_outline[None]
    millimetre = scene.width / scene.frame_mm
    assert np.hypot(gaps[..., 0], gaps[..., 1]).min() > 5 * millimetre


def test_the_same_scene_gives_the_same_bytes() -> None:
    assert render(small()).jpeg == render(small()).jpeg


def test_another_seed_gives_another_skin() -> None:
    assert render(small()).jpeg != render(small(seed=6)).jpeg


def test_another_visit_shows_the_same_scar_lying_a_little_otherwise() -> None:
    first, second = (cv2.contourArea(render(small(visit=v)).scar_outline.astype(np.float32)) for v in (0, 1))
    assert first == pytest.approx(second, rel=0.01)
    assert not np.array_equal(render(small()).scar_outline, render(small(visit=1)).scar_outline)


def test_a_photo_without_a_card_has_no_chart_to_find() -> None:
    assert find_chart(render(small(chart=None)).srgb8) is None


def test_redness_lies_round_the_scar_and_not_on_the_reference_skin() -> None:
    calm, fresh = render(small()), render(small(redness=1.0))
    scar = cv2.fillPoly(np.zeros((600, 800), np.uint8), [calm.scar_outline.astype(np.int32)], 1)
    ring = (cv2.dilate(scar, np.ones((25, 25))) - cv2.dilate(scar, np.ones((13, 13)))).astype(bool)
    green = [float(np.median(photo.srgb8[ring][:, 1])) for photo in (calm, fresh)]
    assert green[1] < green[0] - 10
    skin = [np.median(pixels(photo.srgb8, photo.skin_outline), axis=0) for photo in (calm, fresh)]
    assert np.abs(skin[0] - skin[1]).max() <= 2


def test_the_jpeg_is_small_and_says_nothing_of_a_device() -> None:
    jpeg = photo_of("light, face, fresh").jpeg
    assert len(jpeg) < 600_000
    picture = Image.open(io.BytesIO(jpeg))
    assert picture.size == (1600, 1200)
    assert not picture.getexif()
