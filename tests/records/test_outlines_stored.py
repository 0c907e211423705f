"""Outlines as W3C annotations with SVG selectors: what was written is read back, and nothing else of SVG is taken."""

import json
import time
import xml.etree.ElementTree as ElementTree
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.colour.geometry import Piece
from app.records import selectors
from app.records.outlines import for_page, read_outlines
from app.records.selectors import CONTEXT, Outlines, read, write

TENTHS = st.integers(0, 80_000).map(lambda n: n / 10)
RINGS = st.lists(st.tuples(TENTHS, TENTHS), min_size=3, max_size=8).map(lambda points: np.array(points))
PIECES = st.builds(Piece, RINGS, st.lists(RINGS, max_size=2).map(tuple))
REGIONS = st.lists(PIECES, min_size=1, max_size=3).map(tuple)
SQUARE = Piece(np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0]]))


def lists(pieces: tuple[Piece, ...]) -> list[list[Any]]:
    return [[ring.tolist() for ring in piece.rings] for piece in pieces]


@settings(max_examples=25, deadline=None)
@given(scar=REGIONS, skin=REGIONS)
def test_what_was_written_is_read_back_to_a_tenth_of_a_pixel(
    scar: tuple[Piece, ...], skin: tuple[Piece, ...]
) -> None:
    text = write(Outlines(scar, skin))
    back = read(text)
    assert (lists(back.scar), lists(back.skin)) == (lists(scar), lists(skin))
    assert write(back) == text


def test_a_selector_is_an_svg_that_others_can_read() -> None:
    hole = np.array([[10.0, 5.0], [30.0, 5.0], [30.0, 20.25]])
    page = json.loads(write(Outlines((Piece(SQUARE.outer, (hole,)), SQUARE), (SQUARE,)), "photos/7"))
    assert page["@context"] == CONTEXT
    assert [item["body"]["value"] for item in page["items"]] == ["scar", "skin"]
    assert page["items"][0]["target"]["source"] == "photos/7"
    svg = ElementTree.fromstring(page["items"][0]["target"]["selector"]["value"])
    assert [path.get("d") for path in svg] == [
        "M 0 0 L 40 0 L 40 40 Z M 10 5 L 30 5 L 30 20.2 Z",
        "M 0 0 L 40 0 L 40 40 Z",
    ]
    assert {path.get("fill-rule") for path in svg} == {"evenodd"}


def test_outlines_filed_before_there_were_holes_are_read() -> None:
    old = '{"scar":[[[10.0,10.0],[90.0,10.0],[50.0,90.0]]],"skin":[[[1.5,2.0],[3.0,2.0],[3.0,9.0]]]}'
    found = read(old)
    assert lists(found.scar) == [[[[10.0, 10.0], [90.0, 10.0], [50.0, 90.0]]]]
    assert lists(found.skin) == [[[[1.5, 2.0], [3.0, 2.0], [3.0, 9.0]]]]


def with_svg(svg: str) -> str:
    page = json.loads(write(Outlines((SQUARE,), (SQUARE,))))
    page["items"][0]["target"]["selector"]["value"] = svg
    return json.dumps(page)


def path(d: str) -> str:
    return f'{selectors.OPENS}<path fill-rule="evenodd" d="{d}"/>{selectors.CLOSES}'


GOOD = "M 0 0 L 40 0 L 40 40 Z"


@pytest.mark.parametrize(
    "svg",
    [
        "",
        selectors.OPENS + selectors.CLOSES,
        path(""),
        path("M 0 0 L 40 0 Z"),  # two points
        path("M 0 0 L 40 0 L 40 40"),  # not closed
        path("m 0 0 l 40 0 l 40 40 z"),
        path("M 0 0 C 1 1 2 2 3 3 L 40 40 Z"),
        path("M 0 0 L 4e5 0 L 40 40 Z"),
        path("M 0 0 L -4 0 L 40 40 Z"),
        path("M 0 0 L 1234567 0 L 40 40 Z"),
        path("M 0 0  L 40 0 L 40 40 Z"),
        path(GOOD + " " + GOOD + "x"),
        path(" ".join([GOOD] * 40)),  # more holes than a piece may have
        path(GOOD).replace("<path", "<path onload='x()'"),
        path(GOOD).replace("</svg>", "<script>alert(1)</script></svg>"),
        path(GOOD).replace("<path", "<image href='http://example.org/x'/><path"),
        f"<!DOCTYPE svg [<!ENTITY a 'b'>]>{path(GOOD)}",
        path(GOOD) + " ",
        path(GOOD).replace("evenodd", "nonzero"),
        selectors.OPENS + path(GOOD)[len(selectors.OPENS) : -len(selectors.CLOSES)] * 41 + selectors.CLOSES,
    ],
)  # fmt: skip
def test_any_other_svg_is_refused(svg: str) -> None:
    with pytest.raises(ValueError, match=r"selector|path"):
        read(with_svg(svg))
    assert read(with_svg(path(GOOD))).scar[0].outer.shape == (3, 2)


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", "null", '{"items": []}', "[" * 5000, '{"scar": [[[1, 2], [3, null], [4, 5]]], "skin": []}',
     '{"scar": [[[1, 2], [3, 1e999], [4, 5]]], "skin": [[[1, 2], [3, 4], [4, 5]]]}',
     json.dumps({"@context": CONTEXT, "type": "AnnotationPage", "items": [{"body": 1}, {"target": []}]})],
)  # fmt: skip
def test_any_other_json_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"outlines|annotation|outline"):
        read(text)


def test_a_long_hostile_path_is_refused_at_once() -> None:
    began = time.perf_counter()
    for tail in ("L 1 1 " * 60_000, "M 0 0 L 1 0 " * 40_000, "1 " * 200_000):
        with pytest.raises(ValueError, match=r"path|selector"):
            read(with_svg(path("M 0 0 " + tail + "Q")))
    assert time.perf_counter() - began < 1.0


def square(x: float, y: float, side: float) -> list[list[float]]:
    return [[x, y], [x + side, y], [x + side, y + side], [x, y + side]]


SKIN = [{"outer": square(300, 10, 60), "holes": []}]


def test_a_page_gets_back_what_it_sent() -> None:
    sent = {"scar": [{"outer": square(10, 10, 90), "holes": [square(30, 30, 20)]}], "skin": SKIN}
    kept = read_outlines(json.dumps(sent), 400, 400)
    assert json.loads(for_page(read(write(kept)))) == sent


@pytest.mark.parametrize(
    ("scar", "said"),
    [
        ([{"outer": square(10, 10, 90), "holes": [square(200, 10, 20)]}], "inside its outline"),
        ([{"outer": square(10, 10, 90), "holes": [square(20, 20, 30), square(30, 30, 30)]}], "over one another"),
        ([square(10, 10, 90), square(50, 50, 90)], "Outline 2 of the scar lies over another"),
        ([square(10, 10, 90)] * 41, "at most 40 outlines"),
        ([{"outer": square(10, 10, 90), "holes": 5}], "could not be read"),
        ([{"holes": []}], "list of points"),
    ],
)
def test_pieces_that_cannot_be_measured_are_named(scar: list[Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_outlines(json.dumps({"scar": scar, "skin": SKIN}), 400, 400)


def test_pieces_that_only_touch_are_two_pieces() -> None:
    sent = {"scar": [square(10, 10, 90), square(100, 10, 90)], "skin": SKIN}
    assert len(read_outlines(json.dumps(sent), 400, 400).scar) == 2


def test_a_zero_with_a_minus_is_read_back_as_zero() -> None:
    ring = np.array([[-0.0, 0.0], [20.0, -0.0], [20.0, 20.0]])
    assert np.signbit(read(write(Outlines((Piece(ring),), (SQUARE,)))).scar[0].outer).sum() == 0
