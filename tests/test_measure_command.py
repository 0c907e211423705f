"""`evenseam measure` reads outlines in both formats that the program writes, and gives an area where it can."""

import json
from pathlib import Path

import pytest

from app.colour.geometry import Piece
from app.measure_command import Known, measure_file
from app.platform import images
from app.records.selectors import Outlines, write
from tests.records.cast import photographed


def measured(folder: Path, outlines: str, known: Known) -> dict[str, object]:
    photo, drawn = folder / "photo.jpg", folder / "outlines.json"
    photo.write_bytes(photographed().jpeg)
    drawn.write_text(outlines)
    return measure_file(photo, drawn, lambda content: images.decode(content).srgb8, known)


def test_annotations_and_compact_outlines_give_the_same_reading_and_an_area(tmp_path: Path) -> None:
    seen = photographed()
    scar, skin = seen.scar_outline.round(1), seen.skin_outline.round(1)
    compact = json.dumps({"scar": [{"outer": scar.tolist(), "holes": []}], "skin": [skin.tolist()]})
    known = Known(pitch_mm=11.0, skin_class="light")
    found = measured(tmp_path, write(Outlines((Piece(scar),), (Piece(skin),))), known)
    assert found == measured(tmp_path, compact, known)
    reading = found["reading"]
    assert isinstance(reading, dict)
    assert found["scale_from"] == "chart"
    assert reading["area"]["low"] < reading["area"]["cm2"] < reading["area"]["high"]
    assert 0 <= reading["share_within"] <= 1
    assert reading["grade"]


@pytest.mark.parametrize(
    ("text", "said"),
    [("{", "not valid JSON"), ("[]", "must hold a page of annotations"), ('{"items": []}', "no page of annotations"),
     ('{"scar": [], "skin": []}', "Outline the scar as well")],
)  # fmt: skip
def test_outlines_that_cannot_be_read_are_named(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        measured(tmp_path, text, Known())
