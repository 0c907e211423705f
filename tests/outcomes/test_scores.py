import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.colour.difference import Estimate
from app.outcomes.scores import VERDICTS, Group, change, compare, is_success, median_iqr, proportion


def test_few_are_told_as_few() -> None:
    assert proportion(3, 4).words == "3 of 4; with so few, anything from 30 % to 95 % would be no surprise"
    assert "so few" not in proportion(28, 40).words
    assert proportion(0, 0).words == "none yet, so nothing can be said"


@given(st.integers(0, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_holds_the_share_and_stays_within_0_and_1(counts: tuple[int, int]) -> None:
    k, n = counts
    found = proportion(k, n)
    assert 0 <= found.low <= found.high <= 1
    if n:
        assert found.low - 1e-9 <= k / n <= found.high + 1e-9


@pytest.mark.parametrize(("k", "n"), [(-1, 3), (4, 3), (0, -1)])
def test_more_than_the_whole_is_refused(k: int, n: int) -> None:
    with pytest.raises(ValueError, match="between"):
        proportion(k, n)


def test_nobody_is_put_in_order_below_thirty_finished_zones() -> None:
    found = compare([Group("C.D.", 29, 29), Group("A.B.", 10, 60)])
    assert not found.ranked
    assert [group.label for group, _ in found.rows] == ["A.B.", "C.D."]
    assert "C.D." in found.words


def test_overlapping_ranges_give_no_order() -> None:
    assert not compare([Group("A.B.", 25, 40), Group("C.D.", 28, 40)]).ranked
    assert not compare([Group("A.B.", 25, 40)]).ranked


def test_enough_zones_told_apart_are_ordered_by_their_share() -> None:
    found = compare([Group("A.B.", 10, 60), Group("C.D.", 28, 30)])
    assert found.ranked
    assert [group.label for group, _ in found.rows] == ["C.D.", "A.B."]


def test_four_verdicts_of_which_two_are_a_success() -> None:
    assert [step.key for step in VERDICTS] == ["poor", "fair", "good", "excellent"]
    assert [is_success(step.key) for step in VERDICTS] == [False, False, True, True]


def test_the_median_with_its_middle_half() -> None:
    found = median_iqr([5, 1, 3, 2, 4])
    assert found is not None
    assert (found.n, found.median, found.low, found.high) == (5, 3, 2, 4)
    one = median_iqr([2])
    assert one is not None
    assert one.words == "2, from one only"
    assert median_iqr([]) is None


def known(low: float, high: float) -> Estimate:
    return Estimate((low + high) / 2, low, high)


def test_a_change_is_named_only_when_told_apart() -> None:
    assert change(known(6, 9), known(3, 4)).words == "smaller by 2 to 6"
    assert change(known(6, 9), known(4.7, 5.9)).words == "smaller by up to 4"
    assert change(known(3, 4), known(6, 9)).words == "larger by 2 to 6"
    assert change(known(3, 6), known(5, 8)).words == "not told apart"
    assert change(known(3, 6), known(1, 4)).direction == "not told apart"


def test_photos_whose_errors_have_nothing_in_common_are_told_apart_where_their_intervals_just_meet() -> None:
    """The ends add by their squares: 1.5 and 1.5 make 2.1, not 3."""
    found = change(known(3, 6), known(0, 3))
    assert found.direction == "smaller"
    assert (found.low, found.high) == pytest.approx((3 - 1.5 * 2**0.5, 3 + 1.5 * 2**0.5))


interval = st.tuples(st.floats(0, 60), st.floats(0, 60)).map(lambda ends: known(min(ends), max(ends)))


@given(interval, interval)
def test_turning_the_order_round_turns_the_direction(before: Estimate, after: Estimate) -> None:
    turned = {"smaller": "larger", "larger": "smaller", "not told apart": "not told apart"}
    assert change(after, before).direction == turned[change(before, after).direction]


@pytest.mark.parametrize("wrong", [(4.0, 3.0), (-1.0, 2.0), (0.0, float("nan")), (0.0, float("inf"))])
def test_a_broken_interval_is_refused(wrong: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="interval"):
        change(known(*wrong), known(0, 1))
