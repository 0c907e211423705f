"""Two one-sided tests, against a worked example and against their closed form.

Moery, Calin-Jageman 2016, study 2 (means 5.25 and 5.22, standard deviations 0.95 and 0.83, groups of 95 and 89), bound
0.384: equivalent, t(182) = -2.69, p = 0.004, as worked out by D. Lakens in the documentation of TOSTER (CRAN) and in
Social Psychological and Personality Science 8:355, 2017 (citation from memory, unchecked). With so many people
Student's t and the normal distribution used here differ by less than the figures given.
"""

import numpy as np
import pytest
from scipy.stats import norm

from app.colour.change import furthest

DIFFERENCE, BOUND = 5.25 - 5.22, 0.384
ERROR = float(np.sqrt((94 * 0.95**2 + 88 * 0.83**2) / 182 * (1 / 95 + 1 / 89)))
GREY = np.array([50.0, 0.0, 0.0])  # where a step of L* is as large in CIEDE2000


def upper_end(step: float, error: float) -> float:
    half = np.array([step / 2, 0, 0])
    return furthest(GREY - half, GREY + half, np.diag([error**2, 0, 0]))


def test_the_worked_example_is_equivalent_at_its_bound() -> None:
    assert upper_end(DIFFERENCE, ERROR) < BOUND
    # Where the upper end meets the bound at another level, that level is the p value that was given.
    z = (BOUND - DIFFERENCE) / ERROR
    assert z == pytest.approx(2.69, abs=0.01)
    assert norm.sf(z) == pytest.approx(0.004, abs=0.0005)
    assert upper_end(DIFFERENCE, ERROR * z / 1.6449) == pytest.approx(BOUND, rel=0.002)


@pytest.mark.parametrize(("step", "error"), [(0.0, 0.3), (0.5, 0.3), (-0.8, 0.2), (1.5, 1.0)])
def test_along_one_axis_the_upper_end_is_that_of_the_90_percent_interval(step: float, error: float) -> None:
    assert upper_end(step, error) == pytest.approx(abs(step) + norm.ppf(0.95) * error, rel=0.002)
