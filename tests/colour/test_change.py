"""Two visits compared: what is called a change, what is called settled, and what a poor photo can never say."""

from dataclasses import replace

import numpy as np
import pytest

from app.colour.change import between, change, difference_of, furthest, skin_moved
from app.colour.difference import Estimate, delta_e_00, delta_e_estimate
from app.colour.reading import Reading
from app.colour.settling import is_settled
from app.colour.spaces import FloatArray

SKIN = np.array([64.0, 9.5, 16.0])
SURE, VAGUE = np.diag([0.05, 0.05, 0.08]), np.diag([4.0, 4.0, 6.0])


def reading(*delta: float, skin: FloatArray = SKIN, covariance: FloatArray = SURE, red: float = 0.0) -> Reading:
    step = np.array(delta) + np.array([0, red, 0])
    apart = delta_e_estimate(skin, skin + step, covariance)
    half = 1.6449 * np.sqrt(np.diag(covariance))
    steps = [Estimate(float(d), float(d - h), float(d + h)) for d, h in zip(step, half, strict=True)]

    def triple(values: FloatArray) -> tuple[float, float, float]:
        return float(values[0]), float(values[1]), float(values[2])

    return Reading("measured", "", (), lab_scar=triple(skin + step), lab_skin=triple(skin), delta_e_00=apart.value,
                   low=apart.low, high=apart.high, delta_l=steps[0], delta_a=steps[1], delta_b=steps[2],
                   delta_covariance=tuple(triple(row) for row in covariance), lab_scar_se=(0.9, 0.9, 1.1),
                   lab_skin_se=(0.9, 0.9, 1.1))  # fmt: skip


def test_a_scar_that_came_closer_is_said_to_have_by_how_much_and_how() -> None:
    found = change(reading(8, -1, -4), reading(3, -0.5, -1.5))
    assert (found.direction, found.more_than_noise, found.is_darker_now) == ("closer", True, False)
    assert found.delta_l.low < -5 < found.delta_l.high
    assert found.delta_e_00.high < 0
    assert found.words.startswith("The scar is closer to the skin by ")
    assert "darker" in found.words
    assert change(reading(3, 0, -1), reading(8, 0, -4)).direction == "further"


def test_too_dark_is_named_first_even_where_it_is_the_smaller_difference() -> None:
    found = change(reading(7, -1, -3), reading(-3, 0, 0))
    assert found.direction == "overshot"
    assert found.words.startswith("Overshot: the scar is darker than the skin now, by ")
    assert "closer to the skin" in found.words
    assert change(reading(-5, 0, 0), reading(-3, 0, 0)).words.startswith("Still darker: ")


def test_two_poor_photos_show_no_change_and_no_agreement() -> None:
    poor = reading(6, 0, -2, covariance=VAGUE), reading(4, 0, -1, covariance=VAGUE)
    assert not change(*poor).more_than_noise
    found = change(*poor)
    hidden = f"a change of up to {found.moved.high:.1f} (CIEDE2000) either way could hide in it."
    assert found.words == f"Cannot be told from noise: {hidden}"
    assert is_settled(*poor, 30, 90).state == "cannot tell"
    same = poor[0], poor[0]
    assert is_settled(*same, 30, 90).state == "cannot tell"


def test_a_change_within_the_noise_that_leans_is_given_its_direction_with_perhaps_and_never_without() -> None:
    middling = np.diag([1.5, 1.5, 2.0])
    found = change(reading(8, 0, -2, covariance=middling), reading(5, 0, -2, covariance=middling))
    assert not found.more_than_noise
    assert found.words.endswith("If it moved at all, then perhaps closer to the skin, perhaps darker against it.")
    back = change(reading(5, 0, -2, covariance=middling), reading(8, 0, -2, covariance=middling))
    assert back.words.endswith("then perhaps further from the skin, perhaps lighter against it.")


def test_a_change_of_skin_and_scar_alike_is_no_change_of_the_scar() -> None:
    tanned = SKIN + np.array([-6, 2, 3])
    found = change(reading(6, 0, -2), reading(6, 0, -2, skin=tanned))
    assert not found.more_than_noise
    moved = skin_moved(reading(6, 0, -2), reading(6, 0, -2, skin=tanned))
    assert moved.more_than_noise
    assert moved.words("than in March").startswith("The skin is darker, ")
    assert skin_moved(reading(6, 0, -2), reading(6, 0, -2, skin=SKIN - np.array([1, 0, 0]))).words("than then") == ""


def test_readings_of_the_first_method_are_compared_by_their_intervals_or_errors() -> None:
    kept = reading(6, 0, -2)
    by_interval = replace(kept, delta_covariance=None)
    assert difference_of(by_interval)[1] == pytest.approx(SURE)
    by_error = replace(by_interval, delta_a=None)
    assert difference_of(by_error)[1][0, 0] == pytest.approx(2 * 0.9**2)
    assert change(by_error, kept).delta_l.value == 0
    relative = Reading("relative", "", ())
    with pytest.raises(ValueError, match="calibrated"):
        change(relative, kept)
    assert is_settled(relative, kept, 30, 90).state == "cannot tell"


@pytest.mark.parametrize(
    ("second", "apart", "since", "state", "said"),
    [
        (reading(3.1, 0, -1), 30, 90, "settled", "redness has gone"),
        (reading(3.1, 0, -1), 30, 55, "too early", "day 55"),
        (reading(3.1, 0, -1), 13, 90, "too early", "13 days apart"),
        (reading(3.1, 0, -1), 90, 90, "too early", "before the work"),
        (reading(8.0, 0, -1), 30, 90, "not settled", "still changes"),
        (reading(3.0, 0, -1, red=4.5), 30, 90, "not settled", "still red"),
        (reading(3.0, 0, -1, red=2.8), 30, 90, "not settled", "may still be red"),
        (reading(5.2, 0, -1), 30, 90, "cannot tell", "cannot tell"),
    ],
)
def test_settled_needs_time_no_redness_and_a_change_inside_the_bound(
    second: Reading, apart: int, since: int, state: str, said: str
) -> None:
    found = is_settled(reading(3, 0, -1), second, apart, since)
    assert found.state == state
    assert any(said in reason for reason in found.reasons)


def _at_bound(along: FloatArray, bound: float) -> FloatArray:
    sizes = np.linspace(0, 8, 1601)
    steps = sizes[:, None] * along / np.linalg.norm(along)
    return np.asarray(steps[np.searchsorted(delta_e_00(SKIN - steps / 2, SKIN + steps / 2), bound)])


@pytest.mark.parametrize("noise", [[0.3, 0.3, 0.5], [1.0, 0.1, 0.1], [2.0, 2.0, 2.0]])
def test_a_change_as_large_as_the_bound_passes_for_settled_once_in_twenty_at_most(noise: list[float]) -> None:
    random, covariance, count = np.random.default_rng(4), np.diag(np.square(noise)), 160
    for along in np.array([[1.0, 0, 0], [0, 0, 1], [1, -0.5, -0.6]]):
        seen = random.multivariate_normal(_at_bound(along, 2.0), covariance, count)
        passed = np.mean([furthest(SKIN - step / 2, SKIN + step / 2, covariance) <= 2 for step in seen])
        assert passed <= 0.05 + 1.6449 * np.sqrt(0.05 * 0.95 / count)
    same = random.multivariate_normal(np.zeros(3), covariance, count)
    passed = np.mean([furthest(SKIN - step / 2, SKIN + step / 2, covariance) <= 2 for step in same])
    assert passed == 0 if min(noise) > 1.9 else passed > 0.2


def test_the_change_of_a_size_is_inside_its_interval_nine_times_in_ten() -> None:
    random, first, second = np.random.default_rng(8), 6.0, 2.5
    seen = random.normal([first, second], [0.9, 0.5], (4000, 2))
    made = [between(Estimate(a, a - 1.48, a + 1.48), Estimate(b, b - 0.822, b + 0.822)) for a, b in seen]
    held = np.mean([found.low <= second - first <= found.high for found in made])
    assert 0.885 < held < 0.915
