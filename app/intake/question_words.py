"""The questions of the form in words for the owner: how each is answered, when it is asked, what a change changes."""

from app.intake.questions import ANY_TEXT, Condition, Kind, Question, QuestionSet

KIND_WORDS: dict[Kind, str] = {
    "yes_no": "Yes or no",
    "choice": "One of these",
    "many": "All that fit",
    "date": "A date; the day or the month may be left out",
    "birth_date": "A date of birth",
    "phone": "A phone number",
    "text": "A short text",
    "long_text": "A longer text",
}


def answered_words(question: Question) -> str:
    """How a question is answered, with every choice that is shown."""
    choices = ", ".join(f"“{option.words}”" for option in question.choices)
    words = KIND_WORDS[question.kind]
    if question.kind == "yes_no":
        return f"{choices}."
    if question.kind in ("date", "birth_date") and choices:
        return f"{words}; or {choices}."
    return f"{words}: {choices}." if choices else f"{words}."


def required_words(question: Question) -> str:
    if question.required:
        return "It has to be answered."
    return (
        "It may be left empty."
        if question.safety
        else "It may be left empty, and nothing about safety follows from it."
    )


def asked_words(question: Question, questions: QuestionSet) -> str:
    """When a question is asked; empty where it always is."""
    conditions = [_condition(condition, questions) for condition in question.ask_when]
    return f"Asked only where {' and '.join(conditions)}." if conditions else ""


def _condition(condition: Condition, questions: QuestionSet) -> str:
    asked = next((question for question in questions.questions if question.key == condition.key), None)
    if asked is None:
        return f"{condition.key} is answered"
    if condition.any_of == (ANY_TEXT,):
        return f"“{asked.wording}” has any answer"
    known = {option.key: option.words for option in asked.choices}
    return f"“{asked.wording}” is answered " + " or ".join(f"“{known.get(key, key)}”" for key in condition.any_of)


def question_fields(was: Question | None, then: Question | None) -> tuple[tuple[str, str, str], ...]:
    """What differs between two forms of one question: what it is, as it was, as it is."""
    if was is None or then is None:
        return (
            ("The question", "asked" if was is not None else "not asked", "asked" if then is not None else "not asked"),
        )
    pairs = (
        ("Wording", was.wording, then.wording),
        ("Hint", was.hint, then.hint),
        ("Answered with", answered_words(was), answered_words(then)),
        ("Needed", required_words(was), required_words(then)),
    )
    found = tuple((label, before, after) for label, before, after in pairs if before != after)
    return found or (("The question", "as it was", "other details, which its own page shows"),)
