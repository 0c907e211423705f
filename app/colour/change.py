"""Two readings of one zone compared: what changed between two visits, whether it is more than noise, what has settled.

Compared is the scar's difference from its skin, after minus before: the skin round it is in the same photo and the
same light, so that a change of the lamp, the camera or the chart falls out of it. The two photos have nothing else in
common, so their covariances add. The skin's own colour is compared by itself (`skin_moved`), on the absolute
uncertainty of both photos: a tan moves the target, and with it the difference, though nothing happened to the scar.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np

from app.colour.difference import NORMAL_90, UNSAID_BELOW, Estimate, delta_e_00, delta_e_estimate, direction_within
from app.colour.reading import Reading
from app.colour.spaces import FloatArray

Direction = Literal["noise", "overshot", "closer", "further", "aside"]

# Directions in which the change is tried against a bound. The nearest lies 4 degrees off: 0.3 % of the length.
DIRECTIONS = 600
# Step in L*a*b* at which the metric of CIEDE2000 is taken: small, and well above rounding.
METRIC_STEP = 0.5
# A change of size leans when its interval includes 0 by less than this share of its width: as `direction_within`.
LEANS_BELOW = 0.25


@dataclass(frozen=True, slots=True)
class Change:
    """How the scar's difference from the skin moved between two readings, after minus before.

    delta_l, delta_a, delta_b: L*a*b* steps with their 90 % intervals; a positive delta_l means the scar became lighter
    against its skin. delta_e_00: change of the size of the difference in CIEDE2000; below 0 is closer to the skin.
    moved: how far it moved whatever the direction, CIEDE2000; `moved.high` holds in every direction.
    more_than_noise: whether two photos of an unchanged scar would move as far less than once in twenty.
    is_darker_now: whether the scar is now darker than the skin, beyond its interval.
    """

    delta_l: Estimate
    delta_a: Estimate
    delta_b: Estimate
    delta_e_00: Estimate
    moved: Estimate
    more_than_noise: bool
    direction: Direction
    is_darker_now: bool
    words: str


@dataclass(frozen=True, slots=True)
class SkinMoved:
    """How the skin itself moved, after minus before: CIEDE2000 and L*a*b* steps, and whether that is more than noise.

    how: the direction in words, "darker, yellower"; empty when it is no more than noise.
    """

    delta_e_00: Estimate
    delta_l: Estimate
    delta_a: Estimate
    delta_b: Estimate
    more_than_noise: bool
    how: str

    def words(self, than: str) -> str:
        """A sentence, "The skin is darker than ..."; empty when the move is no more than noise."""
        size = f"{_range(self.delta_e_00)} (CIEDE2000, 90 % interval)"
        return f"The skin is {self.how} {than}, by {size}." if self.how else ""


def change(before: Reading, after: Reading, seed: int = 0) -> Change:
    """What changed of a scar between two calibrated readings of the same zone.

    Takes: the earlier and the later reading, of any method version, both with colours; seed of the fixed random draws.
    Gives: Change. Raises ValueError when either reading has no colours.
    Source: covariances of independent photos add; more than noise as `difference.delta_e_estimate`; change of the size
    from the two intervals (`between`); largest move by two one-sided tests in every direction (`furthest`).

    >>> zero = ((0.2, 0.0, 0.0), (0.0, 0.2, 0.0), (0.0, 0.0, 0.2))
    >>> pale, paler = (Reading("measured", "", (), lab_scar=(scar, 9.0, 14.0), lab_skin=(64.0, 9.0, 16.0),
    ...     delta_e_00=size, low=size - 1, high=size + 1, delta_covariance=zero)
    ...     for scar, size in ((72.0, 7.0), (67.0, 3.0)))
    >>> change(pale, paler).direction
    'closer'
    """
    first, second = difference_of(before), difference_of(after)
    delta = second[0] - first[0]
    covariance = first[1] + second[1]
    # Both differences are set off from one skin, half way between the two: only the scar moves against it.
    skin = (_colour(before.lab_skin) + _colour(after.lab_skin)) / 2
    start, end = skin + first[0], skin + second[0]
    apart = delta_e_estimate(start, end, covariance, seed)
    moved = Estimate(apart.value, apart.low, max(apart.high, furthest(start, end, covariance)))
    light, red, yellow = _steps(delta, covariance)
    size = between(_size(before), _size(after))
    now = _steps(*second)[0]
    is_darker_now = now.high < 0
    more = moved.low > 0
    was_darker = _steps(*first)[0].high < 0
    towards = _direction(more, is_darker_now and not was_darker, size)
    words = _words(towards, now if is_darker_now else None, was_darker, size, (light, red, yellow), moved)
    return Change(light, red, yellow, size, moved, more, towards, is_darker_now, words)


def skin_moved(before: Reading, after: Reading, seed: int = 0) -> SkinMoved:
    """Whether the skin round a scar has another colour than it had: a tan, the season, a cream, or redness.

    Takes: the earlier and the later reading, of any method version, both with colours and their standard errors; seed
    of the fixed random draws. Gives: SkinMoved. Raises ValueError when either has none.
    Source: the colours' own standard errors, calibration included, as independent; more than noise as
    `difference.delta_e_estimate` (5 of 100 pairs of an unchanged skin).

    >>> pale, tanned = (Reading("measured", "", (), lab_scar=(72.0, 9.0, 14.0), lab_skin=skin, lab_skin_se=(1, 1, 1))
    ...     for skin in ((66.0, 9.0, 15.0), (58.0, 11.0, 19.0)))
    >>> skin_moved(pale, tanned).words("than in March")[:47]
    'The skin is darker, perhaps redder, yellower th'
    """
    first, second = _colour(before.lab_skin), _colour(after.lab_skin)
    errors = _colour(before.lab_skin_se), _colour(after.lab_skin_se)
    covariance = np.diag(errors[0] ** 2 + errors[1] ** 2)
    apart = delta_e_estimate(first, second, covariance, seed)
    light, red, yellow = _steps(second - first, covariance)
    more = apart.low > 0
    how = _named((light, red, yellow)) or "of another colour"
    return SkinMoved(apart, light, red, yellow, more, how if more else "")


def difference_of(reading: Reading) -> tuple[FloatArray, FloatArray]:
    """Scar minus skin in one reading: the step (3,) in L*a*b*, D65 and 2 degrees, and its covariance (3, 3).

    Takes: a reading of any method version. The covariance that was kept is used; where there is none it comes from the
    intervals of the three axes, and failing those from the standard errors of the two colours, which is wider.
    Raises ValueError when the reading has no colours or nothing to tell how sure they are.
    Source: half a 90 % interval is 1.6449 standard deviations of a normal distribution.
    """
    delta = _colour(reading.lab_scar) - _colour(reading.lab_skin)
    if reading.delta_covariance is not None:
        return delta, np.asarray(reading.delta_covariance, dtype=np.float64)
    steps = (reading.delta_l, reading.delta_a, reading.delta_b)
    known = [step for step in steps if step is not None]
    if len(known) == 3:
        errors = np.array([(step.high - step.low) / 2 / NORMAL_90 for step in known])
        return delta, np.diag(errors**2)
    return delta, np.diag(_colour(reading.lab_scar_se) ** 2 + _colour(reading.lab_skin_se) ** 2)


def steps_of(reading: Reading) -> tuple[Estimate, Estimate, Estimate]:
    """Scar minus skin in one reading on each axis, L*, a*, b*, with 90 % intervals; as `difference_of`."""
    return _steps(*difference_of(reading))


def between(before: Estimate, after: Estimate) -> Estimate:
    """Change of a number known twice, after minus before, from its two independent 90 % intervals.

    Takes: two estimates. Gives: the change with its 90 % interval; the two ends are added by their squares, each from
    its own side, so that a lopsided interval stays lopsided. Source: G. Y. Zou, A. Donner, Statistics in Medicine
    27:1693, 2008 (from memory, unchecked); for symmetric intervals it is the usual sum of variances.

    >>> between(Estimate(6.0, 3.0, 9.0), Estimate(2.0, -2.0, 6.0))
    Estimate(value=-4.0, low=-9.0, high=1.0)
    """
    step = after.value - before.value
    low = step - float(np.hypot(after.value - after.low, before.high - before.value))
    high = step + float(np.hypot(after.high - after.value, before.value - before.low))
    return Estimate(step, low, high)


def furthest(lab_from: FloatArray, lab_to: FloatArray, covariance: FloatArray) -> float:
    """How far a colour may have moved at most, in whichever direction: upper end at 5 % of error.

    For each direction the 95 % upper end of the step along it is taken; the largest of them is given. When it lies
    under a bound, then for every true move as large as the bound one of these one-sided tests had to be wrong, which
    happens to one pair in twenty at most, however lopsided the noise is. Noise alone keeps it above 1.64 times its own
    largest standard deviation: a wide interval never fits under a bound.

    Takes: lab_from, lab_to (3,), same white; covariance (3, 3) of the step. Gives: CIEDE2000, 0 upwards.
    Source: two one-sided tests, D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15:657, 1987; a test for each direction,
    all of which must pass: R. L. Berger, J. C. Hsu, Statistical Science 11:283, 1996 (both from memory, unchecked).

    >>> round(furthest(np.array([50.0, 0, 0]), np.array([51.0, 0, 0]), np.diag([0.25, 0, 0])), 2)
    1.82
    """
    root = _metric_root((lab_from + lab_to) / 2)
    step, spread = root @ (lab_to - lab_from), root @ covariance @ root.T
    along = _sphere(DIRECTIONS)
    error = np.sqrt(np.maximum(np.einsum("ni,ij,nj->n", along, spread, along), 0.0))
    length = float(np.linalg.norm(step))
    itself = [] if length == 0 else [length + NORMAL_90 * float(np.sqrt(step @ spread @ step)) / length]
    return float(max(*(along @ step + NORMAL_90 * error), *itself))


def _metric_root(lab_d65: FloatArray) -> FloatArray:
    """The matrix (3, 3) that turns small steps in L*a*b* at a colour into steps whose length is CIEDE2000."""
    axes = np.eye(3) * METRIC_STEP
    pairs = [(i, j) for i in range(3) for j in range(i, 3)]
    steps = np.array([axes[i] if i == j else axes[i] + axes[j] for i, j in pairs])
    squares = dict(zip(pairs, delta_e_00(lab_d65 - steps / 2, lab_d65 + steps / 2) ** 2, strict=True))
    metric = np.empty((3, 3))
    for i, j in pairs:
        shared = squares[i, j] if i == j else (squares[i, j] - squares[i, i] - squares[j, j]) / 2
        metric[i, j] = metric[j, i] = shared / METRIC_STEP**2
    values, vectors = np.linalg.eigh(metric)
    return np.asarray(np.sqrt(np.maximum(values, 0.0))[:, None] * vectors.T, dtype=np.float64)


@cache
def _sphere(count: int) -> FloatArray:
    """Directions (n, 3) spread evenly: a spiral of the golden angle."""
    at = np.arange(count) + 0.5
    polar, turn = np.arccos(1 - 2 * at / count), np.pi * (1 + 5**0.5) * at
    return np.stack([np.cos(turn) * np.sin(polar), np.sin(turn) * np.sin(polar), np.cos(polar)], axis=1)


def _colour(lab: tuple[float, float, float] | None) -> FloatArray:
    if lab is None:
        raise ValueError("Only calibrated readings can be compared: this one has no colours.")
    return np.asarray(lab, dtype=np.float64)


def _size(reading: Reading) -> Estimate:
    if reading.delta_e_00 is None or reading.low is None or reading.high is None:
        raise ValueError("Only calibrated readings can be compared: this one has no difference.")
    return Estimate(reading.delta_e_00, min(reading.low, reading.delta_e_00), max(reading.high, reading.delta_e_00))


def _steps(delta: FloatArray, covariance: FloatArray) -> tuple[Estimate, Estimate, Estimate]:
    half = NORMAL_90 * np.sqrt(np.diag(covariance))
    light, red, yellow = (Estimate(float(d), float(d - h), float(d + h)) for d, h in zip(delta, half, strict=True))
    return light, red, yellow


def _direction(more: bool, is_overshot: bool, size: Estimate) -> Direction:
    if not more:
        return "noise"
    if is_overshot:
        return "overshot"
    return "closer" if size.high < 0 else "further" if size.low > 0 else "aside"


def _words(
    towards: Direction,
    darker: Estimate | None,
    was_darker: bool,
    size: Estimate,
    steps: tuple[Estimate, Estimate, Estimate],
    moved: Estimate,
) -> str:
    """What is worst comes first: a scar that is now darker than its skin cannot be lightened by more pigment."""
    said = []
    if darker is not None:
        begin = "Still darker" if was_darker else "Overshot" if towards == "overshot" else "Darker"
        said.append(f"{begin}: the scar is darker than the skin now, by {-darker.high:.1f} to {-darker.low:.1f} L*.")
    if towards == "noise":
        hidden = f"a change of up to {moved.high:.1f} (CIEDE2000) either way could hide in it"
        said.append(f"Cannot be told from noise: {hidden}.")
        if leaning := _leaning(size, steps):
            said.append(leaning)
        return " ".join(said)
    how = _named(steps)
    against = f"; against the skin it became {how}" if how else ""
    closer = f"closer to the skin by {max(-size.high, 0):.1f} to {-size.low:.1f}"
    further = f"further from the skin by {max(size.low, 0):.1f} to {size.high:.1f}"
    moves = {
        "closer": closer,
        "further": further,
        "aside": f"neither closer nor further for sure, though it moved by {_range(moved)}",
    }
    if towards == "overshot":
        towards = "closer" if size.high < 0 else "further" if size.low > 0 else "aside"
    said.append(f"The scar is {moves[towards]} (CIEDE2000, 90 % interval){against}.")
    return " ".join(said)


def _leaning(size: Estimate, steps: tuple[Estimate, Estimate, Estimate]) -> str:
    """Where a change within the noise leans; never surer than "perhaps", though one axis alone may look sure."""
    beyond, nearer = (size.high, "closer to") if size.value < 0 else (-size.low, "further from")
    leans = beyond < LEANS_BELOW * (size.high - size.low) and abs(size.value) >= UNSAID_BELOW
    axes = _named(steps).replace("perhaps ", "")
    said = [f"perhaps {nearer} the skin"] if leans else []
    said += [f"perhaps {axes} against it" if leans else f"perhaps {axes} against the skin"] if axes else []
    return f"If it moved at all, then {', '.join(said)}." if said else ""


def _named(steps: tuple[Estimate, Estimate, Estimate]) -> str:
    words = direction_within([s.value for s in steps], [s.low for s in steps], [s.high for s in steps])
    return ", ".join(words)


def _range(size: Estimate) -> str:
    return f"{size.low:.1f} to {size.high:.1f}"

