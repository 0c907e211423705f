import json
import re
from pathlib import Path
from typing import Any

import pytest

from app.screen_command import screen_file
from tests.intake.healthy import ON, healthy, quiet_visit


def written(folder: Path, content: Any) -> Path:
    path = folder / "answers.json"
    path.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    return path


def test_a_file_of_answers_gives_findings_that_are_json(tmp_path: Path) -> None:
    path = written(tmp_path, {"country": "GB", "answers": healthy(diabetes="yes")})
    result = screen_file(path, ON)
    assert json.loads(json.dumps(result)) == result
    assert [item["rule_id"] for item in result["findings"] if item["letter_needed"]] == ["diabetes"]
    assert result["scars"][0]["grade"] == "consultation"


def test_a_letter_in_the_file_lifts_what_it_names(tmp_path: Path) -> None:
    letter = {"kind": "letter", "on": "2026-11-01", "result": "agrees", "rule_ids": ["diabetes"]}
    path = written(tmp_path, {"country": "GB", "answers": healthy(diabetes="yes"), "evidence": [letter]})
    assert screen_file(path, ON)["scars"][0]["grade"] == "full"


def test_the_short_questions_are_laid_over_the_answers(tmp_path: Path) -> None:
    content = {"country": "CA", "answers": healthy(), "visit": quiet_visit(visit_affected="yes")}
    result = screen_file(written(tmp_path, content), ON)
    assert "visit_affected" in {item["rule_id"] for item in result["findings"]}
    assert result["scars"][0]["grade"] == "consultation"
    quiet = screen_file(written(tmp_path, {**content, "visit": quiet_visit()}), ON)
    assert quiet["scars"][0]["grade"] == "full"


def test_the_example_of_the_documentation_says_what_is_missing(tmp_path: Path) -> None:
    path = written(tmp_path, {"country": "GB", "answers": {}})
    result = screen_file(path, ON)
    assert {item["because"] for item in result["findings"] if item["kind"] == "stop"} == {"unanswered"}


@pytest.mark.parametrize(
    ("content", "named"),
    [
        ("{", "answers.json: is not JSON"),
        ("[]", "answers.json: must hold one JSON object"),
        ('{"country": "GB", "country": "US"}', "country: stands twice"),
        ({"answers": {}}, "country: must be one of"),
        ({"country": ["GB"], "answers": {}}, "country: must be one of"),
        ({"country": "GB"}, "answers: must be an object"),
        ({"country": "GB", "answers": {"pregnant": "perhaps"}}, "answers: pregnant: "),
        ({"country": "GB", "answers": {}, "visit": []}, "visit: must be an object"),
        ({"country": "GB", "answers": {}, "visit": {"diabetes": "no"}}, "visit: diabetes: "),
        ({"country": "GB", "answers": {}, "answer": 1}, "answer: there is no such key"),
        ({"country": "GB", "answers": {}, "evidence": {}}, "evidence: must be a list"),
        ({"country": "GB", "answers": {}, "evidence": [1]}, "evidence[0]: must be an object"),
        ({"country": "GB", "answers": {}, "evidence": [{"kind": "rumour"}]}, "evidence[0].kind: "),
        ({"country": "GB", "answers": {}, "evidence": [{"kind": ["letter"]}]}, "evidence[0].kind: "),
        ({"country": "GB", "answers": {}, "evidence": [{"kind": "letter", "result": "ok"}]}, "evidence[0].result: "),
        ({"country": "GB", "answers": {}, "evidence": [{"kind": "letter", "result": "agrees", "on": "soon"}]},
         "evidence[0].on: "),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence_that_names_the_key(tmp_path: Path, content: Any, named: str) -> None:
    with pytest.raises(ValueError, match="^" + re.escape(named)):
        screen_file(written(tmp_path, content), ON)


def test_a_file_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"none\.json: cannot be read"):
        screen_file(tmp_path / "none.json", ON)
