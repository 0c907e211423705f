"""Several photos sent from one page while the network comes and goes."""

import re

import pytest
from playwright.sync_api import BrowserContext, FilePayload, Route, expect
from sqlmodel import select

from app.demo.cast import Crew
from app.platform.service import Service
from app.records.models import Photo
from app.records.upload_forms import PIECE_SIZE
from app.studio import actions as studio_actions
from app.studio.access import cookie_name
from tests.flows.browser import DESK, OFFLINE, Watch, chromium
from tests.flows.live import live
from tests.records.cast import begin
from tests.records.test_uploads import camera_photo

pytestmark = [pytest.mark.browser, pytest.mark.long]


def lose_the_network_once(context: BrowserContext) -> None:
    """The network goes as the second piece of all is sent."""
    sent: list[str] = []

    def pass_on(route: Route) -> None:
        sent.append(route.request.url)
        if len(sent) == 2:
            context.set_offline(True)
        route.continue_()

    context.route("**/pieces/*", pass_on)


def test_photos_go_on_by_themselves_after_a_lost_network_and_faults_stand_beside_them(
    service: Service, crew: Crew
) -> None:
    begun, watch, content = begin(service, crew), Watch(), camera_photo(1200)
    watch.ignored.append(OFFLINE)
    assert len(content) > PIECE_SIZE
    with service.database.write() as db:
        sign_in = studio_actions.sign_in(db, crew.tomas)
    with live(service) as address, chromium() as browser:
        context = watch.context(browser, address, **DESK)
        context.add_cookies([{"name": cookie_name(service), "value": sign_in, "url": address}])
        page = context.new_page()
        page.goto(f"/zones/{begun.zone.id}/photos/new")
        lose_the_network_once(context)
        files: list[FilePayload] = [
            {"name": "front.jpg", "mimeType": "image/jpeg", "buffer": content},
            {"name": "report.jpg", "mimeType": "image/jpeg", "buffer": b"%PDF-1.7 report"},
        ]
        page.set_input_files("[name=photos]", files)
        page.check("[name=purpose][value=settled]", force=True)
        page.get_by_role("button", name="Add").click()
        said, lines = page.locator("[data-upload-said]"), page.locator("[data-upload-list] li")
        expect(said).to_contain_text("The network is gone")
        expect(lines.first).to_contain_text("goes on by itself")
        context.set_offline(False)
        expect(said).to_have_text(re.compile("1 of 2 photos are in"))
        expect(lines.nth(0)).to_contain_text("Look at front.jpg")
        expect(lines.nth(1)).to_contain_text("Not in: This is a PDF")
    with service.database.read() as db:
        assert [photo.purpose for photo in db.exec(select(Photo)).all()] == ["settled"]
    assert watch.faults == []
