"""What a letter may be: a PDF, or a JPEG or PNG picture of it. Looked at by its bytes, never by its name."""

from dataclasses import dataclass

from app.platform.images import DISPLAY_EDGE, NotAPhoto, decode, encode_jpeg

MAX_BYTES = 15 * 1024 * 1024
NOT_A_LETTER = "This is no PDF and no JPEG or PNG picture that can be read. Scan or photograph the letter again."
TOO_LARGE = "The file is larger than 15 megabytes. Scan it smaller, or send one page at a time."
CUT_SHORT = "The PDF is cut short. Send it again."
PDF, PICTURE = "letter/pdf", "letter/picture"
_TAIL = 2048  # a PDF ends with its mark, and what some programs write after it


@dataclass(frozen=True)
class LetterFile:
    """A letter as it came in, and, for a picture, what we show of it: pixels that we encoded ourselves."""

    kind: str
    content: bytes
    shown_jpeg: bytes | None


def read_letter_file(content: bytes) -> LetterFile:
    """The letter in a file. Raises NotAPhoto, in words for whoever files it, for anything else."""
    if len(content) > MAX_BYTES:
        raise NotAPhoto(TOO_LARGE)
    if content.startswith(b"%PDF-"):
        if b"%%EOF" not in content[-_TAIL:]:
            raise NotAPhoto(CUT_SHORT)
        return LetterFile(PDF, content, None)
    if not content.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")):
        raise NotAPhoto(NOT_A_LETTER)
    return LetterFile(PICTURE, content, encode_jpeg(decode(content).srgb8, DISPLAY_EDGE))


def plain_name(name: str) -> str:
    """The name of a sent file as it may be shown: its last part, printable, and not endless."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(sign for sign in last if sign.isprintable())[:120]
