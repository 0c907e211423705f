"""A reading in drawings and words: what was kept, by whichever method, is shown as it was kept."""

import json
from datetime import UTC, date, datetime

import numpy as np
import pytest

from app.colour.difference import Estimate
from app.records.corners import checked, placed_of
from app.records.models import Reading
from app.records.photo_words import reading_words
from app.records.reading_scales import MARGIN, WIDTH, ZONE, difference_scale, direction_words, directions

# As a row of the first method holds it: no grade, no share, an area without an interval.
FIRST = {
    "state": "measured", "statement": "", "findings": [], "direction": ["lighter"], "lab_scar": [70.0, 8.0, 12.0],
    "lab_skin": [63.0, 10.0, 18.0], "lab_scar_se": [0.5, 0.3, 0.4], "lab_skin_se": [0.4, 0.3, 0.4], "delta_e_00": 7.0,
    "low": 5.9, "high": 8.3, "delta_l": {"value": 7.0, "low": 5.5, "high": 8.5}, "delta_a": None, "delta_b": None,
    "delta_covariance": None, "left_out_mean": 2.1, "scar_area_mm2": 510.0, "method_version": "reading 1: as it was",
}  # fmt: skip


def row(grade: str = "") -> Reading:
    return Reading(photo_id=1, zone_id=1, outline_set_id=1, state="measured", taken_on=date(2026, 3, 2), grade=grade,
                   read_at=datetime(2026, 3, 2, tzinfo=UTC), method_version="reading 1: as it was",
                   result=json.dumps(FIRST))  # fmt: skip


def test_a_reading_of_the_first_method_is_shown_as_it_was_kept() -> None:
    said = reading_words(row(), "light")
    assert said.heading == "Visible or strong: 5.9 to 8.3 ΔE00 apart"
    assert said.area == "5.1 cm², good to about a tenth"
    assert said.method == "reading 1: as it was"


def test_a_grade_that_was_given_stands_whatever_the_limits_are_now() -> None:
    assert reading_words(row(grade="visible"), "dark").heading.startswith("Visible: ")


def test_each_grade_has_its_own_width_and_the_bar_lies_among_them() -> None:
    scale = difference_scale(1.0, 6.0, "light")
    assert [x for x, _ in scale.limits] == [MARGIN + ZONE * n for n in range(5)]
    assert [figure for _, figure in scale.limits] == ["0", "2", "4", "8", "16"]
    assert (scale.start, scale.end) == (MARGIN + ZONE / 2, MARGIN + ZONE * 2.5)
    assert [figure for _, figure in difference_scale(1.0, 6.0, "dark").limits][1:4] == ["3", "5", "9"]


@pytest.mark.parametrize(("low", "high"), [(0.0, 0.1), (1.9, 2.1), (7.0, 30.0), (20.0, 25.0)])
def test_the_figures_of_a_bar_stay_apart_and_on_the_drawing(low: float, high: float) -> None:
    scale = difference_scale(low, high, "light")
    assert scale.high[0] - scale.low[0] >= 40
    assert 0 < scale.low[0] < scale.high[0] <= WIDTH - 14
    assert scale.is_over == (high > 16)


def test_the_sign_of_a_direction_is_said_in_words() -> None:
    assert direction_words(Estimate(4.2, 3.1, 5.3), "lighter", "darker") == "lighter by 3.1 to 5.3"
    assert direction_words(Estimate(-4.2, -5.3, -3.1), "lighter", "darker") == "darker by 3.1 to 5.3"
    assert direction_words(Estimate(0.4, -0.4, 1.2), "lighter", "darker") == "between 0.4 darker and 1.2 lighter"
    light, red, yellow = directions((Estimate(4.0, 3.0, 5.0), Estimate(0.0, -1.0, 1.0), Estimate(-2.0, -3.0, -1.0)))
    assert light.start > red.value > yellow.end
    assert (red.less, red.more) == ("less red", "redder")


def test_corners_go_round_either_way_and_never_across() -> None:
    square = np.array([[10.0, 10], [210, 10], [210, 110], [10, 110]])
    placed = checked("chart", square[[0, 3, 2, 1]], 400, 300)
    assert placed.corners.tolist() == square.tolist()
    again = placed_of(placed.text())
    assert again is not None
    assert again.corners.tolist() == square.tolist()
    for wrong, said in ((square[[0, 2, 1, 3]], "cross"), (square * 3, "outside"), (square * 0.1, "too close"),
                        (square[[0, 1, 1, 2]], "cross")):  # fmt: skip
        with pytest.raises(ValueError, match=said):
            checked("chart", wrong, 400, 300)
