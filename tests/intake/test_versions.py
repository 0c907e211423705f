"""What was screened under the first version comes out as it did then; the file was written by the first version."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from app.intake.questions import question_set_from_dict, question_set_to_dict
from app.intake.rule_set import RULE_SET
from app.intake.rules import EVALUATOR_VERSION, RuleSet, rule_set_from_dict, rule_set_to_dict
from app.intake.screening import Evidence, screen, screening_to_dict
from app.studio.country import GB, country_pack
from tests.intake.healthy import ON, healthy

STORED: dict[str, Any] = json.loads((Path(__file__).parent / "version_1.json").read_text(encoding="utf-8"))
QUESTIONS = question_set_from_dict(STORED["questions"])
RULES = rule_set_from_dict(STORED["rule_set"])


@pytest.mark.parametrize("case", STORED["cases"], ids=lambda case: case["name"])
def test_a_screening_of_version_1_comes_out_as_it_did_then(case: dict[str, Any]) -> None:
    evidence = tuple(
        Evidence(proof["kind"], date.fromisoformat(proof["on"]), proof["result"], tuple(proof["rule_ids"]))
        for proof in case["evidence"]
    )
    again = screen(
        case["answers"], on=date.fromisoformat(case["on"]), country=country_pack(case["country"]), rule_set=RULES,
        questions=QUESTIONS, evidence=evidence,
    )  # fmt: skip
    assert screening_to_dict(again) == case["result"]
    assert again.evaluator_version == 1


def test_sets_of_version_1_keep_their_fingerprints_when_read_and_written() -> None:
    assert QUESTIONS.version == STORED["questions_version"]
    assert RULES.version == STORED["rule_set_version"]
    assert question_set_to_dict(QUESTIONS) == STORED["questions"]
    assert json.loads(json.dumps(rule_set_to_dict(RULES))) == STORED["rule_set"]


def test_the_same_unknown_answer_was_a_finding_for_each_treatment_then_and_is_one_now() -> None:
    case = next(case for case in STORED["cases"] if case["name"] == "unknown procedures")
    then = screen(case["answers"], on=ON, country=GB, rule_set=RULES, questions=QUESTIONS)
    assert sum(finding.because == "dont_know" for finding in then.findings) > 5
    scar = {**healthy()["scars"][0], "procedures": ["dont_know"]}
    now = screen(healthy(scar), on=ON, country=GB)
    assert [finding.rule_id for finding in now.findings if finding.because == "dont_know"] == ["unknown:procedures"]


def test_rules_of_a_version_that_is_not_known_here_are_refused() -> None:
    later = RuleSet(RULE_SET.rules, EVALUATOR_VERSION + 1)
    with pytest.raises(ValueError, match="not known here"):
        screen(healthy(), on=ON, country=GB, rule_set=later)
