from pathlib import Path

from app.platform.migrate import migrate
from app.platform.service import Service
from tests.conftest import browser_of, settings_for

GOOD = {
    "studio_name": "North Light",
    "country": "GB",
    "zone": "Europe/London",
    "name": "Mara Quill",
    "login": "mara",
    "password": "seven quiet herons",
}


def new_service(folder: Path) -> Service:
    service = Service.open(settings_for(folder / "data"))
    migrate(service.database)
    return service


def test_a_new_service_leads_to_first_run_and_founds_once(tmp_path: Path) -> None:
    service = new_service(tmp_path)
    browser = browser_of(service)
    assert browser.get("/").headers["location"] == "/first-run"
    assert browser.get("/sign-in").headers["location"] == "/first-run"
    wrong = browser.post("/first-run", data={**GOOD, "code": "0000-0000-0000"})
    assert wrong.status_code == 422
    assert "not the code" in wrong.text
    assert "North Light" in wrong.text
    right = browser.post("/first-run", data={**GOOD, "code": service.first_run_code})
    assert right.status_code == 303
    assert "North Light" in browser.get("/studio").text
    assert browser.get("/first-run").status_code == 404
    assert browser.post("/first-run", data={**GOOD, "code": service.first_run_code}).status_code == 404
    service.database.close()


def test_the_code_cannot_be_guessed_for_long(tmp_path: Path) -> None:
    service = new_service(tmp_path)
    browser = browser_of(service)
    for _ in range(10):
        browser.post("/first-run", data={**GOOD, "code": "0000-0000-0000"})
    late = browser.post("/first-run", data={**GOOD, "code": service.first_run_code})
    assert late.status_code == 422
    assert "Too many tries" in late.text
    service.database.close()


def test_what_is_wrong_stands_beside_its_field(tmp_path: Path) -> None:
    service = new_service(tmp_path)
    bad = {**GOOD, "code": service.first_run_code, "zone": "Europe/Nowhere", "password": "short"}
    answer = browser_of(service).post("/first-run", data=bad)
    assert answer.status_code == 422
    assert "Choose a time zone" in answer.text
    assert "short" not in answer.text.replace("shortcut", "")
    service.database.close()
