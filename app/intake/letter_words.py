"""What a letter to a clinician says, and what a client is told before they decide for themself. Pure text.

Neutral and short: who, what the work is, what is asked, and three answers to tick. Nothing that the clinician does not
need. None of it is medical advice.
"""

from collections.abc import Mapping
from dataclasses import dataclass

WORK = (
    "Your patient would like to have a healed scar camouflaged: pigment in the colour of the skin is placed into it "
    "with fine needles, under clean conditions. It is not medical treatment. The skin is closed again after "
    "a few days and heals for some weeks."
)
ASKED = "We ask you whether you see a reason against it, because of what your patient told us:"
ANSWERS = (
    "I see no reason against this work.",
    "I cannot say whether this work is safe for this patient.",
    "I advise against this work.",
)
THANKS = "Your patient carries this letter or has agreed that we write to you. They decide what you tell us. Thank you."
NOT_ADVICE = "No prescribed medicine has been or will be stopped for this work."
ANSWER_WORDS: Mapping[str, str] = {
    "": "Not answered yet",
    "agrees": "The clinician agrees",
    "declines": "The clinician would not say",
    "advises_against": "The clinician advises against it",
}

# What the client is told, each by itself, before their own decision counts. Common practice, no source.
TOLD: Mapping[str, str] = {
    "why": "Why we asked a clinician about this, in plain words, as it stands above.",
    "unknown": "That the clinician did not say whether it is safe, and that we do not know either.",
    "may_happen": "What may happen: slow or poor healing, infection, a scar that gets worse, colour that heals uneven.",
    "no_need": "That the work is not needed for health, can wait, and that they can ask another clinician first.",
    "may_stop": "That they can change their mind at any time, also during the work, and lose nothing by it.",
}


@dataclass(frozen=True)
class LetterLine:
    """One thing that a clinician is asked about: what, and where on the body if it is about one place."""

    title: str
    place: str
