"""The rules of consents on plain values: lines, required lines, comparing, ages, hashes, what can be printed."""

import json
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.consents import papers, texts
from app.consents.ages import age_rule
from app.consents.compared import compared, in_words
from app.consents.strokes import MAX_LINES, MAX_POINTS, Unreadable, read_strokes
from app.platform.pdf import make_pdf, printable
from app.studio.country import FR, GB


def test_lines_are_kept_to_a_tenth_of_a_pixel_and_nothing_beside_them() -> None:
    assert read_strokes("[[[1,2.26],[3.04,4]]]") == "[[[1.0,2.3],[3.0,4.0]]]"
    assert read_strokes("") == ""
    assert read_strokes("[]") == ""


@pytest.mark.parametrize(
    "text",
    [
        "{}", "[", "[1]", "[[]]", "[[[1]]]", "[[[1,2,3]]]", '[[["1",2]]]', "[[[true,2]]]", "[[[NaN,2]]]",
        "[[[Infinity,2]]]", "[[[1e99,2]]]", "[" * 9000, "[[[1,2]]]" + " " * 200_000,
        json.dumps([[[0, 0]]] * (MAX_LINES + 1)), json.dumps([[[0, 0]] * (MAX_POINTS + 1)]),
    ],
)  # fmt: skip
def test_what_are_no_lines_of_a_signature_is_refused(text: str) -> None:
    with pytest.raises(Unreadable):
        read_strokes(text)


@given(st.lists(st.lists(st.tuples(st.floats(0, 9999), st.floats(0, 9999)), min_size=1, max_size=5), max_size=5))
def test_reading_lines_twice_changes_nothing(lines: list[list[tuple[float, float]]]) -> None:
    once = read_strokes(json.dumps(lines))
    assert read_strokes(once) == once


def test_a_required_line_is_found_word_for_word_and_added_where_it_lacks() -> None:
    text = "# Heading\n- I am 18\nyears old.\n- More."
    assert texts.missing_lines(text, ["I am 18 years old.", "I was told."]) == ("I was told.",)
    whole = texts.with_required(text, ["I am 18 years old.", "I was told."])
    assert whole.endswith(f"# {texts.REQUIRED_HEADING}\n- I was told.")
    assert texts.with_required(whole, ["I was told."]) == whole
    assert texts.missing_lines("- Me lo dijeron.", ["I was told."], {"I was told.": "Me lo dijeron."}) == ()


def test_a_text_is_translated_whole_or_not_at_all() -> None:
    known = {"Heading": "Überschrift", "A point.": "Ein Punkt."}
    assert texts.translated_text("# Heading\n- A point.", known) == "# Überschrift\n- Ein Punkt."
    assert texts.translated_text("# Heading\n- A point.\nAnother.", known) is None


def test_two_versions_are_compared_line_by_line_in_words() -> None:
    changes = compared(
        "# A\n- You may stop at any moment.\n- Gone.", "# A\n- You may stop whenever you like.\n- It is new."
    )
    assert [change.kind for change in changes] == ["kept", "reworded", "new", "left_out"]
    assert in_words(changes) == "1 line new, 1 line left out, 1 line said in other words."
    assert in_words(compared("a", "a")) == "The two are the same."


def test_the_pack_bars_or_asks_for_a_guardian_to_the_day() -> None:
    day = date(2026, 3, 16)
    assert age_rule(date(2008, 3, 17), day, GB).is_barred
    assert not age_rule(date(2008, 3, 16), day, GB).is_barred
    minor, adult = age_rule(date(2008, 3, 17), day, FR), age_rule(date(2008, 3, 16), day, FR)
    assert (minor.is_barred, minor.needs_guardian) == (False, True)
    assert (adult.is_barred, adult.needs_guardian) == (False, False)
    assert age_rule(date(2008, 2, 29), date(2026, 2, 28), GB).is_barred
    assert not age_rule(date(2008, 2, 29), date(2026, 3, 1), GB).is_barred
    assert age_rule(None, day, GB).is_unknown


def test_a_hash_typed_from_paper_is_read_with_its_gaps() -> None:
    digest = papers.hash_of("x")
    assert papers.typed_hash(papers.grouped(digest).upper()) == digest
    assert papers.typed_hash(digest[:-1]) == ""
    assert papers.typed_hash("z" * 64) == ""


def test_everything_that_was_shown_changes_the_hash() -> None:
    def digest(**more: object) -> str:
        shown = papers.Shown(asked=papers.asked_words(("teaching",), (("teaching", True),)))
        signed = papers.Signed(datetime(2026, 3, 16, tzinfo=UTC), "Robin", "", "", "")
        whole = {
            "studio": "S", "client": "Robin", "born_on": date(1990, 1, 1), "kind": "treatment", "version": "1",
            "text": "# A", "language": "en", "shown": shown, "signed": signed, **more,
        }  # fmt: skip
        return papers.hash_of(json.dumps(papers.content(**whole), sort_keys=True))  # type: ignore[arg-type]  # one of each at a time

    first = digest()
    others = [
        digest(client="Robyn"), digest(born_on=None), digest(text="# B"), digest(language="es"), digest(studio="T"),
        digest(shown=papers.Shown()), digest(shown=papers.Shown(procedures=("full",))),
        digest(shown=papers.Shown(zones=[papers.ZoneShown(1, "Arm")])),
        digest(signed=papers.Signed(datetime(2026, 3, 17, tzinfo=UTC), "Robin", "", "", "")),
        digest(signed=papers.Signed(datetime(2026, 3, 16, tzinfo=UTC), "Robin", "why", "", "")),
        digest(signed=papers.Signed(datetime(2026, 3, 16, tzinfo=UTC), "Robin", "", "", "[[[1.0,2.0]]]")),
    ]  # fmt: skip
    assert digest() == first
    assert len({first, *others}) == len(others) + 1


def test_no_name_vanishes_from_paper() -> None:
    assert printable("Ελένη Łukasz Ñuñez Иван مريم O’Shea") == "Ελένη Łukasz Ñuñez Иван مريم O’Shea"
    assert printable("Ann 😀") == "Ann [grinning face]"
    assert printable("中文") == "[U+4E2D][U+6587]"
    assert printable("a\x07b\u200dc") == "abc"


def test_what_was_typed_is_no_command_on_paper(tmp_path_factory: pytest.TempPathFactory) -> None:
    data = {
        "title": '#panic("x") $x$ *b*', "lang": "en", "keyword": "k", "date": [2026, 3, 16, 10, 0, 0], "foot": "f",
        "studio": '#read("/etc/passwd")', "facts": [["Client", "#import \"@preview/x:1.0.0\": *"]], "notice": "",
        "zones": [], "procedures": [], "blocks": [], "asked": [], "standing": "", "drawing": [], "guardian": [],
        "signed": [], "hash": "", "site": [], "site_hash": "", "since": [],
        "words": dict.fromkeys(("about", "answered", "signature", "drawn", "guardian_drawn", "hash", "hash_hint",
                                "before", "site", "site_hash", "since"), "w"),
    }  # fmt: skip
    made = make_pdf("consents/paper.typ", data)
    assert made.startswith(b"%PDF-")
    assert made == make_pdf("consents/paper.typ", data)
