from typing import Annotated

import numpy as np
from pydantic import Field, FiniteFloat

from app.colour.spaces import FloatArray
from app.platform.forms import Form

Px = Annotated[FiniteFloat, Field(ge=0, le=100_000)]


class PlaceCorners(Form):
    """Four corners in px of the upright photo, in the order of the page, and what they are the corners of."""

    what: Annotated[str, Field(pattern=r"^(chart|grey)(-\d{1,9})?$")]
    x1: Px
    y1: Px
    x2: Px
    y2: Px
    x3: Px
    y3: Px
    x4: Px
    y4: Px

    @property
    def kind_id(self) -> int | None:
        """The studio's own chart or card; None is the one every studio has."""
        number = self.what.partition("-")[2]
        return int(number) if number else None

    @property
    def corners(self) -> FloatArray:
        return np.array([[self.x1, self.y1], [self.x2, self.y2], [self.x3, self.y3], [self.x4, self.y4]])
