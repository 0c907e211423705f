"""What a member may send about printed capture cards."""

from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, FiniteFloat

from app.platform.forms import Form

# A bar off by more than a tenth was scaled to fit the page, or read at the wrong line: our choice.
SHORTEST_BAR_MM, LONGEST_BAR_MM = 90.0, 110.0
BAR_DOUBT = (
    "The bar is drawn 100 mm long, so its measured length lies between 90 and 110 mm. Measure it again; if it is "
    "right, print the card again at 100 %."
)


def _as_number(value: Any) -> Any:
    return value.strip().replace(",", ".") if isinstance(value, str) else value


def _plausible(bar_mm: float) -> float:
    if not SHORTEST_BAR_MM <= bar_mm <= LONGEST_BAR_MM:
        raise ValueError(BAR_DOUBT)
    return bar_mm


class MeasureBar(Form):
    bar_mm: Annotated[FiniteFloat, BeforeValidator(_as_number), AfterValidator(_plausible)]
    revision: int


class RetireCard(Form):
    revision: int
