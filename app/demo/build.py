"""Builds the made-up studio in an empty data folder, by the actions that people use, in the order of its days."""

import heapq
import secrets
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlmodel import select

from app.colour.chart_reference import shipped
from app.demo.album import render_album
from app.demo.cast import PEOPLE, STUDIO, Crew, found_studio
from app.demo.hands import Hands, Step, moment
from app.demo.photos import Rendered
from app.demo.shelf import SHELF
from app.demo.stories import STORIES
from app.messages.sending import send_due
from app.platform import clock
from app.platform.service import Service
from app.records.capture_forms import MeasureBar
from app.records.card_actions import make_card, measure_bar
from app.records.chart_actions import register_chart
from app.records.chart_forms import RegisterChart
from app.studio.models import Studio

WORDS = (
    "amber",
    "birch",
    "cedar",
    "delta",
    "ember",
    "fjord",
    "grove",
    "harbour",
    "island",
    "juniper",
    "kettle",
    "lantern",
    "meadow",
    "nutmeg",
    "orchard",
    "pebble",
    "quarry",
    "ripple",
    "saddle",
    "thicket",
    "umber",
    "velvet",
    "willow",
    "yonder",
)
FOUNDED_DAYS_AGO = 240


@dataclass(frozen=True)
class Cast:
    """What came of building: the people, and how to sign in as each."""

    crew: Crew
    sign_ins: tuple[tuple[str, str, str], ...]  # role, login, password


def is_empty(service: Service) -> bool:
    with service.database.read() as db:
        return db.exec(select(Studio)).first() is None


def new_password() -> str:
    """Made anew for each data folder: four words and a number."""
    return "-".join(secrets.choice(WORDS) for _ in range(4)) + f"-{secrets.randbelow(90) + 10}"


def build_demo(
    service: Service,
    *,
    say: Callable[..., object] = print,
    album: Mapping[str, Rendered] | None = None,
    on: date | None = None,
    passwords: Mapping[str, str] | None = None,
) -> Cast:
    """The whole made-up studio as it stands on a day (today unless said): six cases in six states."""
    on = on or clock.today(STUDIO["zone"])
    given = dict(passwords) if passwords else {login: new_password() for _, login, _ in PEOPLE}
    if album is None:
        album = render_album(say)
    now = clock.now()
    with clock.stopped_at(moment(on - timedelta(days=FOUNDED_DAYS_AGO), 9)):
        crew = found_studio(service, given)
        hands = Hands(service, crew, on, album)
        hands.open_doors()
        for bottle in SHELF:
            hands.stock(bottle, hands.days_ago(FOUNDED_DAYS_AGO))
        _print_card(service, crew)
        _register_chart(service, crew)
    _tell(hands, now, say)
    return Cast(crew, tuple((role, login, given[login]) for role, login, _ in PEOPLE))


def _print_card(service: Service, crew: Crew) -> None:
    """One capture card, printed a little small, as printers do, and its bar measured."""
    by = crew.by("ines")
    with service.database.write() as db:
        card = make_card(db, by=by)
        db.flush()
        measure_bar(db, card, MeasureBar(bar_mm=99.4, revision=card.revision), by=by)


def _register_chart(service: Service, crew: Crew) -> None:
    """A copy of the chart with values of its own, as if somebody had measured it; not the usual one."""
    reference = shipped()
    lines = [f"{name},{lab[0] + 0.3:.2f},{lab[1]:.2f},{lab[2] - 0.2:.2f}"
             for name, lab in zip(reference.names, reference.lab_d65, strict=True)]  # fmt: skip
    form = RegisterChart(name="The copy in the green sleeve", columns=6, rows=4, white="D65",
                         values="\n".join(lines), values_from="Invented for this demo", pitch_mm=13.4)
    with service.database.write() as db:
        register_chart(db, form, by=crew.by("ines"))


Line = list[tuple[datetime, int, Iterator[Step]]]


def _tell(hands: Hands, now: datetime, say: Callable[..., object]) -> None:
    """Takes every story's steps in the order of their days; what was due in between is sent meanwhile."""
    waiting: Line = []
    for index, story in enumerate(STORIES):
        _line_up(hands, waiting, index, story(hands))
    while waiting:
        at, index, steps = heapq.heappop(waiting)
        # Early in the morning, or under another clock, "today at nine" may still be to come.
        with clock.stopped_at(min(at, now)):
            send_due(hands.service)
            _line_up(hands, waiting, index, steps)
    say(f"  {len(STORIES)} clients, as they stand on {hands.today.isoformat()}")


def _line_up(hands: Hands, waiting: Line, index: int, steps: Iterator[Step]) -> None:
    """Runs a story to its next step's day and puts it in the line."""
    try:
        days, hour = next(steps)
    except StopIteration:
        return
    heapq.heappush(waiting, (moment(hands.days_ago(days), hour), index, steps))
