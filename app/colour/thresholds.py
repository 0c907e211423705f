"""How large a difference may be before it shows: four grades, given only together with the measured interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from app.colour.difference import Estimate
from app.colour.spaces import ita_deg

SkinClass = Literal["light", "dark"]
Grade = Literal["match", "close", "visible", "strong"]

ItaClass = Literal["very light", "light", "intermediate", "tan", "brown", "dark"]

GRADES: tuple[Grade, ...] = ("match", "close", "visible", "strong")

# Typology angles, in degrees, above which skin belongs to each class: Chardon, Cretois, Hourseau, Int. J. Cosmet.
# Sci. 13:191, 1991; Del Bino, Bernerd, Br. J. Dermatol. 169 S3:33, 2013 (limits from memory, unchecked); what lies
# below the last is "dark".
ITA_CLASSES: tuple[tuple[float, ItaClass], ...] = (
    (55.0, "very light"), (41.0, "light"), (28.0, "intermediate"), (10.0, "tan"), (-30.0, "brown"),
)

# Above this typology angle skin counts as light: limit between "intermediate" and "tan", Chardon, Cretois, Hourseau,
# Int. J. Cosmet. Sci. 13:191, 1991 (limit from memory, unchecked).
LIGHT_ABOVE_ITA_DEG = 28.0
# The skins our numbers were tried on (NIST set, 100 subjects) hold none below this typology angle: renders only.
UNTESTED_BELOW_ITA_DEG = -30.0
# Skins of the NIST set (DOI 10.18434/M38597) have hues of 40 to 69 degrees and a chroma of 14 to 24. Very dark, very
# pale and flushed skin lies further out: these far wider bounds are our choice, and only a caution hangs on them.
SKIN_HUE_DEG, SKIN_CHROMA = (15.0, 90.0), (3.0, 45.0)
# Wider than this to either side, a typology angle spans more than a class (the narrowest is 13 degrees): our choice.
VAGUE_ITA_DEG = 7.0
ITA_DRAWS = 2000


@dataclass(frozen=True, slots=True)
class Limits:
    """Largest CIEDE2000 difference (D65, 2 degree observer) that still earns each grade; above the last, "strong"."""

    match: float
    close: float
    visible: float


LIMITS: dict[SkinClass, Limits] = {
    # match: acceptability for half of observers, 2.1 light and 3.1 dark, on maxillofacial skin replicas: Paravina et
    #   al., J. Prosthodont. 18:618-625, 2009 (from memory, unchecked); 1.8 and 2.6 in the older unit on silicone
    #   digits: Leow et al., Prosthet. Orthot. Int. 2006, DOI 10.1080/03093640500465096. Rounded down.
    # close, visible: surgeons' grades of 207 scars, means of "perfect match" 4.4 and "slight mismatch" 9.6 in the
    #   older unit: Cheon, Lee, Rah, J. Craniofac. Surg. 21(3):679-684, 2010; 4.4 is about 3.3 to 4 in CIEDE2000. The
    #   step from light to dark skin is our choice, following the two studies above.
    "light": Limits(match=2.0, close=4.0, visible=8.0),
    "dark": Limits(match=3.0, close=5.0, visible=9.0),
}

# Lightness is the least tolerated axis: 0.86 L* was accepted by half of observers on faces (Univ. of Athens
# repository, uoadl:2990267); a step over 1 is named by itself.
LIGHTNESS_NAMED_FROM = 1.0


def skin_class(lab_d65: npt.ArrayLike) -> SkinClass:
    """Light or dark for choosing limits, from the skin's colour. It is fixed once per case, not per photo.

    Takes: lab_d65 (3,), D65 and 2 degree observer. Gives: "light" or "dark".
    Source: as given at LIGHT_ABOVE_ITA_DEG.

    >>> skin_class([67, 9.5, 15]), skin_class([49, 11.6, 20])
    ('light', 'dark')
    """
    return "light" if float(ita_deg(lab_d65)) > LIGHT_ABOVE_ITA_DEG else "dark"


def ita_class(ita: float) -> ItaClass:
    """Class of skin by its individual typology angle; a limit itself belongs to the darker class.

    Takes: ita in degrees, -90 to 90. Raises ValueError for what is no such angle. Source: as given at ITA_CLASSES.

    >>> ita_class(60.0), ita_class(28.0), ita_class(-31.0)
    ('very light', 'tan', 'dark')
    """
    if not -90 <= ita <= 90:
        raise ValueError("A typology angle lies between -90 and 90 degrees.")
    return next((name for limit, name in ITA_CLASSES if ita > limit), "dark")


def ita_estimate(lab_d65: npt.ArrayLike, covariance: npt.ArrayLike, seed: int = 0) -> Estimate:
    """Individual typology angle of measured skin in degrees, with its 90 % interval.

    It ignores redness; near b* = 0 it jumps from one end to the other, and the interval shows that; one L* or b*
    moves it by about 1.9 degrees on light skin. It is a label, never a score of a match.

    Takes: lab_d65 (3,), D65 and 2 degree observer; covariance (3, 3) of that colour; seed of the fixed random draws.
    Source: Chardon, Cretois, Hourseau 1991; limits as in Ly et al., J. Invest. Dermatol. 140:3-12, 2020, DOI
    10.1016/j.jid.2019.11.003.

    >>> found = ita_estimate([65, 10, 16], np.eye(3))
    >>> bool(37 < found.low < found.value < found.high < 49)
    True
    """
    lab = np.asarray(lab_d65, dtype=np.float64)
    drawn = np.random.default_rng(seed).multivariate_normal(lab, np.asarray(covariance, np.float64), ITA_DRAWS)
    low, high = np.quantile(ita_deg(drawn), [0.05, 0.95])
    value = float(ita_deg(lab))
    return Estimate(value, min(float(low), value), max(float(high), value))


def ita_words(ita: Estimate) -> str:
    """What a typology angle says of skin, with its limits.

    Takes: the angle with its interval. Gives: sentences. Source: as `ita_estimate`.

    >>> ita_words(Estimate(43.2, 40.0, 46.0))[:60]
    'Typology angle 43 degrees (40 to 46): light or intermediate.'
    """
    first, last = ita_class(ita.high), ita_class(ita.low)
    names = [name for _, name in ITA_CLASSES] + ["dark"]
    here = names.index(ita_class(ita.value))
    between = names[names.index(first) : names.index(last) + 1]
    said = names[here] if len(between) == 1 else " or ".join(
        [names[here], *(name for name in between if name != names[here])]
    )
    vague = " This photo cannot tell it more closely." if ita.high - ita.low > 2 * VAGUE_ITA_DEG else ""
    return (
        f"Typology angle {ita.value:.0f} degrees ({ita.low:.0f} to {ita.high:.0f}): {said}. It leaves redness out and "
        f"is a label for the skin, not a score of the match.{vague}"
    )


def looks_like_skin(lab_d65: npt.ArrayLike) -> bool:
    """Whether a colour can be skin's at all, so that a wrong outline or turned colours are noticed.

    Takes: lab_d65 (3,). Gives: true between yellow-red and red-yellow and neither grey nor vivid.
    Source: as given at SKIN_HUE_DEG.

    >>> looks_like_skin([67, 9.5, 15]), looks_like_skin([45, 5, -20])
    (True, False)
    """
    _, a, b = np.asarray(lab_d65, dtype=np.float64)
    hue, chroma = float(np.degrees(np.arctan2(b, a))), float(np.hypot(a, b))
    return SKIN_HUE_DEG[0] <= hue <= SKIN_HUE_DEG[1] and SKIN_CHROMA[0] <= chroma <= SKIN_CHROMA[1]


def skin_is_untested(lab_d65: npt.ArrayLike) -> bool:
    """Whether skin is darker than any our numbers were tried on; then that is said with the reading.

    Takes: lab_d65 (3,). Source: NIST skin reflectance set, DOI 10.18434/M38597.

    >>> skin_is_untested([30, 8, 9])
    True
    """
    return float(ita_deg(lab_d65)) < UNTESTED_BELOW_ITA_DEG


def grade(delta_e_00: float, skin: SkinClass) -> Grade:
    """Grade of one exact difference. A measured one has an interval: use `grade_words`.

    Takes: delta_e_00, 0 upwards; skin class. Raises ValueError below 0. Source: as given at LIMITS.

    >>> grade(2.0, "light"), grade(2.1, "light"), grade(9.1, "dark")
    ('match', 'close', 'strong')
    """
    if not delta_e_00 >= 0:
        raise ValueError("A colour difference is 0 or more.")
    limits = LIMITS[skin]
    for name, limit in zip(GRADES, (limits.match, limits.close, limits.visible), strict=False):
        if delta_e_00 <= limit:
            return name
    return "strong"


def grade_words(low: float, high: float, skin: SkinClass) -> str:
    """Every grade the 90 % interval allows, in words.

    Takes: low and high end of the interval of a CIEDE2000 difference; skin class. Gives: one grade, two joined by
    "or", or "from ... to ..."; all four means the photo cannot tell, and that is said.
    Raises ValueError when low is below 0 or above high. Source: as given at LIMITS.

    >>> grade_words(1.1, 3.6, "light")
    'match or close'
    """
    if low > high:
        raise ValueError("The low end of an interval lies above its high end.")
    first, last = GRADES.index(grade(low, skin)), GRADES.index(grade(high, skin))
    if first == last:
        return GRADES[first]
    if last - first == 1:
        return f"{GRADES[first]} or {GRADES[last]}"
    if last - first == 3:
        return "cannot be told from this photo"
    return f"from {GRADES[first]} to {GRADES[last]}"
