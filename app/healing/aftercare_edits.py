"""How what is on file of a client changes the text of their first days.

Skin that does not bear glue gets no film: the dry school then, with a dressing that is tied on, and no plaster. Skin
that feels less (numb, or grafted) is harmed by cold without a warning: no cool packs. The rest of the studio's text
stays. Common practice, no source; the alerts are those of the screening.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

Without = Literal["adhesives", "cold", "latex"]
COOL = "Use a cool pack if it feels hot: wrapped in cloth, 10 minutes, 3 times a day."
_DRESSING = "Keep the dressing on and keep it dry until tomorrow."


@dataclass(frozen=True)
class Edit:
    """Up to and with `last_day`: a line and what stands in its place (nothing takes it out), and lines added."""

    last_day: int
    needs_dry: bool = False
    instead: tuple[tuple[str, str], ...] = ()
    do: tuple[str, ...] = ()
    do_not: tuple[str, ...] = ()
    words: str = ""  # what was left out, for the artist


EDITS: Mapping[Without, Edit] = {
    "adhesives": Edit(
        7,
        needs_dry=True,
        instead=((_DRESSING, f"{_DRESSING} It is tied on, without glue."),),
        do_not=("No plaster and no sticky tape on it: your skin does not bear the glue.",),
        words="no film, no plasters",
    ),
    "cold": Edit(
        7,
        instead=((COOL, ""),),
        do_not=("No cool packs and no ice on it: you may not feel how cold it is.",),
        words="no cool packs",
    ),
    "latex": Edit(7, do=("If somebody helps you, their gloves are free of latex.",), words="no latex gloves"),
}
# The alerts of a client from which each edit follows.
EDIT_OF_ALERT: Mapping[str, Without] = {"adhesive": "adhesives", "numb": "cold", "graft": "cold", "latex": "latex"}


def without_for(alert_kinds: Collection[str], *, is_grafted: bool = False) -> frozenset[Without]:
    """What the text leaves out for a client with these alerts; grafted skin feels less, whatever was answered."""
    found = {EDIT_OF_ALERT[kind] for kind in alert_kinds if kind in EDIT_OF_ALERT}
    return frozenset({*found, "cold"} if is_grafted else found)


def edited(lines: Collection[str], edit: Edit) -> tuple[str, ...]:
    """What to do, after an edit."""
    instead = dict(edit.instead)
    return (*(line for line in (instead.get(line, line) for line in lines) if line), *edit.do)
