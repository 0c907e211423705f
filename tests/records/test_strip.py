import xml.etree.ElementTree as ET
from datetime import date, timedelta
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jinja2 import Environment, FileSystemLoader

from app.records.strip import Strip, StripReading, StripSession, StripZone, build
from app.records.strip_ink import WORDS_CONTRAST, contrast, grey_on, ink_on, shortened, words_width
from app.records.strip_shapes import Rect, Words

TEMPLATES = Path(__file__).parents[2] / "templates"
TODAY = date(2026, 11, 8)
SKIN = "#c49a7c"

elbow = StripZone(
    "Elbow",
    (
        StripReading(date(2026, 3, 3), "#e3c5b4", SKIN, "9 to 13 apart"),
        StripReading(date(2026, 6, 18), "#d6b29c", SKIN, "5 to 8 apart"),
    ),
    (
        StripSession(date(2026, 4, 1), "1st session"),
        StripSession(date(2026, 6, 20), "2nd"),
        StripSession(date(2026, 12, 5), "3rd"),
    ),
    ((date(2026, 4, 1), date(2026, 6, 10)), (date(2026, 6, 20), date(2026, 8, 29))),
    "judged good",
)


def rendered(strip: Strip) -> str:
    environment = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True)
    source = '{% from "shared/strip.html" import strip %}{{ strip(s) }}'
    return environment.from_string(source).render(s=strip)


def overlaps(one: Words, other: Words) -> bool:
    beside = one.right <= other.left or other.right <= one.left
    apart = (
        one.y + 0.25 * one.size <= other.y - 0.8 * other.size or other.y + 0.25 * other.size <= one.y - 0.8 * one.size
    )
    return not (beside or apart)


Box = tuple[float, float, float, float]


def covers(rect: Rect, box: Box) -> bool:
    """Whether a rectangle lies under a part of a box (rounding of 0.1 aside)."""
    across = rect.x + 0.1 < box[2] and box[0] < rect.x + rect.width - 0.1
    return across and rect.y < box[3] and box[1] < rect.y + rect.height


def hidden(rect: Rect, box: Box, strip: Strip) -> bool:
    """Whether a well is wholly painted over under a box, by skin from the box's left to its right."""
    over = sorted((one.x, one.x + one.width) for one in strip.grounds if one.fill != "none" and covers(one, box))
    reached = box[0]
    for left, right in over:
        reached = max(reached, right) if left <= reached + 0.2 else reached
    return rect in strip.wells and reached >= box[2] - 0.2


colours = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")
days = st.dates(date(2025, 6, 1), date(2027, 2, 1))
labels = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FFF, exclude_categories=["Cs", "Cc"]), max_size=40)
readings = st.builds(StripReading, days, colours, colours, labels)
sessions = st.builds(StripSession, days, labels, st.sampled_from(["full", "test_spot", "allergy_patch"]))
close = st.tuples(days, st.lists(st.integers(0, 12), max_size=12)).map(
    lambda both: tuple(StripSession(both[0] + timedelta(days=day), f"{day}th session") for day in both[1])
)
zones = st.builds(
    StripZone,
    labels,
    st.lists(readings, max_size=4).map(tuple),
    st.one_of(close, st.lists(sessions, max_size=6).map(tuple)),
    st.lists(st.tuples(days, days).map(lambda ends: (min(ends), max(ends))), max_size=3).map(tuple),
    labels,
)


@settings(max_examples=60, deadline=None)
@given(st.lists(zones, min_size=1, max_size=3), st.sampled_from([240, 360, 768, 1140]), st.booleans())
def test_words_never_touch_leave_the_picture_or_fade_into_the_skin(
    many: list[StripZone], width: int, compact: bool
) -> None:
    strip = build(many, today=TODAY, width=width, compact=compact)
    for words in strip.words:
        assert words.left >= 0
        assert words.right <= width
        assert words.y - 0.8 * words.size > 0
        assert words.y + 0.25 * words.size <= strip.height
        box = (words.left, words.y - 0.75 * words.size, words.right, words.y + 0.2 * words.size)
        for rect in (*strip.wells, *strip.grounds):
            if rect.fill != "none" and covers(rect, box) and not hidden(rect, box, strip):
                assert words.ink is not None
                assert contrast(words.ink, rect.fill) >= WORDS_CONTRAST
        for rule in (*strip.rules, *strip.today):
            assert not (box[0] < rule.x < box[2] and rule.top < box[3] and box[1] < rule.bottom)
    assert [pair for pair in combinations(strip.words, 2) if overlaps(*pair)] == []


@settings(max_examples=40, deadline=None)
@given(st.lists(zones, min_size=1, max_size=3), st.sampled_from([360, 1140]))
def test_every_session_is_named_on_the_strip_or_in_the_list_and_always_in_sentences(
    many: list[StripZone], width: int
) -> None:
    strip = build(many, today=TODAY, width=width)
    assert [note.number for note in strip.notes] == list(range(1, len(strip.notes) + 1))
    named = [words.words for words in strip.words] + [note.words for note in strip.notes]
    for zone in many:
        for session in zone.sessions:
            assert any(session.label in words for words in named)
            assert any(session.label in words for words in strip.sentences)


@settings(max_examples=40, deadline=None)
@given(st.lists(zones, min_size=1, max_size=3), st.sampled_from([240, 1140]))
def test_all_that_is_drawn_lies_inside_the_picture(many: list[StripZone], width: int) -> None:
    strip = build(many, today=TODAY, width=width)
    for rect in (*strip.wells, *strip.grounds):
        assert rect.x >= 0
        assert rect.x + rect.width <= width + 0.11
        assert rect.y + rect.height <= strip.height
    for rule in (*strip.rules, *strip.today, *strip.ticks):
        assert 0 <= rule.x <= width
        assert 0 <= rule.top < rule.bottom <= strip.height


@given(colours)
def test_any_skin_colour_has_an_ink_for_words_and_a_grey_for_hatching(ground: str) -> None:
    ink = ink_on((ground,))
    assert ink is not None
    assert contrast(ink, ground) >= WORDS_CONTRAST
    assert contrast(grey_on(ground), ground) >= 3


def test_contrast_agrees_with_the_published_ends() -> None:
    """W3C, WCAG 2.2: black on white is 21 to 1; #767676 is the lightest grey that passes 4.5 on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_a_reading_changes_the_strip_from_its_date_on() -> None:
    strip = build([elbow], today=TODAY, width=1140)
    filled = [rect for rect in strip.grounds if rect.fill in ("#e3c5b4", "#d6b29c")]
    assert [rect.fill for rect in filled] == ["#e3c5b4", "#d6b29c"]
    assert filled[0].x + filled[0].width == pytest.approx(filled[1].x, abs=0.11)


def test_what_was_never_measured_and_what_comes_next_are_outlined() -> None:
    strip = build([elbow], today=TODAY, width=1140)
    outlined = [rect for rect in strip.grounds if rect.stroke != "none"]
    assert [rect.dashed for rect in outlined] == [False, False, True, True]
    now = strip.today[0].x
    assert all(rect.x + rect.width <= now + 0.11 for rect in strip.grounds if rect.fill != "none")
    only = build([StripZone("Hand")], today=TODAY, width=400)
    assert {rect.fill for rect in only.grounds} == {"none"}
    assert only.sentences[0] == "Hand: not measured yet."


def test_a_planned_session_is_dashed_and_said_to_be_planned() -> None:
    strip = build([elbow], today=TODAY, width=1140)
    assert [rule.dashed for rule in strip.rules] == [False, False, True]
    assert "Elbow: 3rd on 5 December 2026, planned." in strip.sentences


def test_a_test_spot_is_cut_shorter_than_a_session() -> None:
    zone = StripZone("Arm", sessions=(StripSession(TODAY, "spot", "test_spot"), StripSession(TODAY, "work")))
    spot, work = build([zone], today=TODAY, width=600).rules
    assert work.top < spot.top < spot.bottom < work.bottom


def test_settling_is_hatched_within_the_band_only() -> None:
    strip = build([elbow], today=TODAY, width=1140)
    bands = [rect for rect in strip.grounds if rect.height == 20]
    numbers = [
        float(pair.split(" ")[1]) for hatch in strip.hatches for pair in hatch.path.replace("L", "M").split("M") if pair
    ]
    assert strip.hatches
    assert bands[0].y - 0.1 <= min(numbers)
    assert max(numbers) <= bands[0].y + 20.1


def test_a_wide_strip_carries_its_words_and_a_compact_one_numbers() -> None:
    wide = build([elbow], today=TODAY, width=1140)
    assert {"Elbow", "1st session", "2nd", "9 to 13 apart", "5 to 8 apart, judged good"} <= {
        w.words for w in wide.words
    }
    assert wide.notes == ()
    compact = build([elbow], today=TODAY, width=360, compact=True)
    assert "1st session" not in {w.words for w in compact.words}
    assert any("1st session" in note.words for note in compact.notes)


def test_sessions_close_together_become_a_numbered_list() -> None:
    many = tuple(StripSession(date(2026, 5, day), f"session {day}") for day in range(1, 9))
    strip = build([StripZone("Arm", sessions=many)], today=TODAY, width=1140)
    assert len(strip.rules) == 8
    assert [note.words for note in strip.notes][:2] == ["Arm: session 1, 1 May 2026", "Arm: session 2, 2 May 2026"]
    assert "session 8" in {words.words for words in strip.words}


def test_today_outside_the_picture_is_not_drawn() -> None:
    strip = build([elbow], today=TODAY, width=800, begin=date(2026, 3, 1), end=date(2026, 9, 1))
    assert strip.today == ()
    assert "today" not in {words.words for words in strip.words}


@pytest.mark.parametrize("colour", ["red", "#12345", "#1234567", 'url(#a)" onload="x'])
def test_what_is_no_colour_is_refused(colour: str) -> None:
    with pytest.raises(ValueError, match="not a colour"):
        StripReading(TODAY, colour, SKIN, "")


def test_a_strip_needs_a_zone_room_and_time() -> None:
    with pytest.raises(ValueError, match="one zone"):
        build([], today=TODAY, width=400)
    with pytest.raises(ValueError, match="200"):
        build([elbow], today=TODAY, width=100)
    with pytest.raises(ValueError, match="begins before"):
        build([elbow], today=TODAY, width=400, begin=TODAY, end=TODAY)


def test_words_are_shortened_to_the_room_they_have() -> None:
    assert shortened("Elbow", 14, 200) == "Elbow"
    short = shortened("Client's left forearm, the lower part", 14, 100)
    assert short.endswith("…")
    assert words_width(short, 14) <= 100


def test_the_macro_is_well_formed_escaped_and_free_of_inline_style() -> None:
    strip = build([StripZone('<b>"A" & B</b>', elbow.readings, elbow.sessions)], today=TODAY, width=360)
    html = rendered(strip)
    figure = ET.fromstring(html)
    picture = figure[0]
    assert picture.attrib["role"] == "img"
    title = picture.find("{http://www.w3.org/2000/svg}title")
    assert title is not None
    assert title.text == strip.title
    assert not [one for one in figure.iter() if "style" in one.attrib or "id" in one.attrib]
    assert [item.text for item in figure[-1]] == list(strip.sentences)
    assert "<b>" not in html
