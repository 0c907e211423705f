"""Telephone numbers as people paste them, and what becomes of those that cannot be read."""

from collections.abc import Callable

import pytest
from sqlmodel import col, select

from app.platform.audit import SYSTEM, entry
from app.platform.service import Service
from app.records import actions, forms
from app.records.models import Client
from app.records.phone_duty import read_phones
from app.records.phones import phone_of
from tests.conftest import Browser
from tests.records.cast import trail_of

Browse = Callable[[str], Browser]
LONDON = "+442079460018"


@pytest.mark.parametrize(("typed", "region", "key"), [
    ("020 7946 0018", "GB", LONDON), ("+44 20 7946 0018", "", LONDON), ("+44 (0)20 7946-0018", "FR", LONDON),
    ("0044 20 7946 0018", "IE", LONDON), ("tel:+44-20-7946-0018", "", LONDON), ("٠٢٠ ٧٩٤٦ ٠٠١٨", "GB", LONDON),
    ("(087) 765 4321", "IE", "+353877654321"), ("06 12 34 56 78", "FR", "+33612345678"),
    ("030/901820", "DE", "+4930901820"), ("612 34 56 78", "ES", "+34612345678"),
    ("(415) 555-2671", "US", "+14155552671"), ("0412 345 678", "AU", "+61412345678"),
])  # fmt: skip
def test_pasted_formats_of_many_countries_are_one_number(typed: str, region: str, key: str) -> None:
    found = phone_of(typed, region)
    assert found is not None
    assert found.key == key
    again = phone_of(found.words)  # what is on file is read without knowing the country
    assert again is not None
    assert again.key == key


@pytest.mark.parametrize("typed", ["12", "087 765", "ask at the desk 3", "+999 1234", "1" * 61, "020 7946 0018"])
def test_a_number_is_not_guessed_at(typed: str) -> None:
    assert phone_of(typed, "XX") is None


def _client(service: Service) -> Client:
    with service.database.read() as db:
        return db.exec(select(Client).order_by(col(Client.id).desc())).one()


def test_a_number_is_kept_in_international_form_and_found_however_it_is_typed(
    service: Service, browse: Browse
) -> None:
    browser = browse("desk")
    browser.post("/clients", data={"name": "Ana Reyes", "phone": "(087) 765-4321"})
    row = _client(service)
    assert (row.phone, row.phone_key) == ("+353 87 765 4321", "+353877654321")
    for words in ("087 765", "0877654321", "+353 87", "00353 87 765", "+353 (0)87 765 4321", "353-87"):
        assert "Ana Reyes" in browser.get("/clients", params={"q": words}).text, words


def test_a_number_that_cannot_be_read_is_kept_as_typed_and_said(service: Service, browse: Browse) -> None:
    browser = browse("desk")
    address = browser.post("/clients", data={"name": "Ana Reyes", "phone": "flat 3, ring 12 34"}).headers["location"]
    row = _client(service)
    assert (row.phone, row.phone_key) == ("flat 3, ring 12 34", "")
    assert forms.PHONE_DOUBT in browser.get(address).text


def test_what_has_no_digit_is_refused_and_not_lost(browse: Browse) -> None:
    answer = browse("desk").post("/clients", data={"name": "Ana Reyes", "phone": "by letter"})
    assert answer.status_code == 422
    assert forms.PHONE_DOUBT in answer.text
    assert 'value="by letter"' in answer.text


def test_numbers_filed_before_are_read_by_a_duty_once(service: Service) -> None:
    with service.database.write() as db:
        row = actions.add_client(db, forms.NewClient(name="Old Record"), by=SYSTEM)
        actions.add_client(db, forms.NewClient(name="Unread", phone="ring 12"), by=SYSTEM)
        with entry(db, "test.number.filed_before", SYSTEM):
            row.phone = "087 765 4321"
            db.add(row)
    assert read_phones(service) == 1
    assert read_phones(service) == 0
    assert trail_of(service, "records.client.phone_read") == 1
    with service.database.read() as db:
        assert db.get_one(Client, row.id).phone_key == "+353877654321"
