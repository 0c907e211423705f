"""What a reading says in sentences: how large the difference is, which way it goes, and what it rests on."""

from __future__ import annotations

from app.colour.difference import WORDS, Estimate, direction_within
from app.colour.quality import Finding
from app.colour.spaces import FloatArray
from app.colour.thresholds import LIGHTNESS_NAMED_FROM, looks_like_skin, skin_is_untested

CANNOT_SAY = (
    "Without a usable colour chart in the photo no colour and no size of the difference can be given. What can be "
    "said is only how scar and skin compare within this one photo, provided the light was even."
)
UNITS = ("L*", "a*", "b*")
# Too dark and too light are not the same mistake: pigment only ever takes light away (the program's rule 12).
TOO_DARK = "The scar is too dark, not too light: more skin-toned pigment would not bring it closer."
TOO_LIGHT = "The scar is too light, not too dark: there is room towards the skin."


def said_of_difference(
    apart: Estimate, steps: tuple[Estimate, Estimate, Estimate], grade: str, reference: str
) -> str:
    """A measured difference in sentences: its size with its interval, each axis that the interval supports, the grade.

    Takes: apart, CIEDE2000; steps, scar minus skin in L*, a*, b*; grade in words; reference, "chart" or "grey".
    Gives: sentences. Source: as `direction_within`; a step of L* over 1 is named as too dark or too light, see
    thresholds.LIGHTNESS_NAMED_FROM.

    >>> wide = Estimate(0.2, -1.0, 1.4)
    >>> darker = Estimate(-4.1, -5.6, -2.6)
    >>> said_of_difference(Estimate(4.0, 2.6, 5.4), (darker, wide, wide), "close or visible", "chart")[:47]
    'The scar differs from the skin by 2.6 to 5.4 (C'
    """
    values, lows, highs = (
        [step.value for step in steps], [step.low for step in steps], [step.high for step in steps]
    )
    words = direction_within(values, lows, highs)
    size = f"The scar differs from the skin by {apart.low:.1f} to {apart.high:.1f} (CIEDE2000, 90 % interval)"
    # A step that cannot be told from none is better not put in figures that look like one.
    named = "; ".join(f"{word} {_figures(word, steps)}" for word in words)
    sentences = [
        f"{size}, most likely by about {apart.value:.1f}: {named or 'in no direction that this photo can tell'}.",
        f"Graded: {grade}.",
    ]
    if highs[0] < 0 and values[0] < -LIGHTNESS_NAMED_FROM:
        sentences.append(TOO_DARK)
    elif lows[0] > 0 and values[0] > LIGHTNESS_NAMED_FROM:
        sentences.append(TOO_LIGHT)
    if reference == "grey":
        sentences.append("The colours rest on a grey card alone, so the interval is wide.")
    sentences.append("Within this photo; the colours themselves are known less well than their difference.")
    return " ".join(sentences)


def findings_of_skin(lab_skin: FloatArray, reference: str) -> tuple[Finding, ...]:
    """What is to be kept in mind about the method on this skin and with this reference.

    Takes: lab_skin (3,), D65 and 2 degree observer; reference, "chart" or "grey". Gives: findings with the codes
    skin_untested, not_like_skin and grey_card, or none. Source: as `thresholds.skin_is_untested`.

    >>> import numpy as np
    >>> [finding.code for finding in findings_of_skin(np.array([30.0, 8.0, 9.0]), "grey")]
    ['skin_untested', 'grey_card']
    """
    found = []
    if skin_is_untested(lab_skin):
        found.append(Finding(
            "skin_untested",
            "caution",
            "Skin this dark (typology angle below -30 degrees) was tried on rendered photos only, not on measured "
            "people: the interval may be too narrow.",
        ))
    if not looks_like_skin(lab_skin):
        found.append(Finding(
            "not_like_skin",
            "caution",
            "What was outlined as skin does not have the colour of skin: something else may have been outlined, or "
            "the light or the file turned the colours.",
            "Outline plain skin beside the scar, and photograph again without filters, in white light.",
        ))
    if reference == "grey":
        found.append(Finding(
            "grey_card",
            "caution",
            "There is a grey card but no colour chart: light and exposure are set right, the camera's own colours are "
            "not. All figures are less sure.",
            "Lay a 24-patch chart beside the scar.",
        ))
    return tuple(found)


def _figures(word: str, steps: tuple[Estimate, Estimate, Estimate]) -> str:
    axis = next(number for number, pair in enumerate(WORDS) if word.removeprefix("perhaps ") in pair)
    step = steps[axis]
    signed = [f"{value:+.1f}".replace("-", "−") for value in (step.value, step.low, step.high)]
    return f"({UNITS[axis]} {signed[0]}, {signed[1]} to {signed[2]})"
