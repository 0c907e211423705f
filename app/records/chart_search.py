"""What the colours of a photo can rest on: a chart that is found, or a chart or grey card whose corners were placed."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.colour.calibration import Calibration, calibrate
from app.colour.chart import chart_at, find_chart
from app.colour.chart_reference import ChartReference
from app.colour.grey import calibrate_grey
from app.colour.spaces import ByteArray, FloatArray
from app.records.corners import Placed

RANK = {"measured": 0, "caution": 1, "refused": 2}


@dataclass(frozen=True, eq=False)
class Known:
    """A chart that may lie in a photo: its row's id (None: not one of the studio's own) and its colours."""

    kind_id: int | None
    reference: ChartReference


@dataclass(frozen=True, eq=False)
class KnownGrey:
    """A grey card that may lie in a photo: its row's id (None: nobody measured it) and its colour (3,)."""

    kind_id: int | None
    lab_d65: FloatArray


@dataclass(frozen=True, eq=False)
class Found:
    """The calibration of a photo, if there is one, and which chart or card it rests on."""

    calibration: Calibration | None
    kind_id: int | None = None

    @property
    def reference(self) -> str:
        return "none" if self.calibration is None else self.calibration.level


def search(srgb8: ByteArray, charts: Sequence[Known]) -> Found:
    """The chart in a photo, looked for by the program. Each chart the studio may use is tried; the first that can be
    trusted is kept, or else the one that fits best."""
    best = Found(None)
    for known in charts:
        chart = find_chart(srgb8, known.reference)
        if chart is None:
            continue
        try:
            calibration = calibrate(chart, known.reference)
        except ValueError:  # what was taken for a chart has no fit at all, as one that is white all over
            continue
        if calibration.usable == "measured":
            return Found(calibration, known.kind_id)
        if best.calibration is None or _worth(calibration) < _worth(best.calibration):
            best = Found(calibration, known.kind_id)
    return best


def read_placed(srgb8: ByteArray, placed: Placed, known: Known | KnownGrey) -> Found:
    """What was placed by hand: taken as what it was said to be, and refused by its colours if it is not."""
    if isinstance(known, KnownGrey):
        return Found(calibrate_grey(srgb8, placed.corners, known.lab_d65), known.kind_id)
    return Found(calibrate(chart_at(srgb8, placed.corners, known.reference), known.reference), known.kind_id)


def _worth(calibration: Calibration) -> tuple[int, float]:
    return RANK[calibration.usable], calibration.loo_mean
