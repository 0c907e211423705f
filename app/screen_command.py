"""`evenseam screen FILE.json --on DATE --json`: answers to findings, with no database.

The file is one JSON object:

    {
      "country": "GB",                     GB, IE, US, DE, FR, ES, CA, AU or OTHER
      "answers": {
        "answered_on": "2026-11-25",       optional; else the day of screening
        "born_on": "1990-05-14",
        "pregnant": "no",                  "yes", "no", "dont_know", "prefer_not" where offered
        "skin_conditions": ["none"],       a list where several may be chosen
        "isotretinoin": "yes",
        "isotretinoin_on": "2026-03",      "2026", "2026-03", "2026-03-14", or a choice such as "more_than_2_years"
        "scars": [
          {"id": "s1", "site": "forearm", "side": "left", "kind": "flat_pale", "happened": "2023-05", "red": "no"}
        ]
      },
      "visit": {                           optional: the short questions before a session, laid over the answers
        "visit_affected": "no",
        "ill": "no",
        "scars": [{"id": "s1", "sun": "no"}]
      },
      "evidence": [                        optional: proofs on file
        {"kind": "letter", "on": "2026-11-01", "result": "agrees", "rule_ids": ["isotretinoin"],
         "scar_id": null, "expires_on": null}
      ]
    }

A key that is left out counts as not answered and never passes; with "visit" so do the short questions. The
result holds `findings`, `alerts`, `scars` (the highest grade for each: none, consultation, patch, spot, full),
`preparation`, `client_summary` and `caution`.
"""

import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any, get_args

from app.intake.answers import Unreadable, check_answers
from app.intake.dates import read_day
from app.intake.question_list import QUESTION_SET
from app.intake.questions import QuestionSet
from app.intake.rescreening import joined, rescreen_answers
from app.intake.rules import Proof, Result
from app.intake.screening import Evidence, screen, screening_to_dict
from app.intake.visit_list import VISIT_SET
from app.studio.country import PACKS, country_pack


def screen_file(path: Path | str, on: date) -> dict[str, Any]:
    """The findings as a JSON-safe dict; raises ValueError with one sentence that names the key at fault."""
    content = _read(Path(path))
    unknown = sorted(set(content) - {"country", "answers", "visit", "evidence"})
    if unknown:
        raise ValueError(f"{unknown[0]}: there is no such key; use country, answers, visit and evidence")
    codes = [pack.code for pack in PACKS]
    if content.get("country") not in codes:
        raise ValueError(f"country: must be one of {', '.join(codes)}")
    answers, questions = _answers(content, "answers", on, QUESTION_SET), QUESTION_SET
    if "visit" in content:
        answers = rescreen_answers(answers, _answers(content, "visit", on, VISIT_SET))
        questions = joined()
    proofs = content.get("evidence", [])
    if not isinstance(proofs, list):
        raise ValueError("evidence: must be a list")
    evidence = tuple(_evidence(index, proof) for index, proof in enumerate(proofs))
    country = country_pack(content["country"])
    return screening_to_dict(screen(answers, on=on, country=country, evidence=evidence, questions=questions))


def _answers(content: Mapping[str, Any], name: str, on: date, questions: QuestionSet) -> dict[str, Any]:
    answers = content.get(name)
    if not isinstance(answers, dict):
        raise ValueError(f"{name}: must be an object with one entry for each answer")
    try:
        check_answers(answers, on=on, questions=questions)
    except Unreadable as problem:
        raise ValueError(f"{name}: {problem}") from None
    return answers


def _read(path: Path) -> dict[str, Any]:
    try:
        content = json.loads(path.read_text(encoding="utf-8"), object_pairs_hook=_no_key_twice)
    except OSError as problem:
        raise ValueError(f"{path.name}: cannot be read ({problem.strerror})") from None
    except UnicodeDecodeError:
        raise ValueError(f"{path.name}: is not UTF-8 text") from None
    except json.JSONDecodeError as problem:
        raise ValueError(f"{path.name}: is not JSON (line {problem.lineno}: {problem.msg})") from None
    except RecursionError:
        raise ValueError(f"{path.name}: is nested too deeply") from None
    if not isinstance(content, dict):
        raise ValueError(f"{path.name}: must hold one JSON object")
    return content


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        key = next(key for index, (key, _) in enumerate(pairs) if key in [name for name, _ in pairs[:index]])
        raise ValueError(f"{key}: stands twice in one object")
    return found


def _evidence(index: int, stored: Any) -> Evidence:
    place = f"evidence[{index}]"
    if not isinstance(stored, Mapping):
        raise ValueError(f"{place}: must be an object")
    if stored.get("kind") not in get_args(Proof):
        raise ValueError(f"{place}.kind: must be one of {', '.join(get_args(Proof))}")
    if stored.get("result") not in get_args(Result):
        raise ValueError(f"{place}.result: must be one of {', '.join(get_args(Result))}")
    rule_ids = stored.get("rule_ids", [])
    if not isinstance(rule_ids, list) or not all(isinstance(item, str) for item in rule_ids):
        raise ValueError(f"{place}.rule_ids: must be a list of rule ids")
    scar_id = stored.get("scar_id")
    if scar_id is not None and not isinstance(scar_id, str):
        raise ValueError(f"{place}.scar_id: must be a scar's id or null")
    on = _day(f"{place}.on", stored.get("on"))
    expires = stored.get("expires_on")
    expires_on = _day(f"{place}.expires_on", expires) if expires is not None else None
    return Evidence(stored["kind"], on, stored["result"], tuple(rule_ids), scar_id, expires_on)


def _day(place: str, value: Any) -> date:
    if not isinstance(value, str):
        raise ValueError(f"{place}: must be a day such as 2026-11-01")
    try:
        return read_day(value)
    except ValueError as problem:
        raise ValueError(f"{place}: {problem}") from None
