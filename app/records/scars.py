"""The words for scars: kinds, causes, padding and purposes of photos, as codes that are kept and words that are shown.

The codes of kinds and causes are those of the intake form, so that what a client declared can be taken over.
"""

from app.records.happened import happened_words
from app.records.sites import SIDE_RECORD_WORDS, SITE

SCAR_KINDS: dict[str, str] = {
    "flat_pale": "flat and paler than the skin around it",
    "fine_line": "a thin line",
    "sunken": "sunken or very thin",
    "pitted": "small deep pits",
    "stretch_pale": "stretch marks, white or silver",
    "stretch_red": "stretch marks, still pink, red or purple",
    "raised": "raised and firm",
    "dark": "darker than the skin around it",
    "lost_colour": "a patch that lost its colour",
    "other": "something else",
}
CAUSES: dict[str, str] = {
    "operation": "an operation",
    "injury": "a wound or injury",
    "burn": "heat, fire or chemicals",
    "stretching": "skin that stretched or grew",
    "illness": "an illness or spots",
    "other": "something else",
}
PADDING_WORDS: dict[str, str] = {"over_bone": "over bone", "thin": "thin", "padded": "padded"}
PADDING_HINTS: dict[str, str] = {
    "over_bone": "Bone right under the skin.",
    "thin": "Thin skin, little under it.",
    "padded": "Fat or muscle under the skin.",
}
# What a photo of a zone can be for; swatches, labels and letters come in elsewhere.
ZONE_PURPOSES: dict[str, str] = {
    "before": "before any work",
    "fresh": "fresh, on the day of work",
    "check_in": "while healing",
    "settled": "settled",
}
PURPOSE_WORDS: dict[str, str] = {**ZONE_PURPOSES, "swatch": "swatch", "label": "label", "letter": "letter"}

# The frames of one zone, from far to near (facts on photos: public guidance for photographing skin).
FRAMES: dict[str, str] = {
    "context": "where it is on the body",
    "middle": "the scar and the skin around it",
    "close": "the scar alone",
    "oblique": "its height",
}
FRAME_NAMES: dict[str, str] = {"context": "Context", "middle": "Middle", "close": "Close", "oblique": "From the side"}


def declared_words(site: str, side: str, kind: str, happened: str, words: str) -> str:
    """A declared scar in one line, e.g. "Forearm, client's left, a thin line, 2019"."""
    place = SITE[site].words if site in SITE else site
    parts = [place, _side(side), SCAR_KINDS.get(kind, ""), happened_words(happened), f"“{words}”" if words else ""]
    return ", ".join(part for part in parts if part)


def _side(side: str) -> str:
    for code, words in SIDE_RECORD_WORDS.items():
        if code == side:
            return words.replace("'", "’")
    return ""
