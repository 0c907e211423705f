"""The words of the sheet: kinds of session, technique tags, what the skin says, what tissue asks for.

Pure data in the studio's own words. Technique tags are definitions of this project, made from common practice (no
source). The tool names no needle depth and no machine setting: it keeps what was set and what came of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Technique:
    key: str
    words: str
    meaning: str


KINDS: Mapping[str, str] = {"full": "Full work", "test_spot": "Test spot", "allergy_patch": "Allergy patch"}
STATES: Mapping[str, str] = {
    "open": "Open",
    "finished": "Finished",
    "stopped": "Stopped",
    "stopped_before_work": "Stopped before work",
}
# What a clearance must reach for each kind; the grades are those of the intake.
GRADE_NEEDED: Mapping[str, int] = {"allergy_patch": 1, "test_spot": 2, "full": 3}
GRADE_WORDS = ("consultation only", "an allergy patch only", "a test spot at most", "full work")

TECHNIQUES = (
    Technique("dots", "Dots", "Separate upright dots, unevenly spaced."),
    Technique("mixed_dots", "Mixed-tone dots", "Dots in two to four neighbouring tones."),
    Technique("scattered", "Scattered first pass", "Light, spread dots, left under-filled on purpose."),
    Technique("pendulum", "Pendulum", "A swinging stroke, needle in both ways."),
    Technique("whip", "Whip", "A flick, needle in one way only, fading to nothing."),
    Technique("long_strokes", "Light long strokes", "Very light strokes along the scar’s grain."),
    Technique("cross_hatch", "Cross-hatch", "Two or more directions over each other."),
    Technique("loops", "Small loops", "Tiny circles for an even fill."),
    Technique("soft_edge", "Soft edge", "Fewer and fewer dots into the skin around."),
    Technique("freckles", "Freckles", "Uneven spots in a darker tone."),
    Technique("dry_pass", "Dry pass", "Needle without pigment."),
)
TECHNIQUE = {technique.key: technique for technique in TECHNIQUES}

FIRST_DOTS: Mapping[str, str] = {"holding": "Holding", "too_light": "Too light", "too_strong": "Too strong"}
# What is looked at before going on. Too dark is worse than too light.
FIRST_DOTS_SAID = (
    ("holding", "Holding", "Go on, and look again often."),
    ("too_light", "Too light", "Safe: it can be layered after healing."),
    ("too_strong", "Too strong", "Stop and look: too dark is worse than too light."),
)

# Both scales: common practice, no source.
REDNESS = (
    ("0", "None", "The colour can be seen as it is."),
    ("1", "Pink", "A little red is added to what you see."),
    ("2", "Red", "It hides the match: do not tune the mix by eye now."),
    ("3", "Red and swollen", "Leave this spot. Nothing seen now says how it heals."),
)
BLEEDING = (
    ("0", "None", "Nothing is washed out."),
    ("1", "Pinpoint", "Stop at the first pinpoints: deeper dots heal blurred or bluish."),
    ("2", "Wiping every pass", "Colour is carried out: expect it to heal patchy and lighter."),
    ("3", "Stopped work", "The colour here cannot be foretold. Judge it after healing."),
)
UNITS: Mapping[str, str] = {"V": "volts", "Hz": "hertz", "1/min": "strokes a minute", "step": "steps of the device"}

NEVER_A_DEPTH = "Kept as you set it. What is set is not how deep it goes, and no figure is suggested here."
NUMBING = (
    "Read the strength on the label and write it down with the area and the minutes. Count what was put on at home too."
)
OVER_BONE = "Over bone, colour holds strongly. Work lighter and look again before going on."
THIN = "Thin skin marks and bleeds sooner. Work lighter, with fewer passes."
IRRADIATED = "Irradiated skin mends slowly and tears easily. One light pass, then look."
GRAFTED = "Grafted skin takes colour unevenly. Work in small parts and leave the seam for another day."


SAME_WORDS = "The answers of last evening were read to the client today: nothing has changed."
AGREED_WORDS = "The client agrees to the work today, and knows that they may stop at any moment."


def tissue_cautions(*, padding: str, is_irradiated: bool, is_grafted: bool) -> tuple[str, ...]:
    """What the tissue of a zone asks for, as information. Common practice, no source."""
    found = ((padding == "over_bone", OVER_BONE), (padding == "thin", THIN), (is_irradiated, IRRADIATED),
             (is_grafted, GRAFTED))  # fmt: skip
    return tuple(words for holds, words in found if holds)


def side_and_place(side: str, label: str) -> str:
    """client’s RIGHT elbow: the side first and loud, and never the viewer's."""
    loud = {"left": "client’s LEFT", "right": "client’s RIGHT", "middle": "MIDLINE", "both": "client’s BOTH SIDES,"}[
        side
    ]
    place = label.strip()
    for word in ("left ", "right "):
        if place.lower().startswith(word) and len(place) > len(word):
            place = place[len(word) :]
    is_name = place[:2].isupper()
    return f"{loud} {place if is_name else place[:1].lower() + place[1:]}"
