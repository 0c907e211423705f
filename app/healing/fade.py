"""A small drawing of settling time for the client's page: where today lies between the work and the judging of colour.

It is a drawing and no forecast: its greys are nobody's skin, so that no client reads a promise from it.
"""

from dataclasses import dataclass

_WIDTH, _INSET = 340.0, 2.0
# Room for a word of about this width beside the line of today, in the same units.
_WORD = 64.0


@dataclass(frozen=True)
class Fade:
    """`today_x` in units of a picture 340 wide; `words_x` and `anchor` keep the word inside it."""

    width: float
    today_x: float
    words_x: float
    anchor: str
    shows_end: bool
    last_day: int
    title: str


def fade(day_number: int, last_day: int) -> Fade:
    """Raises ValueError where there is no time to draw."""
    if last_day < 1:
        raise ValueError("settling lasts at least a day")
    part = min(max(day_number / last_day, 0.0), 1.0)
    x = round(_INSET + part * (_WIDTH - 2 * _INSET), 1)
    at_end = x > _WIDTH - _WORD
    return Fade(
        width=_WIDTH,
        today_x=x,
        words_x=x,
        anchor="end" if at_end else "start",
        shows_end=x < _WIDTH - 2 * _WORD,
        last_day=last_day,
        title=f"A line from the first day to day {last_day}; today is day {day_number}.",
    )
