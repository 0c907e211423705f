"""What is kept of a signature, confirmed on site, printed, and held against the record."""

import json
from datetime import date
from pathlib import Path

from sqlalchemy import text
from sqlmodel import Session

from app.check_command import check, check_paper, hash_in
from app.consents import checking, papers, queries
from app.consents.models import SiteCheck
from app.demo.cast import Crew
from app.platform.service import Service
from tests.consents.papers import DRAWN, born, shown_version, sign_drawn, signature_of
from tests.consents.test_signing import asked
from tests.intake.course import Browse, come_in, open_course, placed, submitted, trail

SEEN = {"identity_kind": "passport", "countersigned": "yes"}


def said(service: Service, given: str = "") -> tuple[int, str]:
    """What the command says."""
    words: list[str] = []
    say = lambda *parts: words.append(" ".join(map(str, parts)))  # noqa: E731  # a speaker that remembers
    code = check_paper(service.settings, given, say) if given else check(service.settings, say)
    return code, "\n".join(words)


def change(service: Service, statement: str) -> None:
    """Straight into the database, past the program, as somebody with a grudge would."""
    with service.database.engine.begin() as connection:
        connection.execute(text(statement))


def test_the_paper_holds_what_was_shown_word_for_word(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    born(service, course)
    signature = signature_of(service, sign_drawn(service, browse, course, teaching="no", numbing="yes"))
    held = json.loads(signature.paper)
    assert signature.paper_hash == papers.hash_of(signature.paper)
    assert held["client"] == {"name": "Robin Ash", "born_on": "1990-05-04"}
    assert [zone["name"] for zone in held["zones"]] == ["Forearm, on your left"]
    assert [each["kind"] for each in held["procedures"]] == ["full"]
    answers = {each["kind"]: each["answer"] for each in held["asked"]}
    assert (answers["treatment"], answers["teaching"], answers["numbing"], answers["website"]) == (
        "yes",
        "no",
        "yes",
        "",
    )
    assert any("Nobody can promise a result." in line for block in held["text"]["blocks"] for line in block["lines"])
    assert held["signed"]["strokes_sha256"] == papers.hash_of(signature.strokes)
    assert len(held["signed"]["drawing_sha256"]) == 64


def test_a_typed_name_says_why_and_bad_lines_are_refused(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    browser = come_in(service, asked(browse, course, placed(service, course)))
    typed = {"treatment": "yes", "typed_name": "Robin Ash"}
    assert 'id="f_typed_reason_error"' in browser.post("/signing", data=typed).text
    assert 'id="f_typed_words_error"' in browser.post("/signing", data={**typed, "typed_reason": "other"}).text
    assert browser.post("/signing", data={**DRAWN, "strokes": "[[1]]"}).status_code == 422
    done = browser.post("/signing", data={**typed, "typed_reason": "other", "typed_words": "My arm is in plaster"})
    assert done.status_code == 303
    assert signature_of(service, 1).typed_reason == "My arm is in plaster"


def test_a_text_that_changed_meanwhile_is_shown_again_before_it_is_signed(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    browser = come_in(service, asked(browse, course, placed(service, course)))
    version = shown_version(browser)
    line = "Before the work I was given what the labels of the pigments say."
    new = {"body": f"# Ours\n- We work gently.\n- {line}", "reason": "Shorter"}
    assert browse("owner").post("/studio/texts/treatment/en", data=new).status_code == 303
    again = browser.post("/signing", data={**DRAWN, "text_version": version})
    assert again.status_code == 422
    assert "The text was changed meanwhile" in again.text
    assert "We work gently." in again.text
    assert browser.post("/signing", data={**DRAWN, "text_version": shown_version(browser)}).status_code == 303
    assert "We work gently." in browse("tomas").get("/signatures/1").text


def test_the_permission_is_for_the_named_procedures_only(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    browser = come_in(service, asked(browse, course, zone, procedures=("test_spot",)))
    assert "Test spot: a few dots" in browser.get("/signing").text
    assert browser.post("/signing", data=DRAWN).status_code == 303
    with service.database.read() as db:
        assert queries.treatment_in_force(db, zone, date(2026, 3, 16), "test_spot") is not None
        assert queries.treatment_in_force(db, zone, date(2026, 3, 16), "full") is None
        assert queries.treatment_in_force(db, zone, date(2026, 3, 16)) is not None
    nothing = browse("tomas").post(f"/cases/{course.case_id}/signing", data={"zones": str(zone)})
    assert nothing.status_code == 422
    assert 'id="f_procedures_error"' in nothing.text


def test_who_signed_is_confirmed_on_site_once(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    number = sign_drawn(service, browse, course)
    tomas, path = browse("tomas"), f"/signatures/{number}/site-check"
    assert "There is no birth date" in tomas.post(path, data=SEEN).text
    born(service, course)
    assert "Tick this when you saw" in tomas.post(path, data={"identity_kind": "passport"}).text
    assert "what kind of document" in tomas.post(path, data={**SEEN, "identity_kind": "other"}).text
    assert tomas.post(path, data={"countersigned": "yes"}).status_code == 422
    with service.database.read() as db:
        permission = queries.permissions_of(db, course.client_id)[-1]
        assert not queries.is_confirmed(db, permission)
    assert tomas.post(path, data={**SEEN, "interpreter": "Ana Ruiz"}).status_code == 303
    with service.database.read() as db:
        assert queries.is_confirmed(db, permission)
        held = json.loads(db.get_one(SiteCheck, 1).paper)
    assert held["paper_hash"] == signature_of(service, number).paper_hash
    assert (held["countersigned"]["name"], held["interpreter"]) == (crew.tomas.name, "Ana Ruiz")
    assert "This has been confirmed already." in tomas.post(path, data=SEEN).text
    assert tomas.get(path).status_code == 303
    assert "Ana Ruiz" in tomas.get(f"/signatures/{number}").text
    assert browse("desk").get(path).status_code == 404
    assert "consents.site_check.countersigned" in trail(service)


def test_a_minor_signs_nothing_where_the_law_says_so_and_with_a_guardian_where_it_allows(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    zone = placed(service, course)
    barred = asked(browse, course, zone)
    born(service, course, date(2009, 6, 1))
    refused = browse("tomas").post(f"/cases/{course.case_id}/signing", data={"zones": str(zone), "procedures": "full"})
    assert refused.status_code == 422
    browser = come_in(service, barred)
    assert "you cannot sign this at your age" in browser.get("/signing").text
    assert "you cannot sign this at your age" in browser.post("/signing", data=DRAWN).text
    change(service, "UPDATE studios SET country = 'FR'")
    assert "parent or guardian signs, too" in browser.get("/signing").text
    assert browser.post("/signing", data=DRAWN).status_code == 303
    tomas, path = browse("tomas"), "/signatures/1/site-check"
    page = tomas.post(path, data=SEEN)
    assert "Write the guardian’s name." in page.text
    guardian = {"guardian_name": "Lee Ash", "guardian_relation": "mother", "guardian_identity": "passport"}
    assert "The guardian signs here, too." in tomas.post(path, data={**SEEN, **guardian}).text
    drawn = {"drawing": DRAWN["drawing"], "strokes": DRAWN["strokes"]}
    assert tomas.post(path, data={**SEEN, **guardian, **drawn}).status_code == 303
    assert tomas.get("/signatures/1/guardian-drawing").headers["content-type"] == "image/png"
    assert "Lee Ash" in tomas.get("/signatures/1").text
    assert tomas.get("/signatures/1/paper.pdf").content.startswith(b"%PDF-")
    assert said(service)[0] == 0


def test_the_pdf_is_the_same_each_time_and_its_hash_finds_the_record(
    service: Service, crew: Crew, browse: Browse, tmp_path: Path
) -> None:
    course = open_course(service, crew, name="Ελένη Łukasz 😀 " + "x" * 80)
    born(service, course)
    number = sign_drawn(service, browse, course)
    tomas = browse("tomas")
    made = tomas.get(f"/signatures/{number}/paper.pdf")
    assert made.headers["content-type"] == "application/pdf"
    assert made.content == tomas.get(f"/signatures/{number}/paper.pdf").content
    digest = signature_of(service, number).paper_hash
    assert hash_in(made.content) == digest
    file = tmp_path / "paper.pdf"
    file.write_bytes(made.content)
    code, words = said(service, str(file))
    assert (code, "byte for byte what the record prints." in words) == (0, True), words
    assert said(service, papers.grouped(digest))[0] == 0
    assert "no paper with this check sum" in said(service, "0" * 64)[1]
    assert said(service, "hello")[0] == 1
    tomas.post(f"/signatures/{number}/site-check", data=SEEN)
    code, words = said(service, str(file))
    assert code == 1
    assert "not byte for byte" in words
    assert browse("desk").get(f"/signatures/{number}/paper.pdf").status_code == 404
    assert browse("nobody").get(f"/signatures/{number}/paper.pdf").status_code == 303


FORGERIES = {
    "the paper": "UPDATE signatures SET paper = REPLACE(paper, 'Robin', 'Rabin') WHERE id = 1",
    "the hash": "UPDATE signatures SET paper_hash = REPLACE(paper_hash, SUBSTR(paper_hash, 1, 8), '00000000')",
    "the name": "UPDATE signatures SET typed_name = 'Somebody' WHERE id = 1",
    "the time": "UPDATE signatures SET signed_at = '2026-01-01 00:00:00+00:00'",
    "the lines": "UPDATE signatures SET strokes = '[[[1.0,1.0]]]' WHERE id = 1",
    "the picture": "UPDATE blobs SET sha256 = REPLACE(sha256, SUBSTR(sha256, 1, 8), '00000000')",
    "the text": "UPDATE documents SET text = REPLACE(text, 'permanent', 'temporary')",
    "an answer": "UPDATE permissions SET is_granted = NOT is_granted WHERE kind = 'website'",
    "a zone": "DELETE FROM permission_zones",
    "an answer taken away": "DELETE FROM permissions WHERE kind = 'website'",
    "the site check": "UPDATE site_checks SET identity_kind = 'other'",
    "the trail": "UPDATE signatures SET id = 77",
}


def test_whatever_is_changed_behind_the_programs_back_is_found(service: Service, crew: Crew, browse: Browse) -> None:
    course = open_course(service, crew)
    born(service, course)
    sign_drawn(service, browse, course, website="no")
    browse("tomas").post("/signatures/1/site-check", data=SEEN)
    code, words = said(service)
    assert (code, "1 signed papers with 1 checks on site" in words) == (0, True), words
    unfound = []
    for what, statement in FORGERIES.items():
        with service.database.engine.connect() as connection:
            if what == "the trail":
                connection.execute(text("DELETE FROM site_checks"))
                connection.execute(text("DELETE FROM permission_zones"))
                connection.execute(text("DELETE FROM permissions"))
                connection.execute(text("UPDATE signing_requests SET signature_id = NULL"))
            connection.execute(text(statement))
            try:
                checking.check_papers(Session(bind=connection))
                unfound.append(what)
            except checking.Changed:
                connection.rollback()
    assert unfound == []
    assert said(service)[0] == 0


def test_a_paper_forged_together_with_its_hash_is_betrayed_by_the_trail(
    service: Service, crew: Crew, browse: Browse
) -> None:
    sign_drawn(service, browse, open_course(service, crew), website="no")
    forged = signature_of(service, 1).paper.replace('"answer":"no"', '"answer":"yes"')
    with service.database.engine.begin() as connection:
        connection.execute(
            text("UPDATE signatures SET paper = :paper, paper_hash = :hash WHERE id = 1"),
            {"paper": forged, "hash": papers.hash_of(forged)},
        )
    change(service, "UPDATE permissions SET is_granted = NOT is_granted WHERE kind = 'website'")
    code, words = said(service)
    assert code == 1
    assert "what was signed as number 1 was changed: its hash is not the one in the trail" in words


def test_what_was_signed_before_papers_were_kept_stays_valid_and_is_counted(
    service: Service, crew: Crew, browse: Browse
) -> None:
    course = open_course(service, crew)
    number = sign_drawn(service, browse, course)
    change(service, "UPDATE signatures SET paper = '', paper_hash = '', strokes = ''")
    code, words = said(service)
    assert (code, "1 signed before papers were kept" in words) == (0, True), words
    with service.database.read() as db:
        assert queries.is_confirmed(db, queries.permissions_of(db, course.client_id)[0])
    tomas = browse("tomas")
    assert "Signed before papers were kept" in tomas.get(f"/signatures/{number}").text
    assert tomas.get(f"/signatures/{number}/paper.pdf").content.startswith(b"%PDF-")
    assert tomas.get(f"/signatures/{number}/site-check").status_code == 404


def test_the_answers_of_a_form_are_those_under_its_declaration(service: Service, crew: Crew) -> None:
    course = open_course(service, crew)
    submitted(service, course)
    assert said(service)[0] == 0
    change(service, "UPDATE submissions SET answers = REPLACE(answers, 'no', 'na')")
    code, words = said(service)
    assert code == 1
    assert "are not those that were signed" in words
