import json
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from app.demo.cast import Crew
from app.intake import publication_pages, publishing, queries, rule_actions
from app.intake.models import Finding, Publication, RuleSet, Screening, Submission
from app.intake.question_list import QUESTION_SET
from app.intake.questions import fingerprint
from app.intake.rule_forms import AddQuestion, ChangeRule, warning_mark
from app.intake.rule_set import RULE_SET
from app.intake.rules import rule_set_to_dict
from app.intake.screening import screening_to_dict
from app.platform import clock
from app.platform.audit import Actor, AuditEntry
from app.platform.forms import Refused
from app.platform.service import Service
from tests.conftest import NOW
from tests.intake.course import Browse, come_in, open_course, send_link, submitted
from tests.intake.healthy import healthy, healthy_scar

LASTED = ChangeRule(amount=24, unit="months", consequence="wait", reason="Our scars took longer")
SURGEON = AddQuestion(
    topic="health", kind="text", required="no", wording_en="Who operated on you?", wording_de="Wer hat operiert?",
    reason="To ask for old reports",
)  # fmt: skip
YOUNG = healthy(healthy_scar(happened="2024-10"))  # 17 months old on the day of these tests


def changed(service: Service, by: Actor, rule_id: str = "scar_age", form: ChangeRule = LASTED) -> None:
    with service.database.write() as db:
        rule_actions.change_rule(db, rule_id, form, by=by)


def published(service: Service, by: Actor, words: str = "After our review") -> Publication:
    with service.database.write() as db:
        return publishing.publish(db, words, by=by)


def findings(service: Service, screening_id: int) -> set[str]:
    with service.database.read() as db:
        return {row.rule for row in db.exec(select(Finding).where(Finding.screening_id == screening_id)).all()}


def as_stored(db: Session, screening: Screening) -> Any:
    return json.loads(screening.result)


def test_without_a_publication_the_shipped_rules_and_questions_count(service: Service) -> None:
    with service.database.read() as db:
        in_use = publishing.current(db)
    assert (in_use.rule_set, in_use.questions, in_use.publication) == (RULE_SET, QUESTION_SET, None)


def test_a_change_counts_from_the_next_publication_and_not_before(service: Service, crew: Crew) -> None:
    owner = crew.by("ines")
    changed(service, owner)
    with service.database.read() as db:
        assert publishing.current(db).rule_set == RULE_SET
        page = publication_pages.publication_page(db)
        assert [(item.key, item.by_program) for item in page.differences] == [("scar_age", False)]
        assert ("Length of time", "12 months", "24 months") in page.differences[0].lines
    first = submitted(service, open_course(service, crew, "Robin Ash"), YOUNG)
    publication = published(service, owner)
    second = submitted(service, open_course(service, crew, "Alex Rowan"), YOUNG)
    assert "scar_age" not in findings(service, first)
    assert "scar_age" in findings(service, second)
    with service.database.read() as db:
        old, new = db.get_one(Screening, first), db.get_one(Screening, second)
        assert old.rule_set_hash == RULE_SET.version
        assert new.rule_set_hash == publication.rule_set_hash
        stored = db.get_one(RuleSet, publication.rule_set_hash)
        assert fingerprint(json.loads(stored.body)) == stored.hash
        assert (
            db.exec(select(AuditEntry).where(AuditEntry.action == "intake.rules.published")).one().actor_id == owner.id
        )


def test_an_old_submission_made_again_under_its_own_version_gives_the_same(service: Service, crew: Crew) -> None:
    owner, on = crew.by("ines"), date(2026, 3, 16)
    first = submitted(service, open_course(service, crew, "Robin Ash"), YOUNG)
    changed(service, owner)
    with service.database.write() as db:
        rule_actions.add_question(db, SURGEON, by=owner)
        rule_actions.leave_out(db, "contact_phone", "Nobody uses it", by=owner)
    published(service, owner)
    second = submitted(service, open_course(service, crew, "Alex Rowan"), {**YOUNG, "own_1": "Dr. Elm"})
    with service.database.write() as db:
        rule_actions.restore_rule(db, "scar_age", by=owner)
        rule_actions.restore_question(db, "own_1", by=owner)
    published(service, owner, "Back again")
    with service.database.read() as db:
        for screening_id in (first, second):
            screening = db.get_one(Screening, screening_id)
            again = screening_to_dict(queries.screened_on(db, screening, on))
            assert again == as_stored(db, screening)
            submission = db.get_one(Submission, screening.submission_id)
            assert (submission.questions_version == QUESTION_SET.version) == (screening_id == first)
        assert publishing.current(db).rule_set.version == RULE_SET.version


def test_an_own_question_is_asked_its_answer_is_read_and_a_hidden_one_is_not_asked(
    service: Service, crew: Crew, browse: Browse
) -> None:
    owner = crew.by("ines")
    with service.database.write() as db:
        assert rule_actions.add_question(db, SURGEON, by=owner).key == "own_1"
        rule_actions.leave_out(db, "contact_phone", "Nobody uses it", by=owner)
    published(service, owner)
    with service.database.read() as db:
        asked = publishing.current(db).questions
        assert "contact_phone" not in asked.keys
        assert asked.question("own_1").in_language("de").wording == "Wer hat operiert?"
        assert asked.question("own_1").in_language("fr").wording == "Who operated on you?"
    screening_id = submitted(service, open_course(service, crew), {**healthy(), "own_1": "Dr. Elm"})
    with service.database.read() as db:
        read = db.exec(select(Finding).where(Finding.rule == "read_own_1")).one()
        assert (read.screening_id, read.kind, read.allows) == (screening_id, "caution", "full")
    sheet = browse("tomas").get(f"/screenings/{screening_id}").text
    assert "Dr. Elm" in sheet
    assert "Who operated on you?" in sheet
    quiet = submitted(service, open_course(service, crew, "Alex Rowan"), healthy())
    assert "read_own_1" not in findings(service, quiet)


def test_a_form_asked_earlier_is_screened_without_the_rules_about_what_it_did_not_ask(
    service: Service, crew: Crew
) -> None:
    with service.database.write() as db:
        rule_actions.add_question(db, SURGEON, by=crew.by("ines"))
    published(service, crew.by("ines"))
    with service.database.read() as db:
        in_use = publishing.current(db)
    assert publishing.rules_for(in_use, in_use.questions) is in_use.rule_set
    fewer = publishing.rules_for(in_use, QUESTION_SET)
    assert {rule.id for rule in in_use.rule_set.rules} - {rule.id for rule in fewer.rules} == {"read_own_1"}


def test_nothing_new_is_not_published_and_neither_is_what_nobody_looked_at(service: Service, crew: Crew) -> None:
    with pytest.raises(Refused), service.database.write() as db:
        publishing.publish(db, "Nothing", by=crew.by("ines"))
    with service.database.read() as db:
        seen = publication_pages.publication_page(db).mark
    changed(service, crew.by("ines"))
    with pytest.raises(Refused) as refused, service.database.write() as db:
        publishing.publish(db, "Seen before the change", mark=seen, by=crew.by("ines"))
    assert refused.value.message == publishing.CHANGED_MEANWHILE


def test_a_shorter_or_milder_rule_is_taken_only_when_the_warning_for_it_was_read(service: Service, crew: Crew) -> None:
    shorter = ChangeRule(amount=6, unit="months", consequence="wait", reason="Flat scars")
    other = warning_mark(RULE_SET.rule("scar_age"), shorter.model_copy(update={"amount": 3}))
    for read in ("", "yes", other):
        with pytest.raises(Refused) as refused:
            changed(service, crew.by("ines"), "scar_age", shorter.model_copy(update={"read_warning": read}))
        assert refused.value.name == "read_warning"
    mark = warning_mark(RULE_SET.rule("scar_age"), shorter)
    changed(service, crew.by("ines"), "scar_age", shorter.model_copy(update={"read_warning": mark}))
    with service.database.read() as db:
        assert [publishing.change_in(row).reason for row in publishing.standing_rule_changes(db)] == ["Flat scars"]


def test_a_legal_bar_is_not_changed(service: Service, crew: Crew) -> None:
    with pytest.raises(Refused):
        changed(service, crew.by("ines"), "under_age", ChangeRule(consequence="caution", reason="They asked"))


def test_a_new_version_of_the_program_waits_for_a_publication_and_names_what_does_not_fit(
    service: Service, crew: Crew, monkeypatch: pytest.MonkeyPatch
) -> None:
    owner = crew.by("ines")
    changed(service, owner)
    changed(service, owner, "eczema", ChangeRule(amount=2, unit="months", consequence="wait", reason="Careful"))
    with clock.stopped_at(NOW + timedelta(hours=1)):
        published(service, owner)
    # A later program: no rule on eczema any more, and another title.
    newer = tuple(
        replace(rule, title="Caught a cold") if rule.id == "ill" else rule
        for rule in RULE_SET.rules
        if rule.id != "eczema"
    )
    monkeypatch.setattr(publishing, "RULE_SET", replace(RULE_SET, rules=newer))
    with service.database.read() as db:
        assert "eczema" in {rule.id for rule in publishing.current(db).rule_set.rules}
        page = publication_pages.publication_page(db)
        assert [(item.kind, item.key) for item in page.left] == [("rule", "eczema")]
        assert {(item.key, item.by_program) for item in page.differences} == {("eczema", True), ("ill", True)}
    published(service, owner, "With the new version")
    with service.database.read() as db:
        now = publishing.current(db).rule_set
        wait = now.rule("scar_age").wait
        assert wait is not None
        assert wait.amount == 24
        assert now.rule("ill").title == "Caught a cold"
        assert "eczema" not in {rule.id for rule in now.rules}
        assert publication_pages.publication_page(db).left, "it stays listed until it is taken back"
        whole = publication_pages.whole_publication(db, 1)
        assert any(item.rule.id == "eczema" for _, rules in whole.groups for item in rules)


def test_forms_sent_under_the_shipped_rules_keep_them_whole(service: Service, crew: Crew) -> None:
    submitted(service, open_course(service, crew))
    with service.database.read() as db:
        stored = db.get_one(RuleSet, RULE_SET.version)
        assert json.loads(stored.body) == json.loads(json.dumps(rule_set_to_dict(RULE_SET)))


def test_the_key_of_an_ended_question_is_not_given_out_again(service: Service, crew: Crew) -> None:
    owner = crew.by("ines")
    with service.database.write() as db:
        rule_actions.add_question(db, SURGEON, by=owner)
        rule_actions.restore_question(db, "own_1", by=owner)
        assert rule_actions.add_question(db, SURGEON, by=owner).key == "own_2"


def test_a_client_is_asked_what_was_in_use_when_their_form_was_sent(service: Service, crew: Crew) -> None:
    before = come_in(service, send_link(service, open_course(service, crew, "Robin Ash"))[1])
    with service.database.write() as db:
        rule_actions.add_question(db, SURGEON.model_copy(update={"topic": "you"}), by=crew.by("ines"))
        rule_actions.leave_out(db, "contact_phone", "Nobody uses it", by=crew.by("ines"))
    published(service, crew.by("ines"))
    after = come_in(service, send_link(service, open_course(service, crew, "Alex Rowan"))[1])
    for browser, asks, asks_not in ((before, "contact_phone", "own_1"), (after, "own_1", "contact_phone")):
        page = browser.get("/intake/1").text
        assert f'name="{asks}"' in page
        assert f'name="{asks_not}"' not in page
