"""The short questions that are asked again before each session: the evening before, and once more on arrival.

Where the meaning is that of the full form, the key is the same, so that the same rules read it; what is asked only here
has a key that begins with "visit_". The scars are those of the full form: their places are known and not asked again.
Source of what is asked: the project's collected trade facts on screening ("What it means", a short set at every
session), and row 52 for alcohol and drugs.
"""

from dataclasses import replace

from app.intake.question_list import QUESTION_SET
from app.intake.question_list_scar import PROCEDURES
from app.intake.question_parts import says, yes_no
from app.intake.questions import Option, Question, QuestionSet, Topic

VISIT_TOPICS: tuple[Topic, ...] = (
    Topic(
        "visit_since",
        "Since we last asked",
        "Please answer as it is today. If something is new, we talk about it first. You do not lose money over it.",
    ),
    Topic("visit_scar", "The skin there now", "Think of the time since we last asked.", repeats=True),
    Topic("visit_today", "Today", "There are no wrong answers. This keeps you safe."),
)


def _again(key: str, topic: str, wording: str = "", hint: str | None = None) -> Question:
    question = QUESTION_SET.question(key)
    return replace(
        question,
        topic=topic,
        wording=wording or question.wording,
        hint=question.hint if hint is None else hint,
    )


_SINCE = (
    Question("visit_healed", "visit_since", "choice", "How did the skin heal after the last session?",
             options=(
                 Option("well", "It healed well"),
                 Option("healing", "It is still healing"),
                 Option("wrong", "Something went wrong"),
                 Option("no_session", "I have had no session yet"),
             ), dont_know=True),
    _again("pregnant", "visit_since"),
    Question("visit_diagnosis", "visit_since", "yes_no", "Has a doctor told you that you have a new illness?",
             dont_know=True, prefer_not=True),
    yes_no("visit_since", "visit_medicine", "Do you take a new medicine, or has one been changed?",
           "Never stop a medicine for us."),
    Question("visit_medicine_words", "visit_since", "long_text", "Which medicine is it?", required=False,
             ask_when=(says("visit_medicine"),)),
    _again("vaccinated", "visit_since"),
    _again("vaccinated_on", "visit_since"),
    _again("shingles_vaccine", "visit_since"),
    _again("ill", "visit_since"),
    _again("ill_on", "visit_since"),
    _again("herpes_now", "visit_since"),
    _again("herpes_healed_on", "visit_since"),
)  # fmt: skip

_SCAR = (
    _again("scar.open", "visit_scar"),
    _again("scar.sun", "visit_scar"),
    _again("scar.sun_on", "visit_scar"),
    _again("scar.tan_left", "visit_scar"),
    _again("scar.self_tan", "visit_scar"),
    _again("scar.self_tan_on", "visit_scar"),
    _again("scar.procedures", "visit_scar", "Has any of this been done on or near it since we last asked?"),
    *(_again(f"scar.{key}_on", "visit_scar") for key, _ in PROCEDURES),
    _again("scar.laser_fractional", "visit_scar"),
)

_TODAY = (
    yes_no("visit_today", "visit_affected", "Have you had alcohol or drugs in the last 24 hours?"),
)  # fmt: skip

VISIT_SET = QuestionSet(
    VISIT_TOPICS, (*_SINCE, *_SCAR, *_TODAY), prefilled=("scar.site", "scar.side", "scar.words")
)
