"""Two versions of a text beside each other, in words: what stayed, what was left out, what came in."""

from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Literal

# So much of the words alike: one line was put in other words, not left out and another written. Our own choice.
CLOSE = 0.5


@dataclass(frozen=True)
class Change:
    """One line: kept, left out, new, or said in other words."""

    kind: Literal["kept", "left_out", "new", "reworded"]
    before: str = ""
    after: str = ""


def _line(line: str) -> str:
    return line.removeprefix("# ").removeprefix("- ").strip()


def _lines(text: str) -> list[str]:
    return [_line(line) for line in text.splitlines() if line.strip()]


def _likeness(before: str, after: str) -> float:
    return SequenceMatcher(None, before.lower().split(), after.lower().split(), autojunk=False).ratio()


def compared(before: str, after: str) -> tuple[Change, ...]:
    """Every line of both, in the order of the later text."""
    old, new = _lines(before), _lines(after)
    found: list[Change] = []
    for how, old_from, old_to, new_from, new_to in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if how == "equal":
            found += [Change("kept", line, line) for line in old[old_from:old_to]]
        else:
            found += _replaced(old[old_from:old_to], new[new_from:new_to])
    return tuple(found)


def _replaced(old: list[str], new: list[str]) -> list[Change]:
    found, left = [], list(old)
    for line in new:
        nearest = max(left, key=lambda each: _likeness(each, line), default="")
        if nearest and _likeness(nearest, line) >= CLOSE:
            gone, left = left[: left.index(nearest)], left[left.index(nearest) + 1 :]
            found += [*(Change("left_out", before=each) for each in gone), Change("reworded", nearest, line)]
        else:
            found.append(Change("new", after=line))
    return [*found, *(Change("left_out", before=each) for each in left)]


def in_words(changes: tuple[Change, ...]) -> str:
    """One sentence on how far the two are apart."""
    count = {kind: sum(each.kind == kind for each in changes) for kind in ("new", "left_out", "reworded")}
    said = [
        f"{count[kind]} {'line' if count[kind] == 1 else 'lines'} {words}"
        for kind, words in (("new", "new"), ("left_out", "left out"), ("reworded", "said in other words"))
        if count[kind]
    ]
    return f"{', '.join(said)}." if said else "The two are the same."
