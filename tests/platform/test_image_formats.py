"""Photos as phones and cameras write them: each format read right, or refused with the reason."""

import io
import struct
import tracemalloc
import zlib
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from PIL.TiffImagePlugin import IFDRational as Share

from app.platform import image_boxes
from app.platform.image_boxes import PNG_BEGINS
from app.platform.images import NotAPhoto, check_whole, decode, encode_jpeg, look
from app.records.photo_header import read_header

LOSSY: dict[str, dict[str, Any]] = {
    "JPEG": {"quality": 95},
    "PNG": {},
    "WEBP": {"lossless": True},
    "HEIF": {"quality": 95, "chroma": 444},
    "AVIF": {"quality": 95},
}
PRIVATE = {
    271: "SomeMaker", 272: "Model 7", 305: "Firmware 3", 306: "2026:02:20 09:30:00",
    315: "Jane Owner", 33432: "Copyright Jane",
}  # fmt: skip
SECRETS = (b"SomeMaker", b"Model 7", b"Jane", b"SER-4711", b"Exif", b"xpacket", b"53.3498", b"my comment")


def halves(width: int = 96, height: int = 64) -> Image.Image:
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[:, : width // 2] = (200, 150, 120)
    pixels[:, width // 2 :] = (90, 60, 40)
    return Image.fromarray(pixels)


def camera_exif() -> Image.Exif:
    exif = Image.Exif()
    for tag, value in PRIVATE.items():
        exif[tag] = value
    exif.get_ifd(0x8769).update({
        33434: Share(1, 125), 33437: 2.8, 34855: 200, 37386: 4.2, 41989: 26, 41987: 0, 37385: 16, 37380: Share(-1, 3),
        42036: "Wide lens", 42033: "SER-4711", 42032: "Jane Owner", 37510: b"my comment", 36867: "2026:02:20 09:30:00",
    })  # fmt: skip
    exif.get_ifd(0x8825).update({1: "N", 2: (53.0, 20.0, 59.3)})
    return exif


def encoded(kind: str, image: Image.Image | None = None, **more: Any) -> bytes:
    out = io.BytesIO()
    (image or halves()).save(out, kind, **LOSSY[kind], **more)
    return out.getvalue()


@pytest.mark.parametrize("kind", LOSSY)
def test_every_format_is_read_whatever_it_is_called(kind: str) -> None:
    content = encoded(kind)
    assert look(content) == (kind, 96, 64)
    seen = decode(content).srgb8
    assert seen.shape == (64, 96, 3)
    assert np.abs(seen.astype(int) - np.asarray(halves())).mean() < 1.5


@pytest.mark.parametrize("kind", LOSSY)
def test_every_format_is_turned_upright_once(kind: str) -> None:
    exif = Image.Exif()
    exif[274] = 6  # held on its side; HEIC and AVIF say it in a box of their own
    content = encoded(kind, exif=exif.tobytes())
    upright = decode(content).srgb8
    assert upright.shape == (96, 64, 3)
    assert upright[8, 32, 0] > 150 > upright[88, 32, 0]
    header = read_header(content)
    assert (header.width, header.height) == (64, 96)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_each_orientation_is_undone(orientation: int) -> None:
    corner = Image.new("RGB", (48, 32), (60, 60, 60))
    corner.paste((230, 230, 230), (0, 0, 16, 16))
    laid = {1: None, 2: 0, 3: 3, 4: 1, 5: 5, 6: 2, 7: 6, 8: 4}[orientation]  # how such a camera stores it
    stored = corner if laid is None else corner.transpose(Image.Transpose(laid))
    exif = Image.Exif()
    exif[274] = orientation
    seen = decode(encoded("PNG", stored, exif=exif)).srgb8
    assert seen.shape == (32, 48, 3)
    assert np.array_equal(seen, np.asarray(corner))


@pytest.mark.parametrize("kind", LOSSY)
def test_what_is_shown_carries_pixels_only(kind: str) -> None:
    xmp = b"<?xpacket begin=''?><x:xmpmeta xmlns:x='adobe:ns:meta/'>53.3498</x:xmpmeta><?xpacket end='w'?>"
    more: dict[str, Any] = {"comment": b"my comment"} if kind == "JPEG" else {}
    if kind != "PNG":
        more["xmp"] = xmp
    content = encoded(kind, exif=camera_exif(), **more)
    assert b"SER-4711" in content
    clean = encode_jpeg(decode(content).srgb8, 1600)
    for secret in SECRETS:
        assert secret not in clean
    shown = Image.open(io.BytesIO(clean))
    assert not shown.getexif()
    assert set(shown.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize("kind", LOSSY)
def test_facts_of_the_camera_are_read_and_nothing_of_place_or_person(kind: str) -> None:
    header = read_header(encoded(kind, exif=camera_exif()))
    facts = header.facts
    assert header.camera == "SomeMaker Model 7"
    assert (facts.lens, facts.exposure_s, facts.f_number, facts.iso) == ("Wide lens", 0.008, 2.8, 200)
    assert (facts.focal_mm, facts.focal_35mm, facts.flash, facts.white_balance) == (4.2, 26, False, "auto")
    assert facts.exposure_bias == pytest.approx(-1 / 3, abs=1e-4)
    assert (facts.format, facts.bits) == (kind, 8)
    assert str(header.taken_local) == "2026-02-20 09:30:00"
    for secret in ("Jane", "SER-4711", "comment", "53"):
        assert secret not in facts.text()


@pytest.mark.filterwarnings("ignore")  # Pillow tells of each broken note
def test_a_camera_that_writes_nonsense_is_not_believed_and_its_photo_is_kept() -> None:
    exif = camera_exif()
    exif.get_ifd(0x8769).update({33434: Share(1, 0), 33437: Share(0, 0), 34855: "many"})
    exif.get_ifd(0x8769).update({36867: "yesterday", 36881: "+99:99"})
    header = read_header(encoded("JPEG", exif=exif))
    assert (header.facts.exposure_s, header.facts.f_number, header.facts.iso) == (None, None, None)
    broken = encoded("JPEG", exif=b"Exif\0\0II*\0\xff\xff\xff\xff")
    assert read_header(broken).camera == ""
    assert decode(broken).srgb8.shape == (64, 96, 3)


def deep(pixels: NDArray[np.uint16]) -> bytes:
    return bytes(cv2.imencode(".png", pixels)[1])


def test_sixteen_bits_are_rounded_in_grey_colour_and_with_transparency() -> None:
    values = np.random.default_rng(3).integers(0, 65536, (40, 50, 3), dtype=np.uint16)
    expected = np.rint(values / 257).astype(np.uint8)
    assert np.array_equal(decode(deep(values)).srgb8, expected[..., ::-1])
    assert np.array_equal(decode(deep(values[..., 0])).srgb8[..., 1], expected[..., 0])
    clear = np.dstack([values, np.zeros((40, 50), np.uint16)])
    assert (decode(deep(clear)).srgb8 == 119).all()
    assert read_header(deep(values)).facts.bits == 16


def test_grey_and_palette_and_transparency_of_eight_bits() -> None:
    grey = halves().convert("L")
    assert np.array_equal(decode(encoded("PNG", grey)).srgb8[..., 2], np.asarray(grey))
    assert decode(encoded("PNG", halves().convert("P"))).srgb8.shape == (64, 96, 3)
    assert decode(encoded("PNG", halves().convert("1"))).srgb8.shape == (64, 96, 3)
    half_clear = halves().convert("LA")
    half_clear.putalpha(0)
    assert (decode(encoded("PNG", half_clear)).srgb8 == 119).all()


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "AVIF"])
def test_of_moving_pictures_the_first_is_the_photo(kind: str) -> None:
    others = [Image.new("RGB", (96, 64), (0, 0, 255))] * 2
    seen = decode(encoded(kind, save_all=True, append_images=others)).srgb8
    assert np.abs(seen.astype(int) - np.asarray(halves())).mean() < 3


def test_of_several_pictures_in_one_file_the_photo_is_the_one_meant() -> None:
    """A JPEG with a second picture behind it, as phones write gain maps, and a HEIC with two."""
    out = io.BytesIO()
    halves().save(out, "MPO", save_all=True, append_images=[Image.new("RGB", (96, 64), (255, 255, 255))], quality=95)
    assert look(out.getvalue())[0] == "JPEG"
    two = encoded("HEIF", save_all=True, append_images=[Image.new("RGB", (96, 64), (255, 255, 255))])
    for content in (out.getvalue(), two):
        assert np.abs(decode(content).srgb8.astype(int) - np.asarray(halves())).mean() < 3
        assert read_header(content).width == 96


@pytest.mark.parametrize("kind", LOSSY)
def test_a_photo_that_was_cut_is_refused_before_and_after(kind: str) -> None:
    content = encoded(kind, Image.effect_noise((160, 120), 60).convert("RGB"))
    for share in (0.3, 0.7, 0.98):
        cut = content[: int(len(content) * share)]
        for read in (read_header, decode):
            with pytest.raises(NotAPhoto, match="cut short"):
                read(cut)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"%PDF-1.7 ...", "PDF"),
        (b"GIF89a" + b"\0" * 100, "GIF"),
        (b"II*\0" + b"\0" * 100, "TIFF or a camera’s raw file"),
        (b"\0\0\0\x20ftypqt  " + b"\0" * 100, "film"),
        (b"\0\0\0\x18ftypheic" + b"\0" * 100, "HEIC or AVIF"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a photo"),
        (b"PK\x03\x04" + b"\0" * 100, "not a photo"),
        (b"", "not a photo"),
    ],
)
def test_what_people_take_for_photos_is_named(content: bytes, said: str) -> None:
    with pytest.raises(NotAPhoto, match=said):
        look(content)


def test_what_hides_behind_or_before_a_photo_is_not_read() -> None:
    page = b"<html><script>alert(1)</script></html>"
    with pytest.raises(NotAPhoto):
        look(page + encoded("JPEG"))
    for kind in LOSSY:
        clean = encode_jpeg(decode(encoded(kind) + page + b"PK\x03\x04").srgb8, 320)
        assert b"script" not in clean
        assert b"PK\x03\x04" not in clean


def bomb(width: int, height: int) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 16, 6, 0, 0, 0)
    return PNG_BEGINS + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(10**6)))


def with_size(kind: str, width: int, height: int) -> bytes:
    """A photo of few pixels whose container promises many."""
    content = encoded(kind)
    at = content.index(b"ispe") + 8
    return content[:at] + struct.pack(">II", width, height) + content[at + 8 :]


@pytest.mark.parametrize("make", [
    lambda: bomb(60_000, 60_000), lambda: with_size("AVIF", 30_000, 30_000), lambda: with_size("HEIF", 30_000, 30_000),
])  # fmt: skip
def test_bombs_are_refused_and_cost_little(make: Callable[[], bytes]) -> None:
    content = make()
    tracemalloc.start()
    with pytest.raises(NotAPhoto):
        decode(content)
    assert tracemalloc.get_traced_memory()[1] < 20_000_000
    tracemalloc.stop()


def test_high_dynamic_range_alone_is_refused_with_the_reason() -> None:
    content = encoded("PNG")
    body = bytes([9, 16, 0, 1])
    chunk = struct.pack(">I", 4) + b"cICP" + body + struct.pack(">I", zlib.crc32(b"cICP" + body))
    for read in (read_header, decode):
        with pytest.raises(NotAPhoto, match="high dynamic range"):
            read(content[:33] + chunk + content[33:])


def test_boxes_that_point_nowhere_are_refused() -> None:
    content = bytearray(encoded("HEIF"))
    at = content.index(b"iloc")
    content[at + 4 : at + 40] = b"\xff" * 36
    with pytest.raises(NotAPhoto):
        check_whole(bytes(content), "HEIF")


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")  # Pillow tells of each broken note
@pytest.mark.parametrize("kind", LOSSY)
def test_whatever_is_done_to_a_file_it_is_read_or_refused(kind: str) -> None:
    content = encoded(kind, Image.effect_noise((96, 64), 60).convert("RGB"), exif=camera_exif())
    chance, refused = np.random.default_rng(8), 0
    changed = [content[:length] for length in range(0, len(content), max(1, len(content) // 300))]
    for _ in range(400):
        spoiled = bytearray(content)
        for at in chance.integers(0, min(len(content), chance.choice([64, 600, len(content)])), 6):
            spoiled[at] = chance.integers(0, 256)
        changed.append(bytes(spoiled))
    for one in changed:
        for read in (read_header, decode):
            try:
                read(one)
            except NotAPhoto:
                refused += 1
    assert refused > 300


def test_a_small_file_of_countless_scans_is_refused_unopened() -> None:
    """Each scan of a progressive JPEG goes over the whole picture: one megabyte could keep us busy for hours."""
    plain = encoded("JPEG", progressive=True)
    assert read_header(plain).width == 96
    scan = plain[plain.rindex(b"\xff\xda") : -2]
    with pytest.raises(NotAPhoto, match="damaged"):
        read_header(plain[:-2] + 200 * scan + plain[-2:])


def test_parts_that_take_no_bytes_do_not_keep_us_busy() -> None:
    items = 400 * struct.pack(">HHH", 1, 0, 65535)  # each of 65535 parts whose numbers are 0 bytes long
    body = struct.pack(">IHH", 0, 0, 400) + items
    place = struct.pack(">I4s", 8 + len(body), b"iloc") + body
    with pytest.raises(image_boxes.Broken, match="too many parts"):
        image_boxes.check_whole(struct.pack(">I4sI", 12 + len(place), b"meta", 0) + place, "HEIF")
