"""Whether a reading's interval holds the truth: rendered photos of skin whose colours are known.

Run: python -m tests.bench colour [--json] [--full] [--seed N]

Every photo goes the way of a real one: chart found, calibrated, outlines measured. The acceptance is that the 90 %
intervals hold the true difference 85 to 95 % of the time in every skin class.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from multiprocessing import get_context

import cv2
import numpy as np

from app.colour.calibration import calibrate
from app.colour.chart import chart_from_corners, find_chart
from app.colour.measure import measure
from app.colour.reading import Reading
from app.platform.images import decode
from tests.bench.renders import Rendered, look_at_random, render
from tests.bench.skins import CLASSES, TRUE_DELTAS

SEED, SAMPLE_EACH, FULL_EACH = 1, 60, 500
# A photo of 12 megapixels is this wide at 4 to 3.
WIDTH_12MP_PX = 4000
WIDTHS_MM = ((2.0, 4.0), (4.0, 8.0), (8.0, 16.0), (16.0, 40.0))


@dataclass(frozen=True, slots=True)
class Outcome:
    """One photo: what was true, and what was read (None when nothing was)."""

    skin_class: str
    true_delta_e_00: float
    width_mm: float
    light: str
    uneven: float
    state: str
    refused_for: str
    reported: float | None = None
    low: float = 0.0
    high: float = 0.0
    left_out: float = 0.0
    # Scar minus skin less the truth, over its standard error, for L*, a*, b*.
    axis_errors: tuple[float, ...] = ()

    @property
    def held(self) -> bool:
        return self.low <= self.true_delta_e_00 <= self.high

    @property
    def error(self) -> float:
        return abs((self.reported or 0.0) - self.true_delta_e_00)


@dataclass(frozen=True, slots=True)
class Figures:
    """What the bench is judged by, of one seed."""

    seed: int
    photos: int
    coverage_90: float
    coverage_90_lowest_class: float
    coverage_90_highest_class: float
    median_error_delta_e_00: float
    p95_error_delta_e_00: float
    refused_share: float


def outcome_of(photo: Rendered, *, placed: bool = False) -> Outcome:
    """The outcome of one photo; placed: its chart is not looked for, but read where it is."""
    chart = chart_from_corners(photo.srgb8, photo.chart_corners) if placed else find_chart(photo.srgb8)
    uneven = 0.0 if chart is None else chart.uneven_light
    known = (photo.skin_class, photo.true_delta_e_00, photo.width_mm, photo.light, uneven)
    if chart is None:
        return Outcome(*known, "relative", "no chart found")
    calibration = calibrate(chart)
    reading = measure(photo.srgb8, photo.scar, photo.skin, calibration)
    if reading.delta_e_00 is None or reading.low is None or reading.high is None:
        reasons = [finding.code for finding in reading.findings if finding.level == "keep_unmeasured"]
        return Outcome(*known, reading.state, ", ".join(sorted(set(reasons))) or f"chart {calibration.usable}")
    return Outcome(
        *known,
        reading.state,
        "",
        reading.delta_e_00,
        reading.low,
        reading.high,
        calibration.loo_mean,
        _axis_errors(reading, photo),
    )


def _axis_errors(reading: Reading, photo: Rendered) -> tuple[float, ...]:
    errors = []
    for number, estimate in enumerate((reading.delta_l, reading.delta_a, reading.delta_b)):
        assert estimate is not None
        true = photo.lab_scar[number] - photo.lab_skin[number]
        errors.append(float((estimate.value - true) / max(1e-9, (estimate.high - estimate.low) / 2 / 1.6449)))
    return tuple(errors)


def outcome_at(which: tuple[int, int, int]) -> Outcome:
    """The outcome of one photo: seed, number of the skin class, number of the photo."""
    _, class_number, number = which
    random = np.random.default_rng(which)
    return outcome_of(render(random, list(CLASSES)[class_number], TRUE_DELTAS[number % len(TRUE_DELTAS)]))


def outcomes(seed: int, each: int, progress: Callable[[int], None] = lambda done: None) -> list[Outcome]:
    """Photos of every class, spread over all cores; the same seed gives the same photos in the same order."""
    asked = [(seed, class_number, number) for number in range(each) for class_number in range(len(CLASSES))]
    found = []
    with get_context("spawn").Pool(os.cpu_count(), _alone) as pool:
        for outcome in pool.imap(outcome_at, asked, chunksize=4):
            found.append(outcome)
            progress(len(found))
    return found


def _alone() -> None:
    # Every core has a photo of its own: threads inside one would only get in each other's way.
    cv2.setNumThreads(1)


def figures_of(seed: int, found: Sequence[Outcome]) -> Figures:
    read = [outcome for outcome in found if outcome.reported is not None]
    by_class = [held_share([o for o in read if o.skin_class == name]) for name in CLASSES]
    errors = [outcome.error for outcome in read]
    return Figures(
        seed=seed,
        photos=len(found),
        coverage_90=held_share(read),
        coverage_90_lowest_class=min(by_class),
        coverage_90_highest_class=max(by_class),
        median_error_delta_e_00=float(np.median(errors)),
        p95_error_delta_e_00=float(np.quantile(errors, 0.95)),
        refused_share=1 - len(read) / len(found),
    )


def held_share(read: Sequence[Outcome]) -> float:
    return float(np.mean([outcome.held for outcome in read])) if read else float("nan")


def seconds(seed: int) -> tuple[float, float]:
    """Seconds for a photo of 12 megapixels (decoded, chart found, calibrated), and for the reading of its outlines."""
    random = np.random.default_rng((seed, 12))
    photo = render(random, "light", 8.0, width_mm=12.0, look=look_at_random(random, WIDTH_12MP_PX))
    start = time.perf_counter()
    srgb8 = np.ascontiguousarray(decode(photo.jpeg).srgb8)
    chart = find_chart(srgb8)
    calibration = None if chart is None else calibrate(chart)
    middle = time.perf_counter()
    measure(srgb8, photo.scar, photo.skin, calibration)
    return middle - start, time.perf_counter() - middle


def main(each: int, seed: int, *, as_json: bool) -> None:
    for_photo, for_reading = seconds(seed)
    runs = {number: outcomes(number, each) for number in (seed, seed + 1)}
    first, second = (figures_of(number, found) for number, found in runs.items())
    rounded = [
        {name: round(value, 4) for name in Figures.__slots__ for value in [getattr(figures, name)]}
        for figures in (first, second)
    ]
    told = {
        **rounded[0],
        "seconds_photo_12mp": round(for_photo, 2),
        "seconds_reading": round(for_reading, 2),
        "second_seed": rounded[1],
    }
    if not as_json:
        for number, found in runs.items():
            print(f"\nseed {number}")
            _print_tables(found)
        print()
    print(json.dumps(told, indent=2))


def _print_tables(found: Sequence[Outcome]) -> None:
    _table("skin class", [(name, [o for o in found if o.skin_class == name]) for name in CLASSES])
    _table("true difference", [(f"{d:g}", [o for o in found if o.true_delta_e_00 == d]) for d in TRUE_DELTAS])
    _table(
        "scar width mm",
        [(f"{low:g} to {high:g}", [o for o in found if low <= o.width_mm < high]) for low, high in WIDTHS_MM],
    )
    lights = sorted({outcome.light for outcome in found})
    _table("light", [(name, [o for o in found if o.light == name]) for name in lights])
    refused = [outcome.refused_for for outcome in found if outcome.reported is None]
    print("refused for: " + ", ".join(f"{reason} {refused.count(reason)}" for reason in sorted(set(refused))))


def _table(title: str, rows: Iterable[tuple[str, Sequence[Outcome]]]) -> None:
    print(f"\n{title:16} photos  refused  held 90 %  too low  too high  median error  p95 error  width  z L*   a*   b*")
    for name, chosen in rows:
        read = [outcome for outcome in chosen if outcome.reported is not None]
        if not read:
            print(f"{name:16} {len(chosen):6}")
            continue
        errors = [outcome.error for outcome in read]
        spread = np.sqrt(np.mean(np.square([outcome.axis_errors for outcome in read]), axis=0))
        print(
            f"{name:16} {len(chosen):6} {1 - len(read) / len(chosen):8.1%} {held_share(read):10.1%}"
            f" {np.mean([o.true_delta_e_00 < o.low for o in read]):8.1%}"
            f" {np.mean([o.true_delta_e_00 > o.high for o in read]):9.1%} {np.median(errors):13.2f}"
            f" {np.quantile(errors, 0.95):10.2f} {np.median([o.high - o.low for o in read]):6.1f}"
            f"  {spread[0]:.2f} {spread[1]:.2f} {spread[2]:.2f}"
        )
