import re
from dataclasses import replace

import pytest
from sqlmodel import select

from app.intake import publishing
from app.intake.dates import Interval
from app.intake.models import Publication, QuestionChange, RuleChange
from app.intake.question_list import QUESTION_SET
from app.intake.question_words import answered_words, asked_words, question_fields, required_words
from app.intake.rule_changes import RuleChange as RuleChangeOf
from app.intake.rule_changes import rule_change_to_dict
from app.intake.rule_pages import rows_covered
from app.intake.rule_set import RULE_SET
from app.intake.rule_words import changed_fields, group_of, rule_words, short_words
from app.platform.audit import SYSTEM, canonical, entry
from app.platform.service import Service
from tests.conftest import NOW
from tests.intake.course import Browse, trail

LONGER = {"consequence": "wait", "amount": "24", "unit": "months", "reason": "Our scars took longer"}
SHORTER = {**LONGER, "amount": "6"}
ADDED = {
    "topic": "health", "kind": "text", "required": "no", "wording_en": "Who operated on you?", "reason": "Old reports",
}  # fmt: skip
PAGES = (
    "/studio/rules", "/studio/rules/scar_age", "/studio/rules/publication", "/studio/questions",
    "/studio/questions/new", "/studio/questions/health_other", "/studio/questions/preview/health", "/studio/country",
)  # fmt: skip
POSTS = (
    "/studio/rules/scar_age", "/studio/rules/scar_age/restoring", "/studio/rules/publication", "/studio/questions",
    "/studio/questions/contact_phone/leaving-out", "/studio/questions/contact_phone/restoring",
)  # fmt: skip


def test_every_row_of_the_trade_facts_has_a_rule_or_an_advice() -> None:
    assert rows_covered(RULE_SET) == frozenset(range(1, 80))


def test_each_rule_is_told_whole_in_words_without_a_key_among_them() -> None:
    for rule in RULE_SET.rules:
        words = rule_words(rule, QUESTION_SET)
        said = " ".join((*words.trigger, words.touches, words.consequence, words.wait, words.lifts, words.source))
        assert group_of(rule, QUESTION_SET)
        assert short_words(rule).endswith(".")
        assert not re.search(r"[a-z]_[a-z]", said), f"{rule.id}: {said}"
        assert "The question " not in said, f"{rule.id}: {said}"


def test_each_question_is_told_in_words_without_a_key_among_them() -> None:
    for question in QUESTION_SET.questions:
        said = f"{answered_words(question)} {required_words(question)} {asked_words(question, QUESTION_SET)}"
        assert said.strip().endswith("."), said
        assert not re.search(r"[a-z]_[a-z]", said), f"{question.key}: {said}"


def test_what_differs_between_two_forms_of_a_rule_or_question_is_named() -> None:
    rule, question = RULE_SET.rule("scar_age"), QUESTION_SET.question("pregnant")
    assert changed_fields(rule, rule) == ()
    assert changed_fields(rule, replace(rule, wait=Interval(18, "months"), title="Young")) == (
        ("Length of time", "12 months", "18 months"),
        ("Title", "Scar is young", "Young"),
    )
    assert len(changed_fields(rule, replace(rule, last_reviewed="2027"))) == 1
    assert question_fields(question, replace(question, hint="As of today")) == (("Hint", "", "As of today"),)
    assert len(question_fields(question, replace(question, topic="health"))) == 1
    assert question_fields(None, question) == (("The question", "not asked", "asked"),)


def test_the_list_shows_every_rule_and_its_search_finds_some(service: Service, browse: Browse) -> None:
    owner = browse("owner")
    page = owner.get("/studio/rules").text
    for rule in RULE_SET.rules:
        assert f'href="/studio/rules/{rule.id}"' in page
    assert "speak to 79 lines" in page
    assert "no coffee" in page
    found = owner.get("/studio/rules?words=haemoglob%20lidocaine").text
    assert 'href="/studio/rules/numbing_reaction"' not in found
    found = owner.get("/studio/rules?words=lidocaine").text + owner.get("/studio/rules?words=FDA%20numbing").text
    assert 'href="/studio/rules/numbing_reaction"' in found
    assert 'href="/studio/rules/scar_age"' not in found
    group = owner.get("/studio/rules", params={"group": "Allergies"}).text
    assert 'href="/studio/rules/latex_allergy"' in group
    assert 'href="/studio/rules/scar_age"' not in group
    assert "No rule has these words" in owner.get("/studio/rules?words=zzzz").text


def test_only_the_owner_reads_and_changes_rules_questions_and_country(service: Service, browse: Browse) -> None:
    for name in ("tomas", "desk"):
        browser = browse(name)
        assert [browser.get(path).status_code for path in PAGES] == [404] * len(PAGES)
        assert [browser.post(path, data={**LONGER, **ADDED}).status_code for path in POSTS] == [404] * len(POSTS)
    owner = browse("owner")
    assert [owner.get(path).status_code for path in PAGES] == [200] * len(PAGES)
    for path in ("/studio/rules/no_such_rule", "/studio/questions/nothing", "/studio/questions/preview/nothing"):
        assert owner.get(path).status_code == 404
    assert owner.post("/studio/rules/no_such_rule", data=LONGER).status_code == 404
    assert owner.get("/studio/rules/publications/1").status_code == 404


def test_an_owner_changes_a_rule_publishes_it_and_takes_it_back(service: Service, browse: Browse) -> None:
    owner = browse("owner")
    assert owner.post("/studio/rules/scar_age", data=LONGER).headers["location"] == "/studio/rules/scar_age"
    page = owner.get("/studio/rules/scar_age").text
    assert "From the next publication" in page
    assert "Our scars took longer" in page
    assert "1 change not yet in use" in owner.get("/studio/rules").text
    listed = owner.get("/studio/rules?only=changed").text
    assert "From the next publication: Waits 24 months." in listed
    assert 'href="/studio/rules/burn_age"' not in listed
    waiting = owner.get("/studio/rules/publication").text
    mark = re.search(r'name="mark" value="(\w+)"', waiting)
    assert mark is not None
    assert owner.post("/studio/rules/publication", data={"note": "After our review", "mark": "x"}).status_code == 422
    sent = owner.post("/studio/rules/publication", data={"note": "After our review", "mark": mark[1]})
    assert sent.headers["location"] == "/studio/rules/publication"
    assert "Nothing waits" in owner.get("/studio/rules/publication").text
    assert "Waits 24 months." in owner.get("/studio/rules/scar_age").text
    assert "24 months" in owner.get("/studio/rules/publications/1").text
    assert owner.post("/studio/rules/scar_age/restoring").status_code == 303
    assert "Taken back by" in owner.get("/studio/rules/scar_age").text
    assert owner.post("/studio/rules/scar_age/restoring").status_code == 422
    with service.database.read() as db:
        assert db.exec(select(RuleChange)).one().ended_at is not None
        assert db.exec(select(Publication)).one().note == "After our review"
    assert {"intake.rule.changed", "intake.rules.published", "intake.rule.restored"} <= set(trail(service))


def test_a_change_of_a_rule_that_is_gone_is_listed_until_it_is_taken_back(service: Service, browse: Browse) -> None:
    owner = browse("owner")
    change = RuleChangeOf("gone_rule", None, "talk", "Before the new version")
    with service.database.write() as db, entry(db, "intake.rule.changed", SYSTEM):
        body = canonical(rule_change_to_dict(change))
        db.add(RuleChange(rule=change.rule_id, body=body, reason=change.reason, changed_at=NOW))
    page = owner.get("/studio/rules/publication").text
    assert "Gone rule" in page
    assert publishing.RULE_GONE in page
    assert "cannot be taken over" in owner.get("/studio/rules").text
    sent = owner.post("/studio/rules/gone_rule/restoring", data={"from": "publication"})
    assert sent.headers["location"] == "/studio/rules/publication"
    assert "Gone rule" not in owner.get("/studio/rules/publication").text


def test_below_the_cautious_default_a_warning_is_read_first_and_what_was_typed_stays(
    service: Service, browse: Browse
) -> None:
    owner = browse("owner")
    page = owner.post("/studio/rules/scar_age", data=SHORTER)
    assert page.status_code == 422
    assert "Shorter than the cautious default" in page.text
    assert 'value="6"' in page.text
    assert "Our scars took longer</textarea>" in page.text
    ticked = re.search(r'id="f_read_warning" name="read_warning" value="(\w+)"', page.text)
    assert ticked is not None
    other = owner.post("/studio/rules/scar_age", data={**SHORTER, "amount": "3", "read_warning": ticked[1]})
    assert other.status_code == 422, "a warning that was read for another length"
    assert owner.post("/studio/rules/scar_age", data={**SHORTER, "read_warning": ticked[1]}).status_code == 303


@pytest.mark.parametrize(
    ("rule_id", "wrong", "field"),
    [
        ("scar_age", {"reason": ""}, "reason"),
        ("scar_age", {"amount": "many"}, "amount"),
        ("scar_age", {"amount": "70"}, "amount"),
        ("scar_age", {"consequence": "test_patch"}, "consequence"),
        ("scar_age", {"consequence": "nothing"}, "consequence"),
        ("scar_age", {"amount": "12"}, "consequence"),
        ("isotretinoin", {"amount": "5"}, "amount"),
        ("diabetes", {"consequence": "stop_until_proof"}, "amount"),
    ],
)
def test_a_change_out_of_bounds_comes_back_with_what_was_typed(
    service: Service, browse: Browse, rule_id: str, wrong: dict[str, str], field: str
) -> None:
    page = browse("owner").post(f"/studio/rules/{rule_id}", data={**LONGER, **wrong})
    assert page.status_code == 422
    assert f'id="f_{field}_error"' in page.text
    assert f'value="{wrong.get("amount", "24")}"' in page.text
    with service.database.read() as db:
        assert db.exec(select(RuleChange)).all() == []


@pytest.mark.parametrize("rule_id", ["under_age", "needs_guardian", "skin_cancer", "future_laser"])
def test_what_cannot_be_changed_has_no_form_and_says_why(service: Service, browse: Browse, rule_id: str) -> None:
    owner = browse("owner")
    page = owner.get(f"/studio/rules/{rule_id}").text
    assert "Why it cannot be changed" in page
    assert "<textarea" not in page
    assert owner.post(f"/studio/rules/{rule_id}", data={**LONGER, "consequence": "talk"}).status_code == 422


def test_an_owner_adds_a_question_sees_it_as_a_client_and_ends_it(service: Service, browse: Browse) -> None:
    owner = browse("owner")
    to = owner.post("/studio/questions", data={**ADDED, "wording_de": "Wer hat operiert?"}).headers["location"]
    assert to == "/studio/questions/own_1"
    assert "Asked from the next publication" in owner.get(to).text
    assert "Wer hat operiert?" in owner.get("/studio/questions/preview/health?language=de").text
    assert "Who operated on you?" in owner.get("/studio/questions/preview/health?language=fr").text
    assert "The question" in owner.get("/studio/rules/publication").text
    assert owner.post("/studio/questions/own_1/restoring").headers["location"] == to
    assert "Ended" in owner.get(to).text
    assert "Who operated on you?" in owner.get("/studio/questions").text
    assert owner.post("/studio/questions/own_1/restoring").status_code == 422
    assert {"intake.question.added", "intake.question.restored"} <= set(trail(service))


def test_a_question_is_written_in_the_language_of_the_studio_at_least(service: Service, browse: Browse) -> None:
    page = browse("owner").post("/studio/questions", data={**ADDED, "wording_en": "", "wording_fr": "Qui a opéré ?"})
    assert page.status_code == 422
    assert 'id="f_wording_en_error"' in page.text
    assert "Qui a opéré ?" in page.text
    wrong = browse("owner").post("/studio/questions", data={**ADDED, "topic": "scar_now", "reason": ""})
    assert 'id="f_reason_error"' in wrong.text
    wrong = browse("owner").post("/studio/questions", data={**ADDED, "topic": "scar_now"})
    assert 'id="f_topic_error"' in wrong.text


def test_only_an_optional_question_that_is_not_about_safety_is_left_out(service: Service, browse: Browse) -> None:
    owner = browse("owner")
    assert owner.post("/studio/questions/pregnant/leaving-out", data={"reason": "Private"}).status_code == 422
    assert "It always stays" in owner.get("/studio/questions/pregnant").text
    assert owner.post("/studio/questions/contact_phone/leaving-out", data={"reason": " "}).status_code == 422
    sent = owner.post("/studio/questions/contact_phone/leaving-out", data={"reason": "Nobody uses it"})
    assert sent.status_code == 303
    assert "Not asked any more from the next publication" in owner.get("/studio/questions/contact_phone").text
    assert owner.post("/studio/questions/contact_phone/leaving-out", data={"reason": "Again"}).status_code == 422
    assert owner.post("/studio/questions/contact_phone/restoring").status_code == 303
    with service.database.read() as db:
        assert db.exec(select(QuestionChange)).one().reason == "Nobody uses it"
    assert "intake.question.left_out" in trail(service)


def test_the_country_page_gives_each_value_with_its_source_and_is_no_legal_advice(
    service: Service, browse: Browse
) -> None:
    page = browse("owner").get("/studio/country").text
    assert "This is not legal advice" in page
    assert "116 123" in page
    assert "check locally" in page.lower()
    assert "25 November 2026" in page
