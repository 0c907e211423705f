"""What a client is told while skin heals, day by day, and which signs need whom.

Two schools are current and they contradict each other, so a studio chooses one for each piece of work and the client
gets that one only: "film" (a breathable film worn for three days; body: US cancer-centre leaflet) and "dry" (a plain
dressing kept dry for up to a day, then air; body: NHS Dudley, council aftercare template). The text names neither
site nor scar nor cause, because anybody may look over the client's shoulder. It is information, not medical advice.

`AFTERCARE_VERSION` changes with any word here, so that a session can point at what its client was given.

Where a figure comes from:
    three days of film, exercise after a week, fever and the signs beside it   body: US cancer-centre leaflet
    24 hours dry, no bath or pool while flaking                                body: NHS Dudley
    swelling or redness not gone in 2 days, weeping past 1 to 2 days           body: council aftercare template
    bumps in one colour from about a week on, tell the doctor the ink          body: CDC MMWR 2012, FDA 2019 and 2025
    38 °C or shivering (the leaflet says 38.3 °C; this is the careful one)     body: public guidance
    pool 2 weeks, sea and hot tub 4, make-up and shaving 2, acids 30 days,
    sun and sunbed 6 weeks then SPF 50, cool packs 10 minutes                  common practice, no source
    help with breathing, swelling, collapse, bleeding; giving blood; scans     general first aid and public advice,
                                                                               from memory, unchecked
"""

import hashlib
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from app.healing.aftercare_edits import COOL, EDITS, Edit, Without, edited

School = Literal["film", "dry"]
Level = Literal["emergency", "today", "days", "studio"]
Answer = Literal["yes", "no", "not sure"]

# Worst first.
LEVELS: tuple[Level, ...] = ("emergency", "today", "days", "studio")


@dataclass(frozen=True)
class AftercareDay:
    """What holds from the first to the last day, both included; `last_day` is None for the last part."""

    first_day: int
    last_day: int | None
    heading: str
    normal: tuple[str, ...]
    do: tuple[str, ...]
    do_not: tuple[str, ...]


@dataclass(frozen=True)
class RedFlags:
    level: Level
    heading: str
    signs: tuple[str, ...]
    what_to_do: str


@dataclass(frozen=True)
class QuizQuestion:
    """A yes-or-no question of a check-in; `level` is who is needed when the answer is not a plain no."""

    key: str
    words: str
    level: Level
    from_day: int = 0


NOT_ADVICE = "This page is not medical advice. If you are unsure, ask a doctor or nurse."
LASER_CAUTION = (
    "Before any laser or strong light treatment, say that you have skin-toned pigment. "
    "It can turn dark at once. This stays true for years."
)
MRI_WORDS = (
    "Before an MRI scan, say that you have pigment in your skin. You can nearly always have the scan. "
    "If the place feels hot in the scanner, say so at once."
)
BLOOD_DONATION = (
    "Blood services may ask you to wait some months after this work. Ask yours, and give the date of your visit."
)
LASTING_CAUTIONS = (LASER_CAUTION, MRI_WORDS, BLOOD_DONATION)
LOTS_PLACEHOLDER = "{lots}"
CLINICIAN_TEXT = (
    "For the doctor or nurse:",
    "Cosmetic pigment (tattoo ink) was placed in this person's skin. The products and lot numbers are:",
    LOTS_PLACEHOLDER,
    "Please think of infection, also with mycobacteria, and of allergy. One can look like the other.",
    "Bumps within one colour that last, or do not improve on the usual antibiotics, may need a sample.",
    "A problem can begin at once or years later. The studio keeps these records and will answer questions.",
)

_HANDS = "Wash your hands before you touch it."
_LEAVE = "Do not pick, rub or scratch, even if it itches."
_NO_WATER = "No bath, pool, sea or hot tub. A short shower is fine."
_NO_SUN = "No sun, sunbed or fake tan on it."
_NO_CREAMS = "No make-up, no sun cream, no perfume on it."

_FIRST_DAYS: dict[School, tuple[AftercareDay, ...]] = {
    "film": (
        AftercareDay(
            0, 0, "Today it looks red and strong. That is normal.",
            ("Red, warm, tight and a bit swollen, like sunburn.", "Tiny spots of blood or clear fluid under the film.",
             "The colour looks too strong, or you cannot see it yet."),
            ("Leave the film on.", _HANDS, "You can shower with the film on.",
             "If it is sore, take a painkiller such as paracetamol. Follow the label."),
            ("Do not touch or rub it. Keep pets and rough clothes away.", _NO_WATER, "No alcohol today."),
        ),
        AftercareDay(
            1, 3, "The swelling goes down. Keep the film on.",
            ("Swelling fades in a day or two.", "Some fluid under the film in the first two days."),
            ("Keep the film on until day 4. Put on a new one if it leaks or comes off.",
             COOL,
             "If the film itself itches or burns, take it off and tell the studio."),
            (_LEAVE, _NO_WATER, _NO_SUN, _NO_CREAMS, "No gym and no heavy sweating."),
        ),
        AftercareDay(
            4, 7, "It may look darker now. That is normal.",
            ("The colour is stronger than it will be.", "Thin flakes fall off by themselves. It may itch."),
            ("On day 4 take the film off in the shower.", "Wash with clean hands and mild soap. Pat dry.",
             "Put on a thin layer of plain lotion, 2 or 3 times a day.", "Wear loose, soft clothes."),
            (_LEAVE, _NO_WATER, _NO_SUN, _NO_CREAMS, "No shaving there. No gym and no heavy sweating."),
        ),
    ),
    "dry": (
        AftercareDay(
            0, 0, "Today it looks red and strong. That is normal.",
            ("Red, warm, tight and a bit swollen, like sunburn.", "Tiny spots of blood or clear fluid.",
             "The colour looks too strong, or you cannot see it yet."),
            ("Keep the dressing on and keep it dry until tomorrow.", _HANDS,
             "If it is sore, take a painkiller such as paracetamol. Follow the label."),
            ("Do not touch or rub it. Keep pets and rough clothes away.", "Do not get it wet today.",
             "No alcohol today."),
        ),
        AftercareDay(
            1, 3, "The swelling goes down. Let it dry.",
            ("Swelling fades in a day or two.", "It may weep a little for a day or two, then it dries."),
            ("Take the dressing off after one day.", "Clean it gently. Pat dry with clean paper.",
             "If fluid comes, blot it. Let the air dry it.",
             COOL),
            (_LEAVE, _NO_WATER, _NO_SUN, _NO_CREAMS, "No gym and no heavy sweating.",
             "No cream that says it is not for open wounds."),
        ),
        AftercareDay(
            4, 7, "It may look darker now. That is normal.",
            ("The colour is stronger than it will be.", "A thin, dry crust or fine flakes. It may itch."),
            ("Wash gently with clean hands. Pat dry.", "Use no cream, or a very thin layer if the skin cracks.",
             "Wear loose, soft clothes."),
            (_LEAVE, _NO_WATER, _NO_SUN, _NO_CREAMS, "No shaving there. No gym and no heavy sweating."),
        ),
    ),
}  # fmt: skip

_LATER_DAYS: tuple[AftercareDay, ...] = (
    AftercareDay(
        8, 14, "It may look patchy and pale. That is normal.",
        ("The last flakes come off.", "It can look milky, uneven or lighter. Some of the colour may seem lost."),
        ("Wash gently and pat dry.", "Use plain lotion on dry skin if it feels tight.", "Let the flakes fall."),
        (_LEAVE, _NO_WATER, _NO_SUN, _NO_CREAMS, "No shaving there. No sauna. Nothing that makes it sweat or rub."),
    ),
    AftercareDay(
        15, 28, "The new skin is shiny and pink. That is normal.",
        ("Shiny, pinkish skin and uneven colour.", "Some places may look darker for a while."),
        ("Wash as you always do.", "You may swim in a pool once the skin is closed.",
         "Once the skin is closed, use SPF 50 if it cannot be covered."),
        ("No sea and no hot tub yet.", "No sunbathing, sunbed or fake tan.", "No peeling, acids or retinol on it."),
    ),
    AftercareDay(
        29, 42, "The redness fades. The colour is still changing.",
        ("Less pink each week.", "What you see now is not the final colour."),
        ("Use SPF 50 on each day that the sun can reach it.", "Send the photo when we ask for it."),
        ("No sunbathing, sunbed or fake tan until week 6 is over.", "No peeling, acids or retinol on it.",
         "No laser on it."),
    ),
    AftercareDay(
        43, None, "The colour settles slowly.",
        ("It gets lighter and calmer over some weeks.", "It may stand out more when the skin around it is tanned."),
        ("Use SPF 50 on each day that the sun can reach it.", "Come to the visit where we look at the colour."),
        ("No laser on it, and no strong light, unless they know about the pigment.",
         "No peeling, acids or retinol on it."),
    ),
)  # fmt: skip

# An allergy patch is a small spot that is read on two days. Keep it dry and leave it alone: common practice, no source.
PATCH_DAYS: tuple[AftercareDay, ...] = (
    AftercareDay(
        0, 2, "The small patch is looked at on the next two days.",
        ("A little red for some hours.", "It may feel like an insect bite on the first day."),
        (_HANDS, "Keep it dry until it has been looked at.", "Send a photo on the first and the second day."),
        ("Do not scratch, wash off or cover it with anything scented.", _NO_CREAMS),
    ),
    AftercareDay(
        3, None, "The days of the patch are over. Keep an eye on it.",
        ("Nothing to see, or a small mark.",),
        ("Tell us if it itches, swells or gets bumps, also weeks later.",),
        ("A clear patch does not rule out a later reaction. Do not count on it.",),
    ),
)  # fmt: skip

_NUMBER = "{number}"
_RED_FLAGS: tuple[RedFlags, ...] = (
    RedFlags(
        "emergency", "Trouble breathing, or a swollen face or throat?",
        ("You cannot breathe well.", "Your face, lips, tongue or throat swell.", "You faint or nearly faint.",
         "You have a fever and feel confused, or your skin turns blotchy."),
        f"Call {_NUMBER} now. Do not wait for the studio.",
    ),
    RedFlags(
        "today", "Hot, harder, more painful, pus, 38 °C or shivering?",
        ("Your temperature is 38 °C (100.4 °F) or more, or you shiver.", "It gets hotter or hurts more.",
         "Redness spreads, or red lines run from it.", "Thick, yellow or green fluid, or a bad smell.",
         "Blisters, or an itchy rash that spreads.",
         "It still bleeds after you press on it for 10 minutes with clean cloth."),
        "See a doctor today, also at night or on a weekend. Show them the page for a doctor or nurse.",
    ),
    RedFlags(
        "days", "Not getting better?",
        ("It is still red or swollen after 2 days, or getting worse.", "It still weeps after 2 days.",
         "Itchy bumps or a rash in one colour that stay.", "A new lump, or a raised, firm place that grows.",
         "A new white ring or pale patch.", "It swells or itches in the sun."),
        "See a doctor in the next few days. Tell them about the pigment and show the page for a doctor or nurse.",
    ),
    RedFlags(
        "studio", "Something looks wrong, but you feel well?",
        ("A crust came off and left a sore dip.", "After 4 weeks it is patchy, the wrong colour or has a raised edge."),
        "Tell the studio. There is no hurry.",
    ),
)  # fmt: skip

# "Don't know" never passes a question that matters: "not sure" counts as the question's level.
QUIZ: tuple[QuizQuestion, ...] = (
    QuizQuestion("breathing", "Is it hard to breathe, or is your face, tongue or throat swollen?", "emergency"),
    QuizQuestion("collapse", "Did you faint, or do you feel confused and feverish?", "emergency"),
    QuizQuestion("fever", "Is your temperature 38 °C (100.4 °F) or more, or do you shiver?", "today"),
    QuizQuestion("spreading", "Does redness spread, or do red lines run from it?", "today"),
    QuizQuestion("hotter", "Is it getting hotter, harder or more painful?", "today"),
    QuizQuestion("pus", "Is there thick, yellow or green fluid, or a bad smell?", "today"),
    QuizQuestion("hives", "Do you have blisters, or an itchy rash that spreads?", "today"),
    QuizQuestion("bleeding", "Does it still bleed after you press on it for 10 minutes?", "today"),
    QuizQuestion("not_settling", "Is it still red or swollen, and not getting better?", "days", from_day=3),
    QuizQuestion("weeping", "Does fluid still come out of it?", "days", from_day=3),
    QuizQuestion("bumps", "Are there itchy bumps or a rash that stay?", "days", from_day=7),
    QuizQuestion("sun", "Does it swell or itch in the sun?", "days", from_day=15),
    QuizQuestion("lump", "Is there a new lump, or a raised, firm place that grows?", "days", from_day=15),
    QuizQuestion("halo", "Is there a new white ring or pale patch?", "days", from_day=29),
    QuizQuestion("raw", "Did a crust come off and leave a sore dip?", "studio", from_day=3),
    QuizQuestion("uneven", "Is it patchy, the wrong colour, or raised at the edge?", "studio", from_day=29),
)
_LEVEL_OF: dict[str, Level] = {question.key: question.level for question in QUIZ}


def all_days(school: School, *, without: Collection[Without] = ()) -> tuple[AftercareDay, ...]:
    """The whole text, in order, for print: that of one school, without what something on file speaks against."""
    edits = [EDITS[name] for name in sorted(without)]
    given = "dry" if any(edit.needs_dry for edit in edits) else school
    return tuple(_edited(day, edits) for day in _FIRST_DAYS[given] + _LATER_DAYS)


def _edited(day: AftercareDay, edits: Sequence[Edit]) -> AftercareDay:
    for edit in edits:
        if day.first_day <= edit.last_day:
            day = replace(day, do=edited(day.do, edit), do_not=day.do_not + edit.do_not)
    return day


def for_day(school: School, day_number: int, *, without: Collection[Without] = ()) -> AftercareDay:
    """The part that holds on a day; day 0 is the day of the work. Raises ValueError before it."""
    for part in all_days(school, without=without):
        if part.first_day <= day_number and (part.last_day is None or day_number <= part.last_day):
            return part
    raise ValueError("healing begins on day 0")


def for_patch(day_number: int, *, without: Collection[Without] = ()) -> AftercareDay:
    """What holds for an allergy patch on a day. Raises ValueError before it."""
    for part in PATCH_DAYS:
        if part.first_day <= day_number and (part.last_day is None or day_number <= part.last_day):
            return _edited(part, [EDITS[name] for name in sorted(without)])
    raise ValueError("healing begins on day 0")


def red_flags(emergency_number: str | None) -> tuple[RedFlags, ...]:
    """The signs by level, worst first, with the country's emergency number in its place; None where it is not known."""
    if emergency_number is not None and not re.fullmatch(r"[0-9]{2,5}( or [0-9]{2,5})?", emergency_number):
        raise ValueError("an emergency number is two to five digits, or two of them: '999 or 112'")
    number = emergency_number or "your local emergency number"
    return tuple(replace(flags, what_to_do=flags.what_to_do.replace(_NUMBER, number)) for flags in _RED_FLAGS)


def questions_for(day_number: int) -> tuple[QuizQuestion, ...]:
    """What a check-in asks on a day; nothing is asked before it could mean anything."""
    return tuple(question for question in QUIZ if question.from_day <= day_number)


def unanswered(answers: Mapping[str, Answer], day_number: int) -> tuple[str, ...]:
    """Keys of the day's questions that have no answer yet: silence is not a no."""
    return tuple(question.key for question in questions_for(day_number) if question.key not in answers)


def worst_level(answers: Mapping[str, Answer]) -> Level | None:
    """The worst level among what was not answered with a plain no. None says only that every answer given was a no;
    see `unanswered`. Raises KeyError for a question that is not in the quiz."""
    found = {_LEVEL_OF[key] for key, answer in answers.items() if answer != "no"}
    return next((level for level in LEVELS if level in found), None)


def _version() -> str:
    edits = tuple(sorted(EDITS.items()))
    days = (_FIRST_DAYS, _LATER_DAYS, edits, PATCH_DAYS)
    words = repr((*days, _RED_FLAGS, QUIZ, NOT_ADVICE, LASTING_CAUTIONS, CLINICIAN_TEXT))
    return hashlib.sha256(words.encode()).hexdigest()[:16]


AFTERCARE_VERSION = _version()
