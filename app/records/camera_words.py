"""Control charts of a camera in words: what is followed, what a signal means, and what to do."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from app.colour.repeatability import FEWEST, SETTLED, ControlChart, LightFacts, Signal, Stretch, control_chart
from app.platform.pages import day_words


@dataclass(frozen=True)
class CameraDay:
    """What the photos of one camera and day say of the light, as the median of so many."""

    on: date
    photos: int
    facts: LightFacts


@dataclass(frozen=True)
class Quantity:
    """One thing that is followed. `least`: the smallest change that matters, in its own unit."""

    key: str
    name: str
    meaning: str
    digits: int
    least: float
    value: Callable[[LightFacts], float]
    high: str  # what it is when it is higher than usual
    low: str  # and lower; empty where lower is no fault
    advice: str

    def number(self, value: float) -> str:
        return f"{value:.{self.digits}f}".replace("-", "−")


SAME_LAMP = "Look for another lamp, a changed bulb, daylight from a window, or a white balance that was not fixed."
# What counts as a change. A twentieth of red or blue moves skin by 1.3 to 1.4 CIEDE2000 before it is calibrated away
# (computed at L* 65, a* 10, b* 16); half a stop of exposure costs tone at either end; half a unit of the left-out
# error, and a tenth of the strength of colours, are twice what photos of one sitting differ by. Our choice.
QUANTITIES = (
    Quantity("red_green", "Red against green", "1 where grey came out grey; higher is redder light.", 2, 0.05,
             lambda facts: facts.red_green, "redder", "greener", SAME_LAMP),
    Quantity("blue_green", "Blue against green", "1 where grey came out grey; higher is bluer light.", 2, 0.05,
             lambda facts: facts.blue_green, "bluer", "yellower", SAME_LAMP),
    Quantity("exposure", "Exposure", "In stops: how much brighter (+) or darker (−) than true a grey came out.", 1, 0.5,
             lambda facts: facts.exposure_stops, "brighter", "darker",
             "Fix the exposure, or look for a changed lamp or distance."),
    Quantity("left_out", "How badly the chart fits", "Mean error of left-out patches (CIEDE2000); lower is better.", 1,
             0.5, lambda facts: facts.left_out, "worse fitted by the chart", "",
             "Clean the chart, look for a second kind of light, and compare with a new chart: charts fade."),
    Quantity("colour_gain", "Paleness", "By how much colours had to be spread apart; higher is a paler photo.", 2, 0.1,
             lambda facts: facts.colour_gain, "paler", "",
             "Look for a changed picture style of the camera, and compare with a new chart: charts fade."),
)  # fmt: skip


@dataclass(frozen=True)
class Followed:
    """One quantity of one camera over its days."""

    quantity: Quantity
    days: tuple[CameraDay, ...]
    chart: ControlChart

    @property
    def signals(self) -> tuple[Signal, ...]:
        """Those that are a fault: a chart that fits better than usual is none."""
        return tuple(one for one in self.chart.signals if one.is_high or self.quantity.low)

    @property
    def is_adrift(self) -> bool:
        """Whether the newest day is out of the usual, or the light changed and the new one has not settled yet."""
        last = len(self.days) - 1
        return any(one.index == last or (one.kind == "run" and last - one.first < SETTLED) for one in self.signals)

    def sentences(self) -> tuple[str, ...]:
        """Every signal in words, the newest first; or that there is none."""
        if not any(stretch.centre is not None for stretch in self.chart.stretches):
            return (f"Too few days yet: limits are drawn from {FEWEST} days on, and there are {len(self.days)}.",)
        said = [self.words(signal) for signal in reversed(self.signals)]
        return tuple(said) or ("Nothing out of the usual.",)

    def words(self, signal: Signal) -> str:
        """One signal as a sentence."""
        quantity, before = self.quantity, self._stretch_of(signal)
        how = quantity.high if signal.is_high else quantity.low
        assert before.centre is not None
        assert before.lower is not None
        assert before.upper is not None
        if signal.kind == "run":
            since = [self.chart.points[n] for n in range(signal.first, signal.index + 1)]
            return (f"Since {day_words(self.days[signal.first].on)} photos are {how} than before: "
                    f"{quantity.number(sum(since) / len(since))} on average, {quantity.number(before.centre)} before.")
        return (f"On {day_words(self.days[signal.index].on)} photos were {how} than usual: "
                f"{quantity.number(self.chart.points[signal.index])}, usually {quantity.number(before.lower)} to "
                f"{quantity.number(before.upper)}.")  # fmt: skip

    def _stretch_of(self, signal: Signal) -> Stretch:
        """The stretch a signal was seen against: a row of eight closes it."""
        if signal.kind == "run":
            return next(one for one in self.chart.stretches if one.end == signal.first)
        return next(one for one in self.chart.stretches if one.first <= signal.index < one.end)


def followed(days: tuple[CameraDay, ...]) -> tuple[Followed, ...]:
    """Every quantity of a camera over its days."""
    return tuple(
        Followed(quantity, days, control_chart([quantity.value(day.facts) for day in days], quantity.least))
        for quantity in QUANTITIES
    )


def warnings(charts: tuple[Followed, ...]) -> tuple[str, ...]:
    """What stands above a camera's charts: each quantity that is not as it was, and what to look for."""
    return tuple(f"{one.sentences()[0]} {one.quantity.advice}" for one in charts if one.is_adrift)


def drift_words(charts: tuple[Followed, ...], on: date) -> str:
    """For one photo: what was out of the usual on its day, or changed in the days up to it; empty when nothing was."""
    said = []
    for one in charts:
        newest = [signal for signal in one.signals if one.days[signal.index].on == on]
        said += [one.words(signal) for signal in newest[-1:]]
    return " ".join(said)
