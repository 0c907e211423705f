"""How large a difference may be before it shows: four grades, given only together with the measured interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy.typing as npt

from app.colour.spaces import ita_deg

SkinClass = Literal["light", "dark"]
Grade = Literal["match", "close", "visible", "strong"]

GRADES: tuple[Grade, ...] = ("match", "close", "visible", "strong")

# Above this typology angle skin counts as light: limit between "intermediate" and "tan", Chardon, Cretois, Hourseau,
# Int. J. Cosmet. Sci. 13:191, 1991 (limit from memory, unchecked).
LIGHT_ABOVE_ITA_DEG = 28.0
# The skins our numbers were tried on (NIST set, 100 subjects) hold none below this typology angle.
UNTESTED_BELOW_ITA_DEG = -30.0


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
