"""What can be read on a measured skin colour, and how wide words are before a browser has drawn them.

Contrast follows WCAG 2.2: at least 4.5 to 1 for words (1.4.3), at least 3 to 1 for lines that mean something (1.4.11).
Between black and white one always reaches 4.58 on any colour (the square root of 21), so a single ground always has an
ink. Source: W3C, Web Content Accessibility Guidelines 2.2, relative luminance and contrast ratio.
"""

import math
import re
import unicodedata

INK, WHITE, BLACK = "#16191b", "#ffffff", "#000000"
WORDS_CONTRAST = 4.5
LINE_CONTRAST = 3.0
# Advance widths in em of the bold interface face, rounded up, grouped; measured from the font file. The rest of the
# table is covered by the widest letters. 8 % on top allow for a fallback face.
_WIDTHS = (
    (0.33, " !',.:;|ijl`’"),
    (0.40, '"()[]{}_-frt'),
    (0.45, "1I/\\°"),
    (0.57, "acsvxyzLJF7~*?"),
    (0.63, "bdeghknopqu2345689EPST<>=+^$±²–×"),
    (0.73, "ABCDGHKNRUVXYZ0&Δ"),
    (0.79, "wOQ@#…"),
    (0.90, "mMW"),
    (1.00, "%—"),
)
_EM = {letter: width for width, letters in reversed(_WIDTHS) for letter in letters}
_UNKNOWN_EM = 0.75
_WIDE_EM = 1.05
_ALLOWANCE = 1.08


def linear_rgb(hex_colour: str) -> tuple[float, float, float]:
    """The three linear-light parts, 0 to 1, of an sRGB colour '#rrggbb'. Raises ValueError for anything else."""
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", hex_colour):
        raise ValueError(f"not a colour: {hex_colour!r}")
    red, green, blue = (_linear(int(hex_colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    return red, green, blue


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)


def luminance(hex_colour: str) -> float:
    """Relative luminance, 0 (black) to 1 (white)."""
    red, green, blue = linear_rgb(hex_colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def ink_on(grounds: tuple[str, ...], least: float = WORDS_CONTRAST) -> str | None:
    """The ink, white, or else black that reaches the contrast on every ground; None where no single one does."""
    for ink in (INK, WHITE, BLACK):
        if all(contrast(ink, ground) >= least for ground in grounds):
            return ink
    return None


def grey_on(ground: str, least: float = LINE_CONTRAST) -> str:
    """The neutral grey closest to a ground that still stands out from it: darker if there is room, else lighter."""
    light = luminance(ground) + 0.05
    darker, lighter = light / least - 0.05, light * least - 0.05
    if darker >= 0:
        return _grey(math.floor(255 * _encoded(darker)))
    return _grey(math.ceil(255 * _encoded(min(lighter, 1.0))))


def _encoded(linear: float) -> float:
    return linear * 12.92 if linear <= 0.0031308 else 1.055 * linear ** (1 / 2.4) - 0.055


def _grey(level: int) -> str:
    return f"#{level:02x}{level:02x}{level:02x}"


def words_width(words: str, size: float) -> float:
    """How wide words may become at a type size, in the same units; rather too wide than too narrow."""
    return sum(_em(letter) for letter in unicodedata.normalize("NFC", words)) * size * _ALLOWANCE


def _em(letter: str) -> float:
    if letter in _EM:
        return _EM[letter]
    if unicodedata.combining(letter):
        return 0.0
    base = unicodedata.normalize("NFD", letter)[0]
    if base in _EM:
        return _EM[base]
    return _WIDE_EM if unicodedata.east_asian_width(letter) in "WF" or ord(letter) > 0x2FFF else _UNKNOWN_EM


def shortened(words: str, size: float, room: float) -> str:
    """The words, or as many letters of them as fit with an ellipsis; empty where not even one does."""
    if words_width(words, size) <= room:
        return words
    for length in range(len(words) - 1, 0, -1):
        shorter = words[:length].rstrip() + "…"
        if words_width(shorter, size) <= room:
            return shorter
    return ""
