import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms

from app.platform.images import NotAPhoto, decode, encode_jpeg, encode_signature, look


def jpeg(image: Image.Image, **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=95, **more)
    return out.getvalue()


def png(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def halves() -> Image.Image:
    pixels = np.zeros((40, 60, 3), np.uint8)
    pixels[:, :30] = (200, 150, 120)
    pixels[:, 30:] = (90, 60, 40)
    return Image.fromarray(pixels)


def bomb(width: int, height: int) -> bytes:
    """A PNG whose header promises more pixels than we open."""
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"hello",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"GIF89a" + b"\0" * 100,
        b"\xff\xd8\xff\xe0" + b"\0" * 40,
    ],
)
def test_what_is_no_photo_is_refused_with_a_reason(content: bytes) -> None:
    with pytest.raises(NotAPhoto):
        decode(content)


def test_a_bomb_is_refused_by_its_header() -> None:
    for size in ((30_000, 30_000), (7_100, 7_100)):
        with pytest.raises(NotAPhoto, match="50 megapixels"):
            look(bomb(*size))


def test_a_cut_photo_is_refused() -> None:
    whole = jpeg(Image.effect_noise((400, 400), 50).convert("RGB"))
    with pytest.raises(NotAPhoto, match="cut short"):
        decode(whole[: len(whole) // 2])


def test_an_orientation_is_turned_upright() -> None:
    exif = Image.Exif()
    exif[274] = 6  # the camera was held on its side
    upright = decode(jpeg(halves(), exif=exif)).srgb8
    assert upright.shape == (60, 40, 3)
    assert upright[5, 20, 0] > 150 > upright[55, 20, 0]


def test_sixteen_bit_grey_is_read_at_its_true_lightness() -> None:
    image = Image.fromarray(np.full((30, 30), 0x8080, np.uint16))
    assert abs(int(decode(png(image)).srgb8[10, 10, 1]) - 0x80) <= 1


def test_cmyk_and_transparency_become_rgb() -> None:
    assert decode(jpeg(halves().convert("CMYK"))).srgb8.shape == (40, 60, 3)
    clear = Image.new("RGBA", (30, 30), (255, 0, 0, 0))
    assert tuple(decode(png(clear)).srgb8[3, 3]) == (119, 119, 119)


def test_an_embedded_profile_is_honoured() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    plain, tagged = decode(jpeg(halves())).srgb8, decode(jpeg(halves(), icc_profile=srgb)).srgb8
    assert np.abs(plain.astype(int) - tagged).max() <= 2
    assert profile is not None
    broken = decode(jpeg(halves(), icc_profile=b"not a profile")).srgb8
    assert np.abs(plain.astype(int) - broken).max() <= 2


def test_what_is_shown_carries_pixels_only() -> None:
    exif = Image.Exif()
    exif[271] = "SomeMaker"
    exif.get_ifd(0x8825)[1] = "N"
    source = jpeg(halves(), exif=exif, comment=b"taken at home") + b"<html>hidden</html>"
    assert b"SomeMaker" in source
    clean = encode_jpeg(decode(source).srgb8, 1600)
    for word in (b"SomeMaker", b"taken at home", b"Exif", b"hidden"):
        assert word not in clean
    assert decode(source).camera == "SomeMaker"


def test_a_signature_is_made_anew() -> None:
    drawn = Image.new("RGBA", (300, 100), (0, 0, 0, 0))
    drawn.putpixel((10, 10), (0, 0, 0, 255))
    again = Image.open(io.BytesIO(encode_signature(png(drawn))))
    assert again.getpixel((10, 10)) == 0
    assert again.getpixel((50, 50)) == 255
    with pytest.raises(NotAPhoto):
        encode_signature(jpeg(halves()))
