"""The owner's own wording of what is signed."""

from app.consents.text_queries import text_in_use
from app.consents.texts import TREATMENT
from app.demo.cast import Crew
from app.platform import languages
from app.platform.service import Service
from tests.intake.course import Browse, trail

LINE = "Before the work I was given what the labels of the pigments say."
OWN = {"body": f"# Ours\n- We work gently.\n- {LINE}", "reason": "Shorter"}
PATH = "/studio/texts/treatment/en"


def test_the_shipped_text_always_holds_the_lines_of_the_country(service: Service) -> None:
    with service.database.read() as db:
        text = text_in_use(db, "treatment", "en")
        declaration = text_in_use(db, "declaration", "en")
    assert text.text.startswith(TREATMENT.text)
    assert LINE in text.text
    assert LINE not in declaration.text


def test_an_owner_writes_a_version_and_earlier_ones_stay(service: Service, crew: Crew, browse: Browse) -> None:
    owner = browse("owner")
    assert LINE in owner.get(PATH).text
    assert owner.post(PATH, data=OWN).headers["location"] == "/studio/texts"
    assert owner.post(PATH, data={**OWN, "body": OWN["body"] + "\n- Ask us."}).status_code == 303
    with service.database.read() as db:
        assert "Ask us." in text_in_use(db, "treatment", "en").text
    assert "Shorter" in owner.get("/studio/texts").text
    page = owner.get(f"{PATH}/versions").text
    assert "1 line new." in page
    assert "<ins>Ask us.</ins>" in page
    assert "<del>" in owner.get(f"{PATH}/versions?before=0&after=1").text
    assert owner.get(f"{PATH}/versions?before=9").status_code == 404
    assert owner.post(f"{PATH}/shipped", data={"reason": ""}).status_code == 422
    assert owner.post(f"{PATH}/shipped", data={"reason": "Theirs is better"}).status_code == 303
    assert "already" in owner.post(f"{PATH}/shipped", data={"reason": "Again"}).text
    with service.database.read() as db:
        assert "Ask us." not in text_in_use(db, "treatment", "en").text
    assert {"consents.text.written", "consents.text.ended"} <= set(trail(service))


def test_a_wording_without_a_line_of_the_country_is_refused_and_names_it(
    service: Service, crew: Crew, browse: Browse
) -> None:
    owner = browse("owner")
    page = owner.post(PATH, data={"body": "- We work gently.", "reason": "Short"})
    assert page.status_code == 422
    assert 'id="f_body_error"' in page.text
    assert LINE in page.text.split('id="f_body_error"')[1][:300]
    assert "We work gently." in page.text
    assert owner.post(PATH, data={"body": OWN["body"], "reason": " "}).status_code == 422
    assert (
        owner.post("/studio/texts/declaration/en", data={"body": "- It is true.", "reason": "Short"}).status_code == 303
    )


def test_a_language_nobody_wrote_is_shown_in_english_with_a_notice(service: Service, browse: Browse) -> None:
    with service.database.read() as db:
        text = text_in_use(db, "treatment", "fr")
    if TREATMENT.text.splitlines()[1] in languages.catalogue("fr").texts:
        assert (text.language, text.notice) == ("fr", "")
    else:
        assert text.language == "en"
        assert "not there in your language" in text.notice
    browse("owner").post("/studio/texts/treatment/fr", data={"body": f"- Doucement.\n- {LINE}", "reason": "Français"})
    with service.database.read() as db:
        text = text_in_use(db, "treatment", "fr")
    assert (text.language, text.is_own, text.notice) == ("fr", True, "")
    assert "Doucement." in text.text


def test_only_the_owner_changes_texts_and_only_those_there_are(service: Service, browse: Browse) -> None:
    for who, status in (("tomas", 404), ("desk", 404), ("nobody", 303)):
        assert browse(who).get("/studio/texts").status_code == status
    assert browse("tomas").post(PATH, data=OWN).status_code == 404
    owner = browse("owner")
    for path in ("/studio/texts/treatment/xx", "/studio/texts/other/en"):
        assert owner.get(path).status_code == 404
        assert owner.post(path, data=OWN).status_code == 404
        assert owner.post(f"{path}/shipped", data={"reason": "x"}).status_code == 404
