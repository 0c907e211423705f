"""Filling in the form as two kinds of people do: with nothing but taps, or with nothing but keys. Fields are found by
their names, so that the same hands work in every language."""

import re
from collections.abc import Callable, Mapping

from playwright.sync_api import Page, expect

from tests.flows.keyboard import tab_to

Hand = Callable[[Page, str, str], None]
MOST_OPTIONS = 60


def tap(page: Page, name: str, value: str) -> None:
    """A finger: on the words of a choice, or into a field and then on the keys of the screen."""
    field = page.locator(f'main [name="{name}"]').first
    if field.evaluate("here => here.type") in ("radio", "checkbox"):
        page.locator("label.tap").filter(has=page.locator(f'[name="{name}"][value="{value}"]')).tap()
    elif field.evaluate("here => here.localName") == "select":
        field.tap()
        field.select_option(value)  # the device's own picker stands over the page
    else:
        field.tap()
        field.press_sequentially(value)


def press(page: Page, name: str, value: str) -> None:
    """Keys: Tab to the field, arrows and space for a choice."""
    tab_to(page, f"here.name === '{name}'")
    kind = page.evaluate("document.activeElement.type")
    if kind == "radio":
        page.keyboard.press("Space")
        _arrow_to(page, value)
    elif kind == "checkbox":
        tab_to(page, f"here.name === '{name}' && here.value === '{value}'")
        page.keyboard.press("Space")
    elif kind == "select-one":
        _arrow_to(page, value)
    else:
        page.keyboard.type(value)


def _arrow_to(page: Page, value: str) -> None:
    for _ in range(MOST_OPTIONS):
        if page.evaluate("document.activeElement.value") == value:
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError(f"the arrows never came to {value}")


def tap_on(page: Page) -> None:
    page.locator(".actions button[value=on]").tap()


def press_on(page: Page) -> None:
    tab_to(page, "here.value === 'on' && here.closest('.actions') !== null")
    page.keyboard.press("Enter")


def fill(page: Page, answers: Mapping[str, Mapping[str, list[str]]], hand: Hand, on: Callable[[Page], None]) -> None:
    """Page after page from wherever the form stands, until the check."""
    for _ in range(40):
        address = page.evaluate("location.pathname").rsplit("/", 1)[1]
        if address == "check":
            return
        assert address in answers, f"an unexpected page: {page.url}"
        for name, values in answers[address].items():
            if not is_answered(page, name):
                for value in values:
                    hand(page, name, value)
        here = re.compile(re.escape(page.url) + "$")
        on(page)
        expect(page).not_to_have_url(here, timeout=15_000)
    raise AssertionError("the form never came to its end")


def is_answered(page: Page, name: str) -> bool:
    field = page.locator(f'main [name="{name}"]')
    if field.first.evaluate("here => here.type") in ("radio", "checkbox"):
        return page.locator(f'main [name="{name}"]:checked').count() > 0
    return field.first.input_value() != ""


def says(page: Page, words: str) -> None:
    """The page says so where it says what is kept."""
    expect(page.locator("[data-saved]")).to_contain_text(re.compile(words), timeout=10_000)
