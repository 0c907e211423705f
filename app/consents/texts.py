"""What a client signs, in our own words. A new wording is a new version; a signature points at the version it saw.

The content is the union of what local rules and the trade ask to be said before such work (collected facts on consent:
"LAW" where a statute or local code asks for it, otherwise "common practice, no source"). A text is kept as plain lines:
"# " begins a heading, "- " a point, anything else is a paragraph.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Wording:
    """A text to be signed, under the name of what it is for."""

    kind: str
    text: str

    @property
    def version(self) -> str:
        """The beginning of the text's SHA-256: the same words have the same version anywhere."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()[:12]


@dataclass(frozen=True)
class Block:
    """A heading, a paragraph, or points that follow one another."""

    kind: Literal["heading", "paragraph", "points"]
    lines: tuple[str, ...]


@dataclass(frozen=True)
class PermissionWords:
    """How one yes or no is asked, and how it is named on the record."""

    kind: str
    asked: str
    hint: str
    named: str


DECLARATION = Wording(
    "declaration",
    """# What you confirm
- I answered these questions myself, as well as I know.
- I will tell the studio before each visit when something about my health, my medicines or my skin has changed.
- I understand that these answers help the studio to decide when work is safe. They are not medical advice and \
do not replace my doctor.
- I understand that the studio may ask for a letter, suggest a small test first, ask me to wait, or say no.
- I want these answers to be kept with my record. The people who work with me read them; the reception does not.""",
)

TREATMENT = Wording(
    "treatment",
    """# What the work is
We place pigment in the colour of your skin into a healed scar with fine needles, so that it stands out less. \
Before each visit we look again at whether the day is right. You may stop at any moment.
# What it can and cannot do
- It is meant to be permanent. It fades over the years, unevenly at times. Taking it out needs a doctor, and \
that may scar.
- Nobody can promise a result. The scar's surface, its shine and its folds stay as they are; only its colour is \
changed.
- It takes several visits, weeks apart. We judge the colour only when it has settled, not on the day.
- The match holds for the skin you have now. A tan, your age, your weight and a pregnancy change the skin around \
it, but not the pigment.
# What can go wrong
- Infection, fever, or illness that comes from a wound that was not kept clean.
- An allergy to pigment, at once or years later. A clear allergy test does not rule it out.
- A raised scar or a keloid, also where there was none.
- Colour that turns out too light, too dark or of another tone, that spreads, or that changes later.
- Less feeling there, or pain that stays for a time.
- A change in a mole or in the skin is harder to see under pigment. Ask a doctor to check it before and after.
# What to remember later
- Laser or strong light on skin-toned pigment can turn it dark at once, and it may not go back. Show your record \
card before any laser, also for hair.
- Before an MRI scan, tell the radiographer (the person who runs the scanner) that you have pigment in your skin.
- Blood services may ask you to wait after the work. Ask yours.
# What you confirm
- I am of the age that the law asks for, I decide freely, and I am not under the influence of alcohol or drugs.
- I told the studio the truth about my health and will tell it when that changes.
- I was told what is in the pigments: I could read the labels with their contents, maker and lot before the work.
- The colour and the places were agreed with me.
- I was told, and given in writing, how to look after my skin, what is normal, and when to see a doctor.
- This is not medical advice. Local rules and my doctor come first.
- I can ask for a copy of this page, and I can take each permission back by itself at any time for what has not \
been done yet.""",
)

PERMISSIONS: tuple[PermissionWords, ...] = (
    PermissionWords("numbing", "May we use a numbing product on the places named above?",
                    "It can sting or redden, and rarely harm the whole body. The work can be done without.",
                    "numbing products"),
    PermissionWords("record_photos", "May we take photos for your record?",
                    "They stay with your record and show how your skin heals. They are not shown to anybody outside.",
                    "photos for the record"),
    PermissionWords("show_in_studio", "May we show photos of the result to other clients in the studio?",
                    "Without your name.", "photos shown in the studio"),
    PermissionWords("teaching", "May we use the photos for teaching?", "Without your name.", "photos for teaching"),
    PermissionWords("website", "May we show the photos on our website?",
                    "Others can copy it, and it cannot be called back for certain.", "photos on the website"),
    PermissionWords("social_media", "May we show the photos on social media?",
                    "Others can copy it, and it cannot be called back for certain.", "photos on social media"),
    PermissionWords("recognisable", "May your face, a tattoo or jewellery be seen in photos that are shown?",
                    "Only where you said yes to showing them.", "recognisable in photos shown"),
    PermissionWords("contact_clinician", "May we write to or call your doctor about this work?",
                    "We tell you before we do.", "contact with the clinician"),
    PermissionWords("reminders_email", "May we send you reminders by e-mail?",
                    "They say that there is something to read, never what it is about.", "reminders by e-mail"),
    PermissionWords("reminders_text", "May we send you reminders by text message?",
                    "They say that there is something to read, never what it is about.", "reminders by text message"),
    PermissionWords("voice_notes", "May your artist speak notes about the work instead of writing them?",
                    "What was said is kept with your record. The people who work with you can hear it.",
                    "spoken notes for the record"),
)  # fmt: skip
NAMED: dict[str, str] = {"treatment": "treatment", **{words.kind: words.named for words in PERMISSIONS}}
# What is asked when the first form is signed; the rest is asked when treatment is near.
FIRST_KINDS = ("record_photos", "reminders_email")
# Numbing is about the places of one signing, so it is asked there and nowhere else.
ASKED_ANYWHERE = tuple(words.kind for words in PERMISSIONS if words.kind != "numbing")

TREATMENT_ASKED = "Do you agree to the work on the places named above?"
# What may be agreed to, by the kind of session that it is for: a yes to a small trial is no yes to the whole work.
PROCEDURES: dict[str, str] = {
    "allergy_patch": "Allergy patch: a little of the product on the skin, to see whether it reacts.",
    "test_spot": "Test spot: a few dots in a hidden part of the scar, to see how the colour heals.",
    "full": "Camouflage work: pigment in the scar, over several visits.",
}
PROCEDURE_NAMES: dict[str, str] = {
    "allergy_patch": "allergy patch", "test_spot": "test spot", "full": "camouflage work",
}  # fmt: skip
# Why a name is typed rather than drawn. The words of the last are the client's own.
TYPED_REASONS: dict[str, str] = {
    "hard": "I find drawing hard",
    "screen": "The screen does not take it",
    "help": "I read and sign with help",
    "other": "Another reason",
}
WORDINGS: dict[str, Wording] = {wording.kind: wording for wording in (TREATMENT, DECLARATION)}
TEXT_NAMES: dict[str, str] = {"treatment": "Treatment text", "declaration": "Declaration under the health questions"}
# Where a zone lies, as its owner is told.
SIDES: dict[str, str] = {"left": "on your left", "right": "on your right", "middle": "in the middle",
                         "both": "on both sides"}  # fmt: skip
REQUIRED_HEADING = "What the rules here ask you to confirm"
# What a client says to a single permission later, on their own page.
ONE_YES = Wording(
    "permission",
    """- I say yes to this one thing. I was free to leave it.
- I can take it back at any time for what has not been done yet.""",
)


def permission_words(*kinds: str) -> tuple[PermissionWords, ...]:
    """The questions for some permissions, in their order; for all when none is named."""
    return tuple(words for words in PERMISSIONS if not kinds or words.kind in kinds)


def blocks(text: str) -> tuple[Block, ...]:
    """A kept text as headings, paragraphs and lists, as it is shown."""
    found: list[Block] = []
    for line in filter(None, (line.strip() for line in text.splitlines())):
        if line.startswith("# "):
            found.append(Block("heading", (line[2:],)))
        elif not line.startswith("- "):
            found.append(Block("paragraph", (line,)))
        elif found and found[-1].kind == "points":
            found[-1] = Block("points", (*found[-1].lines, line[2:]))
        else:
            found.append(Block("points", (line[2:],)))
    return tuple(found)


def missing_lines(text: str, required: Sequence[str], known: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """The required lines that a text lacks, be it in English or in the words that `known` has for them.

    Only line breaks and double spaces may differ: what a law asks to be said is said in its words.
    """
    held = _plain(text)
    spoken = known or {}
    return tuple(line for line in required if not any(_plain(way) in held for way in (line, spoken.get(line, line))))


def _plain(text: str) -> str:
    return " ".join(word for line in text.splitlines() for word in line.removeprefix("- ").split())


def with_required(text: str, required: Sequence[str], known: Mapping[str, str] | None = None) -> str:
    """The text with the required lines that it lacks in a section at its end, in the language where it has them."""
    spoken = known or {}
    lacking = missing_lines(text, required, known)
    if not lacking:
        return text
    heading = spoken.get(REQUIRED_HEADING, REQUIRED_HEADING)
    return "\n".join((text, f"# {heading}", *(f"- {spoken.get(line, line)}" for line in lacking)))


def translated_text(text: str, known: Mapping[str, str]) -> str | None:
    """The text line by line in the words of a catalogue; None when one line has no words there.

    A text half in one language and half in another is not given: nobody could say afterwards what was understood.
    """
    lines = []
    for line in text.splitlines():
        mark = line[:2] if line.startswith(("# ", "- ")) else ""
        words = known.get(line[len(mark) :])
        if line.strip() and not words:
            return None
        lines.append(mark + words if words else line)
    return "\n".join(lines)


def version_of(text: str) -> str:
    return Wording("", text).version


def client_texts() -> tuple[str, ...]:
    """Every line that a client reads, for the catalogues: headings, points and paragraphs, and each question."""
    lines = [
        line for wording in (DECLARATION, TREATMENT, ONE_YES) for block in blocks(wording.text) for line in block.lines
    ]
    asked = [text for words in PERMISSIONS for text in (words.asked, words.hint, words.named)]
    more = [REQUIRED_HEADING, *PROCEDURES.values(), *TYPED_REASONS.values(), *SIDES.values()]
    return (*lines, TREATMENT_ASKED, *asked, "treatment", *more)
