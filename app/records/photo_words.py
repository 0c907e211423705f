"""What a photo's examination and a reading say, in words for the artist."""

import json
from dataclasses import dataclass

from app.colour.calibration import Calibration
from app.colour.difference import NORMAL_90
from app.colour.quality import Finding, findings_of_chart
from app.colour.reading import Reading as Measured
from app.colour.reading import Triple
from app.colour.spaces import lab_to_srgb8_hex
from app.colour.statements import TOO_DARK, TOO_LIGHT
from app.colour.thresholds import SkinClass, grade_words, skin_class
from app.records.models import Photo, Reading

CAN_MEASURE = "Outline the scar and the skin around it, and their colours and the difference between them are measured."
ONLY_WORDS = ("What can be said from it: how scar and skin compare within this one photo, in words, if the light was "
              "even. What cannot: a colour, the size of a difference, or a comparison with another photo.")
NO_FIGURE = ("No figure can be read from it, for the reason that stands below. Outlined, it is kept unmeasured: better "
             "take it again while the client is here.")
NOT_BETWEEN = "Nothing could be read between the corners that were placed by hand. The photo is kept."


@dataclass(frozen=True)
class ExaminationWords:
    """A heading, sentences about the chart, and findings about the light and sharpness."""

    heading: str
    sentences: tuple[str, ...]
    findings: tuple[Finding, ...]
    is_calibrated: bool


@dataclass(frozen=True)
class ReadingWords:
    """A reading as it is shown: colours as #rrggbb (None when there are none), and words."""

    heading: str
    sentence: str
    notes: tuple[str, ...]
    scar_hex: str | None
    skin_hex: str | None
    label: str
    colours: tuple[tuple[str, str, str, str], ...]  # (Scar, L*, a*, b*), each with its 90 % interval
    area: str
    findings: tuple[Finding, ...]
    method: str


def said_of(calibration: Calibration | None) -> tuple[str, ...]:
    """What was found of a chart, and what can and cannot be said from the photo."""
    if calibration is None:
        return ("No 24-patch colour chart was found in this photo. The photo is kept.", ONLY_WORDS)
    thing = "grey card" if calibration.level == "grey" else "chart"
    if calibration.usable == "refused":
        return (f"A {thing} was found, but it cannot be used.", *calibration.reasons, ONLY_WORDS)
    if calibration.level == "grey":
        return ("The photo was calibrated on a grey card.", *calibration.reasons,
                "Intervals are wider than with a colour chart.", CAN_MEASURE)
    skin = "" if calibration.loo_skin == calibration.loo_mean else f", the skin-like ones by {calibration.loo_skin:.1f}"
    missed = (f"Each patch of the chart was left out once and predicted from the others: on average they are missed by "
              f"{calibration.loo_mean:.1f} (CIEDE2000){skin}.")
    how_good = ("The colours of this photo can be trusted about that far." if calibration.usable == "measured"
                else "That is a rough fit: read the colours of this photo with caution.")
    extra = calibration.reasons if calibration.usable == "measured" else ()
    return ("A colour chart was found and the photo was calibrated on it.", missed, how_good, *extra, CAN_MEASURE)


def examination_words(photo: Photo) -> ExaminationWords:
    """The words of a photo that was examined."""
    if photo.state == "failed":
        sentences = (photo.words, "The file is kept as it came in.")
        return ExaminationWords("This file could not be opened", sentences, (), False)
    if not photo.calibration:
        said = (NOT_BETWEEN, ONLY_WORDS) if photo.placed else said_of(None)
        return ExaminationWords("No colour chart", said, (), False)
    calibration = Calibration.from_dict(json.loads(photo.calibration))
    is_grey = calibration.level == "grey"
    if calibration.usable == "refused":
        heading = "The grey card cannot be used" if is_grey else "The chart cannot be used"
        return ExaminationWords(heading, said_of(calibration), (), False)
    heading = "Calibrated on a grey card" if is_grey else "Calibrated"
    heading += "" if calibration.usable == "measured" or is_grey else ", with caution"
    findings = tuple(finding for finding in findings_of_chart(calibration) if finding.code != "chart")
    calibrated = said_of(calibration)
    if any(finding.level == "keep_unmeasured" for finding in findings):
        heading += ", but too poor to be measured"
        calibrated = (*(said for said in calibrated if said != CAN_MEASURE), NO_FIGURE)
    return ExaminationWords(heading, calibrated, findings, True)


def skin_class_of(kept: Measured, case_skin_class: str) -> SkinClass | None:
    """The class that sets a reading's limits: the one it was graded by, or else, as earlier readings kept none, the one
    fixed for its case, or that of its own skin."""
    if kept.lab_skin is None or kept.skin_class is not None:
        return kept.skin_class
    return "dark" if (case_skin_class or skin_class(kept.lab_skin)) == "dark" else "light"


def reading_words(row: Reading, case_skin_class: str) -> ReadingWords:
    """The words of a reading; grades follow the skin class that is fixed for the case."""
    kept = Measured.from_dict(json.loads(row.result))
    open_findings = tuple(finding for finding in kept.findings if finding.level != "pass")
    if kept.lab_scar is None or kept.lab_skin is None or kept.low is None or kept.high is None:
        heading = "In words only" if kept.state == "relative" else "Kept, not measured"
        return ReadingWords(heading, kept.statement, (), None, None, "", (), "", open_findings, kept.method_version)
    skin = skin_class_of(kept, case_skin_class) or "light"
    # What was said at the time stands: the class is fixed per case, and a case's limits do not move afterwards.
    grade = row.grade or grade_words(kept.low, kept.high, skin)
    # What is sure comes first, so that a "perhaps" does not seem to stand for what follows it.
    named = sorted(kept.direction, key=lambda words: words.startswith("perhaps "))
    direction = ", ".join(named) or "in no direction that this photo can tell"
    heading = f"{grade[0].upper()}{grade[1:]}: {kept.low:.1f} to {kept.high:.1f} ΔE00 apart"
    sentence = f"The scar is {direction}." if kept.direction else f"The scar differs {direction}."
    notes = (f"The difference is given in CIEDE2000 as its 90 % interval, graded for {skin} skin.",
             *(side for side in (TOO_DARK, TOO_LIGHT) if side in kept.statement),
             *(("Read this with caution.",) if kept.state == "caution" else ()))
    return ReadingWords(
        heading, sentence, notes, lab_to_srgb8_hex(kept.lab_scar), lab_to_srgb8_hex(kept.lab_skin),
        f"Left the scar, right the skin around it. {grade}, {kept.low:.1f} to {kept.high:.1f}: {direction}.",
        (_colour("Scar", kept.lab_scar, kept.lab_scar_se), _colour("Skin", kept.lab_skin, kept.lab_skin_se)),
        area_words(kept),
        open_findings, kept.method_version)


def area_words(kept: Measured) -> str:
    """5.1 cm² (4.6 to 5.7); earlier readings knew no interval; empty where the photo has no scale."""
    if kept.area is not None:
        return f"{kept.area.cm2:.1f} cm² ({kept.area.low:.1f} to {kept.area.high:.1f})"
    return "" if kept.scar_area_mm2 is None else f"{kept.scar_area_mm2 / 100:.1f} cm², good to about a tenth"


def _colour(name: str, lab: Triple, standard_error: Triple | None) -> tuple[str, str, str, str]:
    spread = standard_error or (0.0, 0.0, 0.0)
    light, red, yellow = (f"{value:.1f} ± {NORMAL_90 * error:.1f}".replace("-", "−")
                          for value, error in zip(lab, spread, strict=True))
    return name, light, red, yellow
