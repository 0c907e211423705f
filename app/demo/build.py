"""Builds the made-up studio in an empty data folder, by the actions that people use, in the order of its days."""

import heapq
import secrets
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlmodel import select

from app.demo.album import render_album
from app.demo.cast import PEOPLE, STUDIO, Crew, found_studio
from app.demo.hands import Hands, Step, moment
from app.demo.photos import Rendered
from app.demo.shelf import SHELF
from app.demo.stories import STORIES
from app.messages.sending import send_due
from app.platform import clock
from app.platform.service import Service
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
    _tell(hands, now, say)
    return Cast(crew, tuple((role, login, given[login]) for role, login, _ in PEOPLE))


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
