"""Places on the body: the words a client reads, where they stand on the figure, and what lies beneath the skin.

Positions are fractions of the drawn figure's width and height, from its top left corner, for the client's left side.
On the front view the client's left is the viewer's right; on the back view it is the viewer's left. Padding is only
a first value for a new zone (common practice, no source): the artist feels and corrects it.
"""

from dataclasses import dataclass
from typing import Literal

View = Literal["front", "back"]
Padding = Literal["over_bone", "thin", "padded"]
Side = Literal["left", "right", "middle", "both"]

SIDE_WORDS: dict[Side, str] = {
    "left": "Your left",
    "right": "Your right",
    "middle": "In the middle",
    "both": "Both sides",
}
# What the artist reads: never "left" alone, since the viewer's left is not the client's.
SIDE_RECORD_WORDS: dict[Side, str] = {
    "left": "client's left",
    "right": "client's right",
    "middle": "midline",
    "both": "both sides",
}


@dataclass(frozen=True)
class Site:
    code: str
    words: str
    view: View
    x: float
    y: float
    padding: Padding
    sensitive: bool = False


@dataclass(frozen=True)
class Position:
    view: View
    x: float
    y: float


SITES: tuple[Site, ...] = (
    Site("scalp", "Scalp", "back", 0.47, 0.04, "over_bone"),
    Site("forehead", "Forehead", "front", 0.53, 0.045, "over_bone"),
    Site("temple", "Temple", "front", 0.55, 0.06, "thin"),
    Site("eyebrow", "Eyebrow", "front", 0.53, 0.06, "over_bone"),
    Site("eyelid", "Eyelid", "front", 0.53, 0.068, "thin"),
    Site("nose", "Nose", "front", 0.50, 0.08, "over_bone"),
    Site("cheek", "Cheek", "front", 0.54, 0.085, "padded"),
    Site("lip", "Lip", "front", 0.51, 0.098, "thin"),
    Site("chin", "Chin", "front", 0.50, 0.11, "over_bone"),
    Site("jaw", "Jaw", "front", 0.54, 0.105, "over_bone"),
    Site("ear", "Ear or earlobe", "front", 0.565, 0.08, "thin"),
    Site("neck", "Front of the neck", "front", 0.52, 0.14, "thin"),
    Site("nape", "Back of the neck", "back", 0.48, 0.14, "thin"),
    Site("shoulder", "Shoulder", "front", 0.65, 0.19, "over_bone"),
    Site("armpit", "Armpit", "front", 0.63, 0.25, "thin"),
    Site("chest", "Chest", "front", 0.55, 0.23, "over_bone"),
    Site("breast", "Breast", "front", 0.57, 0.27, "padded", sensitive=True),
    Site("nipple", "Nipple or the skin around it", "front", 0.57, 0.28, "thin", sensitive=True),
    Site("ribs", "Side of the body, over the ribs", "front", 0.61, 0.32, "over_bone"),
    Site("abdomen", "Tummy", "front", 0.53, 0.39, "padded"),
    Site("lower_abdomen", "Lower tummy", "front", 0.53, 0.45, "padded"),
    Site("groin", "Groin", "front", 0.55, 0.50, "thin", sensitive=True),
    Site("genitals", "Genital area", "front", 0.50, 0.52, "thin", sensitive=True),
    Site("hip", "Hip", "front", 0.62, 0.46, "over_bone"),
    Site("upper_arm", "Upper arm", "front", 0.69, 0.28, "padded"),
    Site("elbow", "Elbow", "back", 0.29, 0.36, "over_bone"),
    Site("inner_elbow", "Inside of the elbow", "front", 0.71, 0.36, "thin"),
    Site("forearm", "Forearm", "front", 0.73, 0.42, "padded"),
    Site("wrist", "Wrist", "front", 0.76, 0.49, "thin"),
    Site("hand", "Hand", "front", 0.78, 0.53, "over_bone"),
    Site("finger", "Finger or thumb", "front", 0.80, 0.57, "over_bone"),
    Site("upper_back", "Upper back", "back", 0.44, 0.22, "over_bone"),
    Site("lower_back", "Lower back", "back", 0.45, 0.39, "padded"),
    Site("buttock", "Buttock", "back", 0.43, 0.49, "padded", sensitive=True),
    Site("thigh", "Front or outside of the thigh", "front", 0.58, 0.60, "padded"),
    Site("inner_thigh", "Inside of the thigh", "front", 0.54, 0.58, "thin", sensitive=True),
    Site("back_thigh", "Back of the thigh", "back", 0.42, 0.60, "padded"),
    Site("knee", "Knee", "front", 0.58, 0.71, "over_bone"),
    Site("back_knee", "Back of the knee", "back", 0.42, 0.71, "thin"),
    Site("shin", "Shin", "front", 0.58, 0.81, "over_bone"),
    Site("calf", "Calf", "back", 0.42, 0.80, "padded"),
    Site("ankle", "Ankle", "front", 0.58, 0.92, "over_bone"),
    Site("foot", "Foot or toe", "front", 0.59, 0.97, "over_bone"),
)
SITE: dict[str, Site] = {site.code: site for site in SITES}

FACE_SITES = ("forehead", "temple", "eyebrow", "eyelid", "nose", "cheek", "lip", "chin", "jaw", "ear")


def position(site: Site, side: Side) -> Position:
    """Where a zone is first placed on the figure; "both" is placed on the client's left, for the artist to split."""
    if side == "middle":
        return Position(site.view, 0.5, site.y)
    if side == "right":
        return Position(site.view, round(1 - site.x, 4), site.y)
    return Position(site.view, site.x, site.y)
