"""Papers as PDF: a typst template and plain data, set in the fonts that typst brings. Nothing is fetched, nothing but
the template is read, and the same data make the same bytes.

Data reach the template as JSON, so that what a person typed is text there and never a command.
"""

import json
import unicodedata
from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

import typst

from app.platform.pages import TEMPLATES

if TYPE_CHECKING:
    from typst import PDFStandards  # a name of its stubs only

# Readable for decades and by screen readers. A character that no font has breaks both promises, so each is tried first.
STANDARDS: "PDFStandards" = ["a-2a", "ua-1"]
_PLAIN_UNTIL = 0x250  # Latin and its extensions, which the fonts have
_TRIED_AT_MOST = 400
_FONTS = typst.Fonts(include_system_fonts=False)
_TRY = (
    '#set document(title: "t", date: none)\n#set text(lang: "en", font: ("Libertinus Serif", "DejaVu Sans Mono"))\n'
    "#sys.inputs.text"
)


def make_pdf(template: str, data: Mapping[str, Any]) -> bytes:
    """The template filled with the data. Characters that cannot be printed stand as their names in square brackets."""
    source = (TEMPLATES / template).read_bytes()
    inputs = {"data": json.dumps(_printable(data), ensure_ascii=False, sort_keys=True)}
    try:
        return _compile(source, inputs, STANDARDS)
    except typst.TypstError:
        return _compile(source, inputs, [])  # a paper that keeps no standard is still better than none


def _compile(source: bytes, inputs: dict[str, str], standards: "PDFStandards") -> bytes:
    compiler = typst.Compiler(
        source, root=TEMPLATES, font_paths=_FONTS, ignore_system_fonts=True, sys_inputs=inputs,
    )  # fmt: skip
    made = compiler.compile(format="pdf", pdf_standards=standards)
    assert isinstance(made, bytes)
    return made


def _printable(value: Any) -> Any:
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, Mapping):
        return {key: _printable(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_printable(each) for each in value]
    return value


def printable(text: str) -> str:
    """The text with the name in brackets for each character that no font here has: "[grinning face]", "[U+4E2D]"."""
    if text.isascii() and text.isprintable():
        return text
    said: list[str] = []
    for place, char in enumerate(unicodedata.normalize("NFC", text)):
        if char == "\n" or (ord(char) < _PLAIN_UNTIL and char.isprintable()):
            said.append(char)
        elif unicodedata.category(char) in ("Cc", "Cf") or 0xFE00 <= ord(char) <= 0xFE0F:
            continue  # joins, marks of direction and of look: nothing to print
        elif place < _TRIED_AT_MOST * 50 and can_print(char):
            said.append(char)
        else:
            said.append(_named(char))
    return "".join(said)


def _named(char: str) -> str:
    name = unicodedata.name(char, "")
    is_letter = unicodedata.category(char)[0] in "LM"  # spelling out every letter of a name would hide the name
    return f"[{name.lower()}]" if name and not is_letter else f"[U+{ord(char):04X}]"


@cache
def can_print(char: str) -> bool:
    """Whether the fonts have this character; a trial of a few milliseconds, once for each."""
    try:
        _compile(_TRY.encode(), {"text": char}, ["ua-1"])
    except typst.TypstError:
        return False
    return True
