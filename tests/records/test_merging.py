"""Two records become one person's and two again, and nothing of either is lost or shown to whoever may not see it."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

import pytest
from sqlmodel import Session, select

from app.consents import actions as consents
from app.consents import queries as consent_queries
from app.demo.cast import Crew
from app.intake import actions as intake
from app.intake import merging as person_merging
from app.messages import actions as messages
from app.messages import queries as message_queries
from app.messages.sending import claim_next, prepare
from app.platform import clock, links
from app.platform.audit import SYSTEM
from app.platform.forms import Refused
from app.platform.service import Service
from app.records import actions, doubles, forms, merging, queries
from app.records.models import Case, Client, Merge
from app.records.tasks import plan_task, task_for, tasks_due
from app.studio.access import NotFound, Who
from tests.conftest import NOW, Browser, browser_of
from tests.records.cast import trail_of

Browse = Callable[[str], Browser]
BORN = "1990-05-14"


@dataclass(frozen=True)
class Two:
    """Anna Lind, who came back as Anna Berg: each with a case of her own."""

    lind: int
    berg: int
    lind_case: Case
    berg_case: Case


def record(service: Service, crew: Crew, name: str, *, restricted: bool = False, **details: str) -> tuple[int, Case]:
    with service.database.write() as db:
        form = forms.NewClient.model_validate({"name": name, **details})
        client = actions.add_client(db, form, by=crew.by("tomas"))
        new = forms.NewCase(title=f"Place of {name}", lead_id=crew.tomas.id or 0, is_restricted=restricted)
        return client.id or 0, actions.open_case(db, client, new, by=crew.by("tomas"))


@pytest.fixture
def two(service: Service, crew: Crew) -> Two:
    lind, lind_case = record(service, crew, "Anna Lind", born_on=BORN, phone="087 765 4321", email="old@example.org")
    berg, berg_case = record(service, crew, "Anna Berg", born_on=BORN, email="new@example.org", restricted=True)
    return Two(lind, berg, lind_case, berg_case)


def merge(service: Service, kept: int, merged: int) -> int:
    with service.database.write() as db:
        row = person_merging.merge(db, db.get_one(Client, kept), db.get_one(Client, merged), "She married", by=SYSTEM)
        return row.id or 0


def undo(service: Service, merge_id: int) -> None:
    with service.database.write() as db:
        person_merging.undo(db, db.get_one(Merge, merge_id), "A namesake", by=SYSTEM)


def test_the_likely_same_person_is_offered_to_everybody_and_can_be_compared(browse: Browse, two: Two) -> None:
    for name in ("tomas", "desk"):
        page = browse(name).get(f"/clients/{two.berg}").text
        assert "Perhaps the same person as Anna Lind" in page
        assert "the same date of birth" in page
        both = browse(name).get(f"/clients/{two.berg}/same/{two.lind}").text
        for words in ("Anna Lind", "Anna Berg", "+353 87 765 4321", "new@example.org"):
            assert words in both
        assert "Place of" not in both  # cases stand there by their numbers
    assert "Merge the two" not in browse("desk").get(f"/clients/{two.berg}/same/{two.lind}").text


def test_a_client_just_added_is_held_against_those_on_file(browse: Browse, two: Two) -> None:
    browser = browse("desk")
    answer = browser.post("/clients", data={"name": "A. Lind", "phone": "+353 (0)87 765 4321"})
    assert "Perhaps the same person as Anna Lind" in browser.get(answer.headers["location"]).text


def test_merging_asks_which_is_kept_and_how_it_is_known(service: Service, browse: Browse, two: Two) -> None:
    address = f"/clients/{two.lind}/same/{two.berg}"
    assert browse("tomas").post(address, data={"keep": str(two.berg), "why": " "}).status_code == 422
    wrong = browse("tomas").post(address, data={"keep": "999", "why": "She married"})
    assert wrong.status_code == 422
    assert 'value="She married"' in wrong.text
    assert browse("desk").post(address, data={"keep": str(two.berg), "why": "x"}).status_code == 404
    answer = browse("tomas").post(address, data={"keep": str(two.berg), "why": "She married"})
    assert answer.headers["location"] == f"/clients/{two.berg}"
    page = browse("tomas").get(f"/clients/{two.lind}").text  # an old address leads to the kept record
    assert "<h1>Anna Berg</h1>" in page
    assert "Also on file as Anna Lind, +353 87 765 4321, old@example.org" in page
    assert trail_of(service, "records.client.merged") == trail_of(service, "intake.person.graded") == 1


def test_the_kept_client_shows_both_histories(service: Service, crew: Crew, browse: Browse, two: Two) -> None:
    with service.database.write() as db:
        for client_id, kind in ((two.lind, "latex"), (two.lind, "may_faint"), (two.berg, "latex")):
            actions.raise_alert(db, client_id, kind=kind, words=f"Words of {kind}", audience="setup", source="intake",
                                by=SYSTEM)  # fmt: skip
        plan_task(db, unique_key="t/1", client_id=two.lind, case_id=None, kind="talk", words="Ring her", address="",
                  due_on=NOW.date(), by=SYSTEM)  # fmt: skip
    merge(service, two.berg, two.lind)
    page = browse("tomas").get(f"/clients/{two.berg}").text
    assert f"Case {two.lind_case.number}, Place of Anna Lind" in page
    assert f"Case {two.berg_case.number}, Place of Anna Berg" in page
    assert page.count("Words of latex</strong>") == 1
    assert "Words of may_faint" in page
    assert "Anna Berg" in browse("tomas").get(f"/cases/{two.lind_case.id}").text
    tomas = Who(crew.tomas.id or 0, "Tomas", "artist", 1)
    with service.database.read() as db:
        [line] = tasks_due(db, tomas, NOW.date())
        assert line.client.name == "Anna Berg"
        assert queries.person_ids(db, two.lind) == queries.person_ids(db, two.berg) == (two.berg, two.lind)
        [alert] = [one for one in queries.alerts_of(db, two.lind, medical=False) if one.kind == "latex"]
    with service.database.write() as db:
        actions.end_alert(db, alert, "Mixed up", by=SYSTEM)  # ended for the person, not for one record
    assert "Words of latex" not in browse("tomas").get(f"/clients/{two.berg}").text


@pytest.mark.parametrize("words", ["lind", "berg", "anna lind", "lind berg", "0877654321", "old@example"])
def test_words_of_either_name_find_the_one_that_was_kept(
    service: Service, browse: Browse, two: Two, words: str
) -> None:
    merge(service, two.berg, two.lind)
    page = browse("desk").get("/clients", params={"q": words}).text
    assert page.count("Anna Berg</a>") == 1
    assert "Anna Lind</a>" not in page
    assert f"<td>{two.lind_case.number}, {two.berg_case.number}</td>" in page


def test_merging_shows_no_restricted_case_to_others(service: Service, crew: Crew, browse: Browse, two: Two) -> None:
    with service.database.write() as db:
        task = plan_task(db, unique_key="t/1", client_id=two.lind, case_id=None, kind="talk", words="Ring", address="",
                         due_on=NOW.date(), by=SYSTEM)  # fmt: skip
    ruth = Who(crew.ruth.id or 0, "Ruth", "artist", 1)
    with service.database.read() as db:
        assert task_for(db, ruth, task.id or 0)
    both = browse("ruth").get(f"/clients/{two.lind}/same/{two.berg}").text
    assert f"<td>{two.lind_case.number}</td>" in both
    assert f"<td>{two.berg_case.number}</td>" not in both
    merge(service, two.lind, two.berg)
    page = browse("ruth").get(f"/clients/{two.lind}").text
    assert "Place of Anna Lind" in page
    assert "Place of Anna Berg" not in page
    assert browse("ruth").get(f"/cases/{two.berg_case.id}").status_code == 404
    with service.database.read() as db:
        assert not consent_queries.opens_every_case(db, ruth, two.lind)
        with pytest.raises(NotFound):  # it may be about the restricted case now
            task_for(db, ruth, task.id or 0)


def _allow_letters(db: Session, client_id: int, granted: bool) -> None:
    document = consents.keep_document(db, "declaration", f"test-{client_id}", "Text", by=SYSTEM)
    signature = consents.sign(db, client_id, document, typed_name="Anna", drawing=None, by=SYSTEM)
    consents.answer(db, client_id, "reminders_email", granted, signature, by=SYSTEM)


def _plan(db: Session, client_id: int, key: str, due_on: date) -> None:
    messages.plan(db, unique_key=key, client_id=client_id, template="outcome_6m", purpose="", subject_id=0,
                  due_on=due_on, time_zone="Europe/Dublin", opens_at="09:00", by=SYSTEM)  # fmt: skip


def test_permissions_take_the_newest_answer_over_both(service: Service, two: Two) -> None:
    with service.database.write() as db:
        _allow_letters(db, two.berg, True)
    with clock.stopped_at(NOW + timedelta(hours=1)), service.database.write() as db:
        _allow_letters(db, two.lind, False)
    merge_id = merge(service, two.berg, two.lind)
    with service.database.read() as db:
        assert not consent_queries.is_granted(db, two.berg, "reminders_email")
    undo(service, merge_id)
    with service.database.read() as db:
        assert consent_queries.is_granted(db, two.berg, "reminders_email")


def test_a_message_to_the_merged_goes_to_the_kept_and_one_a_day_holds_over_both(service: Service, two: Two) -> None:
    with service.database.write() as db:
        _allow_letters(db, two.berg, True)
        _plan(db, two.lind, "m/1", NOW.date())
        _plan(db, two.berg, "m/2", NOW.date())
    merge(service, two.berg, two.lind)
    with service.database.write() as db:
        _plan(db, two.lind, "m/3", NOW.date())
    first = claim_next(service)
    assert first is not None
    assert claim_next(service) is None  # the other record's waits for another day
    prepared = prepare(service, first)
    assert prepared is not None
    assert prepared[0].to == "new@example.org"
    with service.database.read() as db:
        days = [row.due_on for row in message_queries.planned_for(db, two.berg)]
    assert max(days) == NOW.date() + timedelta(days=1)


def test_a_link_of_the_merged_record_still_opens(service: Service, two: Two) -> None:
    with service.database.write() as db:
        _, token = intake.ask(db, db.get_one(Case, two.lind_case.id), by=SYSTEM)
    merge(service, two.berg, two.lind)
    browser = browser_of(service)
    assert browser.post(f"/l/{token}").status_code == 303
    assert browser.get("/intake").status_code == 200
    with service.database.read() as db:
        link = db.exec(select(links.Link)).one()
        assert link.client_id == two.lind  # nothing was moved


def test_undoing_makes_two_people_again_each_with_what_was_theirs(
    service: Service, crew: Crew, browse: Browse, two: Two
) -> None:
    with service.database.write() as db:
        actions.raise_alert(db, two.lind, kind="latex", words="Latex-free room.", audience="setup", source="intake",
                            by=SYSTEM)  # fmt: skip
    before = [re.sub(r'name="csrf".*', "", browse("tomas").get(f"/clients/{one}").text) for one in (two.lind, two.berg)]
    merge_id = merge(service, two.berg, two.lind)
    browser = browse("tomas")
    assert "She married" in browser.get("/merges").text
    assert browse("desk").get("/merges").status_code == 404
    assert browser.post(f"/merges/{merge_id}/undoing", data={"why": ""}).status_code == 422
    assert browser.post(f"/merges/{merge_id}/undoing", data={"why": "A namesake"}).status_code == 303
    after = [re.sub(r'name="csrf".*', "", browser.get(f"/clients/{one}").text) for one in (two.lind, two.berg)]
    assert after == before
    assert "A namesake" in browser.get("/merges").text
    assert browser.get(f"/merges/{merge_id}/undoing").status_code == 404
    assert trail_of(service, "records.merge.undone") == 1


def test_merged_records_are_merged_on_and_taken_apart_one_by_one(service: Service, crew: Crew, two: Two) -> None:
    third, _ = record(service, crew, "Anna Moss", born_on=BORN)
    first = merge(service, two.berg, two.lind)
    merge(service, third, two.berg)
    with service.database.read() as db:
        assert queries.person_ids(db, two.lind) == (third, two.berg, two.lind)
        assert {row.id for row in queries.kept_clients(db, [two.lind, two.berg]).values()} == {third}
    undo(service, first)
    with service.database.read() as db:
        assert queries.person_ids(db, two.lind) == (two.lind,)
        assert queries.person_ids(db, third) == (third, two.berg)


def test_whoever_merges_the_other_way_round_meanwhile_is_refused_in_words(
    service: Service, browse: Browse, two: Two
) -> None:
    address = f"/clients/{two.lind}/same/{two.berg}"
    assert browse("tomas").post(address, data={"keep": str(two.lind), "why": "Same"}).status_code == 303
    answer = browse("owner").post(address, data={"keep": str(two.berg), "why": "Same"})
    assert answer.status_code == 422
    assert "Somebody merged one of these records meanwhile" in answer.text
    with service.database.read() as db:
        assert queries.person_ids(db, two.berg) == (two.lind, two.berg)
        assert len(db.exec(select(Merge)).all()) == 1


def test_a_record_is_never_merged_into_itself_or_in_a_circle(service: Service, two: Two) -> None:
    merge(service, two.berg, two.lind)
    for kept, merged in ((two.lind, two.berg), (two.berg, two.berg)):
        with pytest.raises(Refused), service.database.write() as db:
            merging.merge(db, db.get_one(Client, kept), db.get_one(Client, merged), "x", by=SYSTEM)


def test_a_hold_is_not_lost_by_merging(service: Service, browse: Browse, two: Two) -> None:
    browse("tomas").post(f"/clients/{two.lind}/hold", data={"reason": "Moving house"})
    address = f"/clients/{two.lind}/same/{two.berg}"
    answer = browse("tomas").post(address, data={"keep": str(two.berg), "why": "Same"})
    assert answer.status_code == 422
    assert "is on hold and this one is not" in answer.text


def test_two_people_are_not_offered_again(service: Service, browse: Browse, two: Two) -> None:
    answer = browse("desk").post(f"/clients/{two.lind}/different/{two.berg}")
    assert answer.headers["location"] == f"/clients/{two.lind}"
    for one in (two.lind, two.berg):
        assert "Perhaps the same person" not in browse("desk").get(f"/clients/{one}").text
    assert "Anna Lind and Anna Berg" in browse("tomas").get("/merges").text
    assert trail_of(service, "records.client.told_apart") == 1
    with service.database.read() as db:
        assert doubles.doubles_of(db, two.lind) == []


def test_an_edit_of_a_record_merged_meanwhile_changes_nothing(service: Service, browse: Browse, two: Two) -> None:
    merge(service, two.berg, two.lind)
    sent = {"name": "Anna L.", "revision": "1", "language": "en"}
    assert browse("tomas").post(f"/clients/{two.lind}", data=sent).status_code == 409
    with service.database.read() as db:
        assert [db.get_one(Client, one).name for one in (two.lind, two.berg)] == ["Anna Lind", "Anna Berg"]


def test_strangers_find_no_comparison(browse: Browse, two: Two) -> None:
    assert browse("nobody").get(f"/clients/{two.lind}/same/{two.berg}").status_code == 303
    assert browse("tomas").get(f"/clients/{two.lind}/same/999").status_code == 404
    assert browse("tomas").get(f"/clients/{two.lind}/same/{two.lind}").status_code == 404
    assert browse("tomas").post(f"/clients/{two.lind}/different/999").status_code == 404
