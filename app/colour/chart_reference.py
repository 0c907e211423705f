"""What the patches of a chart truly are: the shipped 24-patch chart, and charts that a studio registers itself."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from app.colour.difference import delta_e_00
from app.colour.spaces import (
    DATA,
    WHITE_XYZ_D65,
    BoolArray,
    FloatArray,
    lab_d65_from_xyz_d65,
    linear_rgb_from_xyz_d65,
    xyz_d65_from_lab_d65,
)

White = Literal["D50", "D65"]

# ICC.1:2022, 7.2.16: the white of the profile connection space, which is D50 for the 2 degree observer.
WHITE_XYZ_D50: FloatArray = np.array([0.9642, 1.0, 0.8249])
# Cone-like responses of XYZ in the Bradford transform (ICC.1:2022, annex E).
BRADFORD: FloatArray = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

SHIPPED_KEY = "classic 24"
# Fifteen numbers are fitted: gain and power of each channel on the neutrals, nine for the matrix. Twelve patches leave
# as many figures again to judge the fit by; five neutrals leave two a channel, one when a patch is cut off. Our choice.
FEWEST_PATCHES, FEWEST_NEUTRALS = 12, 5
# A power cannot be told from neutrals that are all alike: our choice, of L*.
NEUTRALS_SPAN_L = 30.0
# Paint and paper sold as neutral keep to this chroma; the shipped chart's white is at 3.2 and known by its name.
NEUTRAL_CHROMA = 3.0
NEUTRAL_NAMES = re.compile(r"\b(white|black|gr[ae]y|neutral)\b", re.IGNORECASE)
# A little more than the skin of the NIST set (L* 43 to 74, a* 7 to 14, b* 11 to 22; colour findings, 3) and darker.
SKIN_LIKE_LOW, SKIN_LIKE_HIGH = (25.0, 5.0, 8.0), (80.0, 20.0, 28.0)
# Below this mean difference a chart looks the same from both ends: our choice.
TURNED_LEAST_DELTA_E_00 = 5.0
MOST_A_SIDE = 20
# Measured colours of paint: lightness from black to a white a little over the standard; chroma of the strongest paint.
LIGHTEST, STRONGEST = 105.0, 130.0


@dataclass(frozen=True, slots=True, eq=False)
class ChartReference:
    """What the patches of one chart are, row by row from its own top left.

    names: of the patches. lab_d65 (n, 3) and linear_rgb (n, 3): D65 and 2 degree observer. columns, rows: the
    layout, patches at even distances, the same both ways. neutrals, skin_like: numbers of such patches, the neutrals
    from light to dark. pitch_mm: from the middle of one patch to the next, or None when nobody measured it.
    """

    key: str
    names: tuple[str, ...]
    lab_d65: FloatArray
    linear_rgb: FloatArray
    columns: int
    rows: int
    neutrals: tuple[int, ...]
    skin_like: tuple[int, ...]
    pitch_mm: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class ChartValues:
    """Values of a chart as read from a file: names and lab_d65 (n, 3), in the order of the lines."""

    names: tuple[str, ...]
    lab_d65: FloatArray


class NotAChart(ValueError):
    """Values that cannot serve as a reference; `messages` says each thing that is wrong, for whoever typed them."""

    def __init__(self, messages: list[str]) -> None:
        super().__init__(" ".join(messages))
        self.messages = tuple(messages)


@cache
def shipped() -> ChartReference:
    """Colours of the 24-patch chart made after November 2014, D65 and 2 degree observer.

    Gives: ChartReference in the order of the chart, row by row; its pitch is not known, since it is sold in sizes.
    Source: the maker's L*a*b* values for D50, as carried in colour-science ("ColorChecker24 - After November
    2014"), adapted to D65 by the Bradford transform; data/chart_24.csv, checked in tests/published.

    >>> shipped().names[18], shipped().neutrals, shipped().skin_like
    ('white 9.5', (18, 19, 20, 21, 22, 23), (0, 1))
    """
    with (DATA / "chart_24.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    names = tuple(row["name"] for row in rows)
    lab_d65 = np.array([[float(row[k]) for k in ("l_d65", "a_d65", "b_d65")] for row in rows])
    linear_rgb = np.array([[float(row[k]) for k in ("linear_r", "linear_g", "linear_b")] for row in rows])
    return ChartReference(
        SHIPPED_KEY, names, lab_d65, linear_rgb, 6, 4, neutrals_of(names, lab_d65), skin_like_of(lab_d65)
    )


def lab_d65_from_lab_d50(lab_d50: npt.ArrayLike) -> FloatArray:
    """CIE L*a*b* for D65 of colours given for D50.

    Takes: lab_d50 (3,) or (n, 3), D50 and 2 degree observer. Gives: lab_d65 of the same shape.
    Source: Bradford transform, ICC.1:2022, annex E; checked against colour-science in tests/published.

    >>> np.abs(lab_d65_from_lab_d50([50.0, 0, 0]) - [50, 0, 0]).max() < 0.01
    np.True_
    """
    # The curve of L*a*b* is the same under any white, so XYZ as a share of its own white can be borrowed from D65.
    xyz_d50 = xyz_d65_from_lab_d65(lab_d50) / WHITE_XYZ_D65 * WHITE_XYZ_D50
    gain = (BRADFORD @ WHITE_XYZ_D65) / (BRADFORD @ WHITE_XYZ_D50)
    adapt = np.linalg.inv(BRADFORD) @ np.diag(gain) @ BRADFORD
    return lab_d65_from_xyz_d65(xyz_d50 @ adapt.T)


def neutrals_of(names: tuple[str, ...], lab_d65: FloatArray) -> tuple[int, ...]:
    """Numbers of the neutral patches, from light to dark.

    Takes: names; lab_d65 (n, 3). Gives: those with a chroma below 3, and those called so that are below 5 at least.
    Source: our choice, as said at NEUTRAL_CHROMA.

    >>> neutrals_of(("white", "red", "paper"), np.array([[96, 0, 3.5], [50, 60, 30], [90, 0, 1.0]]))
    (0, 2)
    """
    chroma = np.hypot(lab_d65[:, 1], lab_d65[:, 2])
    named = np.array([bool(NEUTRAL_NAMES.search(name)) for name in names])
    found = np.flatnonzero((chroma < NEUTRAL_CHROMA) | (named & (chroma < 5.0)))
    return tuple(int(number) for number in found[np.argsort(-lab_d65[found, 0], kind="stable")])


def skin_like_of(lab_d65: FloatArray) -> tuple[int, ...]:
    """Numbers of the patches whose colour is near to that of skin.

    Takes: lab_d65 (n, 3). Source: as given at SKIN_LIKE_LOW.

    >>> skin_like_of(np.array([[64.0, 18, 17], [50, 50, 20]]))
    (0,)
    """
    inside: BoolArray = np.all((lab_d65 >= SKIN_LIKE_LOW) & (lab_d65 <= SKIN_LIKE_HIGH), axis=1)
    return tuple(int(number) for number in np.flatnonzero(inside))


def reference_of(layout_json: str, values_json: str, key: str = "own", pitch_mm: float | None = None) -> ChartReference:
    """A chart of the studio's own as it is kept.

    Takes: layout_json with columns, rows, names; values_json with lab_d65, of each patch row by row, 2 degree
    observer; key, by which two references are told apart; pitch_mm from one patch to the next, if known.
    Gives: ChartReference. Raises NotAChart when it cannot serve as one.
    Source: the values are whoever's measured them; what is asked of them is said at the constants.

    >>> grey = shipped()
    >>> layout = json.dumps({"columns": 6, "rows": 4, "names": grey.names})
    >>> reference_of(layout, json.dumps({"lab_d65": grey.lab_d65.tolist()})).neutrals
    (18, 19, 20, 21, 22, 23)
    """
    layout, values = json.loads(layout_json), json.loads(values_json)
    read = ChartValues(tuple(layout["names"]), np.array(values["lab_d65"], dtype=np.float64).reshape(-1, 3))
    if wrong := faults_of(read, int(layout["columns"]), int(layout["rows"])):
        raise NotAChart(wrong)
    return ChartReference(
        key=key,
        names=read.names,
        lab_d65=read.lab_d65,
        linear_rgb=linear_rgb_from_xyz_d65(xyz_d65_from_lab_d65(read.lab_d65)),
        columns=int(layout["columns"]),
        rows=int(layout["rows"]),
        neutrals=neutrals_of(read.names, read.lab_d65),
        skin_like=skin_like_of(read.lab_d65),
        pitch_mm=pitch_mm,
    )


def faults_of(values: ChartValues, columns: int, rows: int) -> list[str]:
    """Why values cannot serve as a reference for a chart of that layout; nothing when they can.

    Takes: ChartValues; columns and rows of the chart. Gives: sentences for whoever typed them.
    Source: as given at the constants.

    >>> faults_of(ChartValues(shipped().names, shipped().lab_d65), 6, 4)
    []
    """
    count = len(values.names)
    if not (1 < columns <= MOST_A_SIDE and 1 < rows <= MOST_A_SIDE):
        return [f"A chart has 2 to {MOST_A_SIDE} columns and 2 to {MOST_A_SIDE} rows of patches."]
    if count != columns * rows or len(values.lab_d65) != count:
        return [f"{columns} columns and {rows} rows make {columns * rows} patches; the list has {count}."]
    if count < FEWEST_PATCHES:
        return [
            f"The chart has {count} patches. At least {FEWEST_PATCHES} are needed: fifteen figures are fitted to "
            f"them, and some must be left over to show whether the fit is right. With fewer, register a grey card."
        ]
    neutrals = list(neutrals_of(values.names, values.lab_d65))
    if len(neutrals) < FEWEST_NEUTRALS:
        return [
            f"The list has {len(neutrals)} neutral patches (chroma a*, b* below {NEUTRAL_CHROMA:.0f}, or called white, "
            f"grey, neutral or black). At least {FEWEST_NEUTRALS} are needed: the brightness curve of the camera is "
            f"read from them."
        ]
    span = float(np.ptp(values.lab_d65[neutrals, 0]))
    if span < NEUTRALS_SPAN_L:
        return [
            f"The neutral patches span only {span:.0f} of lightness; at least {NEUTRALS_SPAN_L:.0f} is needed to read "
            f"the brightness curve of the camera."
        ]
    turned = float(np.mean(delta_e_00(values.lab_d65, values.lab_d65[::-1])))
    if turned < TURNED_LEAST_DELTA_E_00:
        return ["The chart looks the same upside down, so a photo cannot tell which patch is which."]
    return []
