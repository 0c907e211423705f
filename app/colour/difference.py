"""How different two colours are: CIEDE2000, its direction in words, and how sure a measured difference is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from app.colour.spaces import FloatArray

# 90 % interval: 5 % of photos may fall on either side. The level itself is a choice of this program.
TAIL = 0.05
NORMAL_90 = 1.6449  # 95 % point of the standard normal distribution
DRAWS = 300  # and as many mirrored: the error of a 5 % tail is then about 0.9 percentage points
# Row of true differences that is tried: this many, up to the measured one and this many standard deviations more.
ROW, REACH = 25, 3.0
# Upper end for two colours that agree: the size that three in four photos of equal colours stay under. Our choice.
EQUAL_UNDER = 0.75
# Below this an axis is not named: the least lightness step accepted on faces is 0.86 L* in the Univ. of Athens
# study of simulated facial skin (repository uoadl:2990267); half of it is left unsaid.
UNSAID_BELOW = 0.43

WORDS = (("lighter", "darker"), ("redder", "less red"), ("yellower", "less yellow"))


def delta_e_00(lab_1: npt.ArrayLike, lab_2: npt.ArrayLike) -> FloatArray:
    """CIEDE2000 colour difference with kL = kC = kH = 1.

    Takes: lab_1, lab_2 of shapes (3,) or (n, 3) that broadcast, same white.
    Gives: difference, shape () or (n,), 0 upwards; the order of the two does not matter.
    Source: G. Sharma, W. Wu, E. N. Dalal, Color Research and Application 30(1):21-30, 2005.

    >>> round(float(delta_e_00([50, 2.6772, -79.7751], [50, 0, -82.7485])), 4)
    2.0425
    """
    first, second = np.broadcast_arrays(np.asarray(lab_1, dtype=np.float64), np.asarray(lab_2, dtype=np.float64))
    mean_c7 = ((np.hypot(first[..., 1], first[..., 2]) + np.hypot(second[..., 1], second[..., 2])) / 2) ** 7
    g = 0.5 * (1 - np.sqrt(mean_c7 / (mean_c7 + 25.0**7)))
    a_1, a_2 = (1 + g) * first[..., 1], (1 + g) * second[..., 1]
    c_1, c_2 = np.hypot(a_1, first[..., 2]), np.hypot(a_2, second[..., 2])
    h_1 = np.degrees(np.arctan2(first[..., 2], a_1)) % 360
    h_2 = np.degrees(np.arctan2(second[..., 2], a_2)) % 360
    grey = c_1 * c_2 == 0
    turn = h_2 - h_1
    dh = np.where(grey, 0.0, np.where(turn > 180, turn - 360, np.where(turn < -180, turn + 360, turn)))
    h_sum = h_1 + h_2
    wrapped = np.where(h_sum < 360, h_sum + 360, h_sum - 360)
    mean_h = np.where(grey, h_sum, np.where(np.abs(turn) <= 180, h_sum, wrapped) / 2)
    return _weighted(first[..., 0], second[..., 0], c_1, c_2, dh, mean_h)


def _weighted(
    l_1: FloatArray, l_2: FloatArray, c_1: FloatArray, c_2: FloatArray, dh: FloatArray, mean_h: FloatArray
) -> FloatArray:
    big_h = 2 * np.sqrt(c_1 * c_2) * np.sin(np.radians(dh) / 2)
    mean_l, mean_c = (l_1 + l_2) / 2, (c_1 + c_2) / 2
    t = (
        1
        - 0.17 * np.cos(np.radians(mean_h - 30))
        + 0.24 * np.cos(np.radians(2 * mean_h))
        + 0.32 * np.cos(np.radians(3 * mean_h + 6))
        - 0.20 * np.cos(np.radians(4 * mean_h - 63))
    )
    s_l = 1 + 0.015 * (mean_l - 50) ** 2 / np.sqrt(20 + (mean_l - 50) ** 2)
    s_c, s_h = 1 + 0.045 * mean_c, 1 + 0.015 * mean_c * t
    rotation = np.sin(np.radians(60 * np.exp(-(((mean_h - 275) / 25) ** 2))))
    r_t = -2 * np.sqrt(mean_c**7 / (mean_c**7 + 25.0**7)) * rotation
    light, chroma, hue = (l_2 - l_1) / s_l, (c_2 - c_1) / s_c, big_h / s_h
    # The rotation term can take the sum a hair below 0 for equal colours in floating point.
    squared = light**2 + chroma**2 + hue**2 + r_t * chroma * hue
    return np.asarray(np.sqrt(np.maximum(squared, 0.0)), dtype=np.float64)


def direction(lab_from: npt.ArrayLike, lab_to: npt.ArrayLike) -> tuple[str, ...]:
    """Words for how the second colour differs from the first: lighter, darker, redder, yellower and so on.

    Takes: lab_from, lab_to (3,), same white. Gives: words in the order L*, a*, b*; an axis that moves by less than
    0.43 is not named. This says nothing of how sure the difference is: see `direction_within`.
    Source: the axes of ISO/CIE 11664-4:2019; the limit as given at the constant.

    >>> direction([60, 10, 15], [64, 9.9, 12])
    ('lighter', 'less yellow')
    """
    step = np.asarray(lab_to, dtype=np.float64) - np.asarray(lab_from, dtype=np.float64)
    return tuple(WORDS[axis][0 if step[axis] > 0 else 1] for axis in range(3) if abs(step[axis]) >= UNSAID_BELOW)


def direction_within(delta: npt.ArrayLike, low: npt.ArrayLike, high: npt.ArrayLike) -> tuple[str, ...]:
    """Words for a measured difference that say only what its interval supports.

    Takes: delta, low, high (3,), L*a*b* steps and their 90 % bounds. Gives: words in the order L*, a*, b*: plain
    when the interval excludes 0; with "perhaps" when it includes 0 by less than a quarter of its width (about
    4 in 5 that the sign is right); otherwise the axis is not named.
    Source: normal distribution; the quarter is a choice of this program.

    >>> direction_within([4, 0.9, 0.1], [2, -0.4, -2], [6, 2.2, 2])
    ('lighter', 'perhaps redder')
    """
    words = []
    for axis, (step, below, above) in enumerate(zip(*(np.asarray(v, float) for v in (delta, low, high)), strict=True)):
        word = WORDS[axis][0 if step > 0 else 1]
        overlap = min(above, -below) if below <= 0 <= above else 0.0
        if below > 0 or above < 0:
            words.append(word)
        elif overlap < 0.25 * (above - below) and abs(step) >= UNSAID_BELOW:
            words.append(f"perhaps {word}")
    return tuple(words)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its 90 % interval."""

    value: float
    low: float
    high: float


def delta_e_estimate(
    lab_from: npt.ArrayLike, lab_to: npt.ArrayLike, covariance: npt.ArrayLike, seed: int = 0
) -> Estimate:
    """CIEDE2000 difference between two measured colours, freed of the bias that noise adds, with its 90 % interval.

    A noisy difference is on average larger than the true one, and can never come out below 0: simply adding noise
    to what was measured would never admit that two colours are equal. So the question is turned round, for true
    differences in the direction that was seen: the low end is the smallest under which one photo in twenty would
    show a difference as large as this one; the high end the largest under which one in twenty would show one as
    small; the value is the one under which half of the photos would show a larger and half a smaller one (it is 0
    when more than half of the photos of two equal colours would show as much).

    Takes: lab_from, lab_to (3,), same white; covariance (3, 3) of the difference in L*a*b*, from all causes and with
    what they share; seed of the fixed random draws.
    Gives: Estimate, 0 <= low <= value <= high. The value is at most the plain difference of the two colours.
    Raises ValueError when the covariance is not finite.
    Source: interval by inverting a test (Neyman, Phil. Trans. R. Soc. A 236:333, 1937) and the median-unbiased
    estimate that belongs to it (both from memory, unchecked); tried in tests/colour and on the rendered truth bench.

    >>> found = delta_e_estimate([60, 10, 15], [66, 10, 15], np.eye(3) * 0.25)
    >>> bool(3.5 < found.low < found.value < found.high < 6.5)
    True
    >>> delta_e_estimate([60, 10, 15], [60.5, 10, 15], np.eye(3)).value
    0.0
    """
    start, end = np.asarray(lab_from, dtype=np.float64), np.asarray(lab_to, dtype=np.float64)
    spread = np.asarray(covariance, dtype=np.float64)
    if not np.all(np.isfinite(spread)):
        raise ValueError("The uncertainty of a colour difference must be a finite number.")
    values, vectors = np.linalg.eigh((spread + spread.T) / 2)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    noise = np.random.default_rng(seed).standard_normal((DRAWS, 3)) @ root.T
    # In pairs of opposite sign: the noise then has a mean of exactly 0.
    noise = np.concatenate([noise, -noise])
    step, seen = end - start, float(delta_e_00(start, end))

    # How large a difference photos would show (at 5, 50 and 95 of 100) for a row of true differences.
    beyond = REACH * float(np.sqrt(np.trace(spread))) / max(float(np.linalg.norm(step)), 1e-6)
    shares = np.linspace(0.0, 1.0 + beyond, ROW)
    true = start + shares[:, None] * step
    shown = delta_e_00(start, (true[:, None] + noise).reshape(-1, 3)).reshape(ROW, -1)
    rows = np.maximum.accumulate(np.quantile(shown, [TAIL, 0.5, 1 - TAIL], axis=1), axis=1)
    high, middle, low = (float(delta_e_00(start, start + np.interp(seen, row, shares) * step)) for row in rows)
    # Two colours that happen to agree better than the photo can tell are still only known to within its noise.
    return Estimate(middle, low, max(high, middle, float(np.quantile(shown[0], EQUAL_UNDER))))
