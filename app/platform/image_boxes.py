"""What the containers of picture files say without their pixels: depth, colour by code points, whether all is there.

HEIC and AVIF are boxes in boxes (ISO/IEC 14496-12 and 23008-12), PNG is a row of chunks, WebP is RIFF. Nothing here
opens pixels, so that a request can ask before the worker does.
"""

import re
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

IN_BOXES = ("HEIF", "AVIF")
MOST_BOXES = 20_000  # a tiled 50 megapixel photo has a few hundred; more is an attempt to keep us busy
# A progressive JPEG has about ten scans. Each goes over every pixel, however few bytes it takes: a small file of many
# would keep us busy for hours.
MOST_SCANS = 100
START_OF_SCAN, END_OF_IMAGE, ALONE = 0xDA, 0xD9, (0x01, 0xD8)  # ITU-T T.81, table B.1
MARKER = re.compile(rb"\xff+([^\x00\xff\xd0-\xd7])")  # not what stands for 255 among the pixels, and no restart
PNG_BEGINS = b"\x89PNG\r\n\x1a\n"


class Broken(ValueError):
    """A container that contradicts itself or ends too early."""


@dataclass(frozen=True)
class CodePoints:
    """Primaries and transfer as ITU-T H.273 numbers them."""

    primaries: int
    transfer: int


@dataclass(frozen=True)
class Contents:
    """What the container says of the picture that is shown: bits of a channel (0: it does not say), code points."""

    bits: int = 0
    code_points: CodePoints | None = None


def read_contents(content: bytes, kind: str) -> Contents:
    """Depth and code points. Raises Broken when the container cannot be read to where they stand."""
    if kind in IN_BOXES:
        return _contents_of_boxes(content)
    if kind == "PNG":
        return _contents_of_png(content)
    if kind == "JPEG":
        _check_scans(content)
    return Contents(bits=8)


def check_whole(content: bytes, kind: str) -> None:
    """Raises Broken when the container says that it is longer than the file. JPEG and PNG are read through instead."""
    if kind == "WEBP" and 8 + int.from_bytes(content[4:8], "little") > len(content) + 1:
        raise Broken("the file ends before its RIFF size")
    if kind in IN_BOXES:
        meta = _child(content, _boxes(content, 0, len(content)), b"meta", skip=4)
        for begin, length in _extents(meta, content):
            if begin + length > len(content):
                raise Broken("a part of the picture lies behind the end of the file")


@dataclass(frozen=True)
class _Box:
    kind: bytes
    begin: int  # of what is inside
    end: int


def _boxes(content: bytes, begin: int, end: int) -> Iterator[_Box]:
    """The boxes between two places, in order."""
    for _ in range(MOST_BOXES):
        if begin + 8 > end:
            return
        size, kind = struct.unpack_from(">I4s", content, begin)
        inside = begin + 8
        if size == 1:
            if inside + 8 > end:
                raise Broken("a box ends in its own head")
            size, inside = struct.unpack_from(">Q", content, inside)[0], inside + 8
        elif size == 0:
            size = end - begin
        if size < inside - begin or begin + size > end:
            raise Broken("a box is longer than what holds it")
        yield _Box(kind, inside, begin + size)
        begin += size
    raise Broken("too many boxes")


def _child(content: bytes, boxes: Iterable[_Box], kind: bytes, skip: int = 0) -> list[_Box]:
    """The boxes inside the first box of a kind; `skip` is the length of what stands before them. What comes after it,
    whatever it is, is not looked at."""
    for box in boxes:
        if box.kind == kind:
            return list(_boxes(content, box.begin + skip, box.end))
    return []


class _Reader:
    """Reads numbers one after another, and never past its end."""

    def __init__(self, content: bytes, begin: int, end: int) -> None:
        self.content, self.at, self.end = content, begin, end

    def number(self, size: int) -> int:
        if self.at + size > self.end:
            raise Broken("a box ends in the middle of a number")
        value = int.from_bytes(self.content[self.at : self.at + size], "big")
        self.at += size
        return value


def _head(content: bytes, box: _Box) -> tuple[_Reader, int, int]:
    """Reader behind the head of a full box, its version and its flags."""
    reader = _Reader(content, box.begin, box.end)
    return reader, reader.number(1), reader.number(3)


def _contents_of_boxes(content: bytes) -> Contents:
    meta = _child(content, _boxes(content, 0, len(content)), b"meta", skip=4)
    holder = _child(content, meta, b"iprp")
    properties = _child(content, holder, b"ipco")
    bits, points = 0, None
    for number in _properties_of_primary(content, meta, holder):
        if not 1 <= number <= len(properties):
            continue
        box = properties[number - 1]
        if box.kind == b"pixi" and box.end - box.begin >= 6:
            bits = max(content[box.begin + 5 : box.end])
        elif box.kind == b"colr" and content[box.begin : box.begin + 4] == b"nclx" and box.end - box.begin >= 10:
            points = CodePoints(*struct.unpack_from(">HH", content, box.begin + 4))
    return Contents(bits, points)


def _properties_of_primary(content: bytes, meta: list[_Box], holder: list[_Box]) -> list[int]:
    """The numbers of the properties that belong to the picture that is shown."""
    primary = None
    for box in meta:
        if box.kind == b"pitm":
            reader, version, _ = _head(content, box)
            primary = reader.number(2 if version == 0 else 4)
    for box in holder:
        if box.kind != b"ipma":
            continue
        reader, version, flags = _head(content, box)
        for _ in range(min(reader.number(4), MOST_BOXES)):
            item = reader.number(2 if version < 1 else 4)
            size = 2 if flags & 1 else 1
            numbers = [reader.number(size) & (0x7FFF if size == 2 else 0x7F) for _ in range(reader.number(1))]
            if item == primary:
                return numbers
    return []


def _extents(meta: list[_Box], content: bytes) -> Iterator[tuple[int, int]]:
    """Where in the file the parts of the pictures lie: begin and length."""
    parts = 0
    for box in meta:
        if box.kind != b"iloc":
            continue
        reader, version, _ = _head(content, box)
        sizes = reader.number(2)
        offset_size, length_size, base_size = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
        index_size = sizes & 15 if version in (1, 2) else 0
        for _ in range(min(reader.number(2 if version < 2 else 4), MOST_BOXES)):
            reader.number(2 if version < 2 else 4)
            method = reader.number(2) & 15 if version in (1, 2) else 0
            reader.number(2)
            base = reader.number(base_size)
            for _ in range(min(reader.number(2), MOST_BOXES)):
                parts += 1
                if parts > MOST_BOXES:  # their numbers may take no bytes, so that the length of the file is no bound
                    raise Broken("too many parts")
                reader.number(index_size)
                begin, length = reader.number(offset_size), reader.number(length_size)
                if method == 0:  # in the file itself; 1 lies in a box that was read, 2 in another item
                    yield base + begin, length


def _check_scans(content: bytes) -> None:
    at = scans = 0
    while found := MARKER.search(content, at):
        kind, at = found[1][0], found.end()
        if kind == END_OF_IMAGE:
            return
        scans += kind == START_OF_SCAN
        if scans > MOST_SCANS:
            raise Broken("too many scans")
        if kind not in ALONE:
            at += int.from_bytes(content[at : at + 2], "big")


def _contents_of_png(content: bytes) -> Contents:
    """A cICP chunk stands before the pixels and counts for more than a profile (PNG, third edition, 4.3)."""
    at, bits, points = len(PNG_BEGINS), 0, None
    while at + 8 <= len(content):
        length, kind = struct.unpack_from(">I4s", content, at)
        body = content[at + 8 : at + 8 + length]
        if kind == b"IHDR" and length >= 9:
            bits = body[8]
        elif kind == b"cICP" and length == 4:
            points = CodePoints(body[0], body[1])
        elif kind in (b"IDAT", b"IEND"):
            break
        at += 12 + length
    return Contents(bits, points)
