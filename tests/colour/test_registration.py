from functools import cache

import cv2
import numpy as np
import pytest

from app.colour.chart_plane import project
from app.colour.marker import find_marker, marker_bits, scale_of
from app.colour.registration import register
from app.colour.spaces import ByteArray, FloatArray

WIDTH, HEIGHT = 720, 540
POINTS = np.array([[180.0, 150], [540, 170], [530, 420], [190, 400]])
INNER = np.array([[260.0, 200], [460, 200], [460, 360], [260, 360]])
CARD = (40, 40)


@cache
def skin(seed: int, texture: float) -> FloatArray:
    """Skin with pores, blotches and a dozen moles."""
    random = np.random.default_rng(seed)
    light = np.zeros((HEIGHT, WIDTH))
    for size, strength in ((1.2, 3.0), (4.0, 3.0), (15.0, 4.0)):
        blotches = cv2.GaussianBlur(random.normal(0, 1, (HEIGHT, WIDTH)), (0, 0), size)
        light += texture * strength * blotches / blotches.std()
    moles = np.zeros((HEIGHT, WIDTH))
    for _ in range(12):
        at = (int(random.uniform(0, WIDTH)), int(random.uniform(0, HEIGHT)))
        cv2.circle(moles, at, int(random.integers(2, 5)), 70 * min(1.0, texture + 0.2), -1)
    light -= cv2.GaussianBlur(moles, (0, 0), 1.2)
    return np.asarray(np.array([205.0, 165, 140]) + light[..., None], dtype=np.float64)


def view(turn_deg: float = 12.0, size: float = 1.1, perspective: float = 1e-4) -> FloatArray:
    turn = np.radians(turn_deg)
    c, s = size * np.cos(turn), size * np.sin(turn)
    there = np.array([[1, 0, WIDTH / 2 + 15], [0, 1, HEIGHT / 2 - 9], [0, 0, 1]])
    back = np.array([[1, 0, -WIDTH / 2], [0, 1, -HEIGHT / 2], [0, 0, 1]])
    return np.asarray(there @ np.array([[c, -s, 0], [s, c, 0], [perspective, perspective / 2, 1]]) @ back)


def photo_of(scene: FloatArray, seen_from: FloatArray, seed: int) -> ByteArray:
    seen = cv2.warpPerspective(scene, seen_from, (WIDTH, HEIGHT), borderMode=cv2.BORDER_REFLECT)
    light = 1 + (seed % 2) * 0.08 * np.linspace(-1, 1, WIDTH)[None, :, None]
    noisy = seen * light + np.random.default_rng(seed).normal(0, 2, seen.shape)
    stored = cv2.imencode(".jpg", np.clip(noisy, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 85])[1]
    return np.asarray(cv2.imdecode(stored, cv2.IMREAD_COLOR), dtype=np.uint8)


def with_card(scene: FloatArray, left: int, top: int) -> FloatArray:
    """A card of white paper with marker 9 (60 px side) and print beside it, laid on the skin."""
    laid = scene.copy()
    laid[top : top + 110, left : left + 190] = 238
    drawn = np.kron(marker_bits(9), np.ones((10, 10), np.bool_))
    laid[top + 25 : top + 85, left + 25 : left + 85][drawn] = 25
    for line in range(6):
        laid[top + 25 + 10 * line : top + 29 + 10 * line, left + 105 : left + 175 - 9 * line] = 30
    return laid


def furthest(carried: FloatArray, turn: FloatArray, points: FloatArray) -> float:
    return float(np.linalg.norm(carried - project(turn, points), axis=1).max())


@pytest.mark.parametrize("texture", [1.0, 0.3])
def test_two_photos_of_the_same_skin_are_laid_over_one_another_by_its_detail(texture: float) -> None:
    turn = view()
    found = register(photo_of(skin(1, texture), np.eye(3), 1), photo_of(skin(1, texture), turn, 2))
    assert found.how == "features"
    assert furthest(found.carry(INNER), turn, INNER) < 1.5
    assert found.residual_px is not None
    assert found.residual_px < 1.5
    assert found.covers(INNER)
    assert not found.covers(INNER - 3000)


@pytest.mark.parametrize("texture", [1.0, 0.3])
def test_another_skin_is_refused_and_the_words_say_what_to_do(texture: float) -> None:
    found = register(photo_of(skin(1, texture), np.eye(3), 1), photo_of(skin(2, texture), view(), 2))
    assert found.how == "none"
    assert found.residual_px is None
    assert "side by side" in found.words
    with pytest.raises(ValueError, match="side by side"):
        found.carry(INNER)


def test_in_the_plane_of_the_markers_the_residual_is_said_in_mm_and_the_card_does_not_count() -> None:
    turn = view(6.0, 0.8, 2e-4)
    first = photo_of(with_card(skin(1, 1.0), *CARD), np.eye(3), 1)
    second = photo_of(with_card(skin(1, 1.0), 60, 400), turn, 2)
    planes = tuple(scale_of(find_marker(photo)[0], 20.0) for photo in (first, second))
    found = register(first, second, planes=(planes[0], planes[1]))
    assert found.how == "marker"
    assert furthest(found.carry(INNER), turn, INNER) < 2
    assert found.residual_mm is not None
    assert found.residual_mm < 0.7
    assert "mm apart" in found.words


def test_the_same_card_on_another_skin_is_no_reason_to_lay_them_over_one_another() -> None:
    first = photo_of(with_card(skin(1, 0.3), *CARD), np.eye(3), 1)
    second = photo_of(with_card(skin(2, 0.3), *CARD), view(4.0, 1.0, 0.0), 2)
    assert register(first, second).how == "none"


@pytest.mark.parametrize("count", [2, 3, 4])
def test_points_marked_by_hand_are_drawn_tight_by_the_detail(count: int) -> None:
    turn, random = view(), np.random.default_rng(count)
    here, there = (points[:count] + random.normal(0, 1.5, (count, 2)) for points in (POINTS, project(turn, POINTS)))
    photos = photo_of(skin(1, 0.3), np.eye(3), 1), photo_of(skin(1, 0.3), turn, 2)
    found = register(*photos, landmarks=(here, there))
    assert found.how == "landmarks"
    assert "drawn tight" in found.words
    assert furthest(found.carry(INNER), turn, INNER) < 1.5


def test_points_the_detail_does_not_confirm_are_kept_with_a_warning() -> None:
    turn = view()
    photos = photo_of(skin(1, 0.3), np.eye(3), 1), photo_of(skin(2, 0.3), turn, 2)
    found = register(*photos, landmarks=(POINTS, project(turn, POINTS)))
    assert found.how == "landmarks"
    assert "does not confirm" in found.words
    assert furthest(found.carry(INNER), turn, INNER) < 0.1
    assert found.residual_px is not None
    assert found.residual_px > 3


def test_points_that_do_not_belong_together_are_refused() -> None:
    photo = photo_of(skin(1, 0.3), np.eye(3), 1)
    for wrong in (POINTS[[0, 2, 1]] * [1, 0.5], POINTS[[1, 0, 2]]):
        found = register(photo, photo, landmarks=(POINTS[:3], wrong))
        assert found.how == "none"
        assert "do not belong together" in found.words
    with pytest.raises(ValueError, match="two to four points"):
        register(photo, photo, landmarks=(POINTS[:1], POINTS[:1]))
