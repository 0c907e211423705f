"""Outlining with nothing but keys: Tab to what is meant, arrows for the cross, space for a point, enter to close."""

import numpy as np
from playwright.sync_api import Page, expect

from tests.flows.steps import Points

REACH = 80  # this many presses of Tab pass everything on a page
BIG, SMALL = 10, 1  # pixels of the screen that an arrow moves the cross, with shift and without


def tab_to(page: Page, is_meant: str) -> None:
    """Presses Tab until what has the focus fits; `is_meant` is an expression over `here`."""
    for _ in range(REACH):
        if page.evaluate(f"(here => {is_meant})(document.activeElement)"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never came to {is_meant}")


def press(page: Page, words: str) -> None:
    tab_to(page, f"here.localName === 'button' && here.innerText.trim() === '{words}'")
    page.keyboard.press("Enter")


def outline(page: Page, around: Points) -> None:
    """Four points: the topmost, rightmost, lowest and leftmost of an outline, drawn in a little."""
    tab_to(page, "here.classList.contains('outline-stage')")
    for x, y in _four(around):
        _move(page, float(x), float(y))
        page.keyboard.press("Space")
    page.keyboard.press("Enter")
    expect(page.locator(".outline-said")).to_contain_text("Outline closed.")


def _four(around: Points) -> Points:
    middle = around.mean(axis=0)
    ends = [around[np.argmin(around[:, 1])], around[np.argmax(around[:, 0])],
            around[np.argmax(around[:, 1])], around[np.argmin(around[:, 0])]]  # fmt: skip
    four: Points = middle + (np.array(ends) - middle) * 0.8
    return four


def _move(page: Page, x: float, y: float) -> None:
    """Arrows until the cross stands there. Where it stands now is read off the two lines that draw it."""
    unit, now_x, now_y = page.evaluate("""() => {
        const stage = document.querySelector('.outline-stage');
        const unit = 1 / stage.getScreenCTM().a;
        const [, x, y] = stage.querySelector('g > path:last-of-type').getAttribute('d').match(/^M(\\S+) (\\S+?)h/);
        return [unit, Number(x) + 14 * unit, Number(y)];
    }""")
    arrows(page, round((x - now_x) / unit), round((y - now_y) / unit))


def arrows(page: Page, right: int, down: int) -> None:
    """Moves the cross, or what is chosen, by pixels of the screen."""
    for far, forth, back in ((right, "ArrowRight", "ArrowLeft"), (down, "ArrowDown", "ArrowUp")):
        pixels = abs(far)
        for step, key in ((BIG, "Shift+"), (SMALL, "")):
            for _ in range(pixels // step):
                page.keyboard.press(key + (forth if far > 0 else back))
            pixels %= step
