"""Words that find a client by their beginnings: casefolded, accents stripped, the same on both databases."""

import re
import unicodedata


def fold(text: str) -> str:
    """A text as it is compared and sorted: without case and accents."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return (
        "".join(c for c in plain if not unicodedata.combining(c)).replace("ß", "ss").replace("ø", "o").replace("ł", "l")
    )


def words_of(*texts: str) -> set[str]:
    """The words of some texts; a telephone number also as one run of digits."""
    found: set[str] = set()
    for text in texts:
        found.update(re.findall(r"\w+", fold(text)))
        digits = re.sub(r"\D", "", text)
        if len(digits) >= 5:
            found.add(digits)
    return {word[:80] for word in found}


def escape_like(text: str) -> str:
    return text.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
