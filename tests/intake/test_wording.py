"""What clients read is as easy as it is meant to be: a reading age of about 11 to 12 (US grade 5 to 6)."""

from statistics import median

import pytest

from app.intake.question_list import QUESTION_SET
from app.intake.reading import MESSAGES
from app.intake.rule_set import client_texts
from app.intake.visit_list import VISIT_SET
from tests.intake.reading_level import grade, syllables

GRADE_OF_AGE_11_TO_12 = 6.0
HARDEST = 7.0
# Names of medicines, illnesses and treatments, which nobody can word more simply, with what stands around them.
NAMES = (
    "methaemoglobinaemia", "retinoid", "radiotherapy", "HIV", "botulinum", "isotretinoin", "chlorhexidine", "ibuprofen",
)  # fmt: skip

QUESTIONS = {question.wording for questions in (QUESTION_SET, VISIT_SET) for question in questions.questions}
HINTS = {question.hint for questions in (QUESTION_SET, VISIT_SET) for question in questions.questions if question.hint}
INTROS = {topic.intro for questions in (QUESTION_SET, VISIT_SET) for topic in questions.topics if topic.intro}


@pytest.mark.parametrize("texts", [QUESTIONS, HINTS, INTROS, set(client_texts()), set(MESSAGES)],
                         ids=["questions", "hints", "intros", "results", "messages"])  # fmt: skip
def test_what_clients_read_is_for_a_reader_of_11_or_12(texts: set[str]) -> None:
    assert grade(texts) <= GRADE_OF_AGE_11_TO_12
    assert median(grade([text]) for text in texts) <= GRADE_OF_AGE_11_TO_12
    hard = [text for text in texts if grade([text]) > HARDEST and not any(name in text for name in NAMES)]
    assert not hard


@pytest.mark.parametrize(
    ("word", "count"),
    [("scar", 1), ("closed", 1), ("table", 2), ("wanted", 2), ("medicine", 3), ("messages", 3), ("see-through", 2),
     ("the", 1), ("allergy", 3), ("", 1)],
)  # fmt: skip
def test_syllables_are_counted_as_a_dictionary_does(word: str, count: int) -> None:
    assert syllables(word) == count


def test_the_grade_is_that_of_the_formula() -> None:
    # "The cat sat on the mat." 6 words, 1 sentence, 6 syllables: 0.39 × 6 + 11.8 × 1 − 15.59.
    assert grade(["The cat sat on the mat."]) == pytest.approx(0.39 * 6 + 11.8 - 15.59)
