"""How hard a text is to read: the Flesch-Kincaid grade.

Source: Kincaid, Fishburne, Rogers, Chissom 1975, "Derivation of new readability formulas for Navy enlisted personnel",
Research Branch Report 8-75: 0.39 × words a sentence + 11.8 × syllables a word − 15.59. A grade is a school year in the
US: grade 5 to 6 is age 10 to 12. Syllables are counted by the groups of vowels, less a silent ending: close to a
dictionary's count for plain English, which is all that is asked of it.
"""

import re
from collections.abc import Iterable

_WORD = re.compile(r"[A-Za-z]+(?:[’'-][A-Za-z]+)*")
_SENTENCE_END = re.compile(r"[.!?:](?:\s|$)")
_VOWELS = re.compile(r"[aeiouy]+")
_SILENT = re.compile(r"(?:[^laeiouy]es|[^aeiouydt]ed|[^laeiouy]e)$")  # "times", "closed", "have"; not "table", "wanted"


def syllables(word: str) -> int:
    """The syllables of an English word, at least 1."""
    count = 0
    for part in re.split(r"[’'-]", word.lower()):
        if not part:
            continue
        groups = len(_VOWELS.findall(part))
        if groups > 1 and _SILENT.search(part) and not re.search(r"[sxz]es$|[cg]es$|ches$|shes$", part):
            groups -= 1
        count += groups
    return max(count, 1)


def grade(texts: Iterable[str]) -> float:
    """The Flesch-Kincaid grade of texts read one after another, each at least one sentence."""
    sentences = words = beats = 0
    for text in texts:
        found = _WORD.findall(text)
        words += len(found)
        beats += sum(syllables(word) for word in found)
        sentences += max(len(_SENTENCE_END.findall(text)), 1)
    return 0.39 * words / sentences + 11.8 * beats / words - 15.59
