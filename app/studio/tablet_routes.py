"""A tablet in a client's hands: its neutral screen, the code that opens a form, and the ways back for the studio."""

from datetime import timedelta
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform import links, throttle
from app.platform.audit import Actor
from app.platform.forms import Filled, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here
from app.platform.service import Service
from app.studio import actions, forms, tablet, tablet_actions
from app.studio.access import (
    DOORS,
    ON_TABLET,
    TABLET_PASS_LASTS,
    AnyMember,
    Elsewhere,
    NotFound,
    OnTablet,
    Public,
    PublicOnTablet,
    Tablet,
    cookie_name,
    language_of,
)
from app.studio.models import Member
from app.studio.passwords import is_right
from app.studio.routes import WAIT, give_cookie, let_in

router = APIRouter()
QUARTER = timedelta(minutes=15)
CODES_FROM_ONE_PLACE, CODES_IN_ALL = 30, 300
WRONG_CODE = "This code does not open anything. Look at it once more, or ask for a new one."
WRONG_PIN = "This is not the PIN."


@router.get("/hand-over")
def giving(request: Request, _: AnyMember) -> HTMLResponse:
    return show(request, "studio/tablet_giving.html")


@router.post("/hand-over")
def give(request: Request, service: Here, who: AnyMember) -> Response:
    """Ends the member's sign-in on this device and leaves the neutral screen."""
    tablet.end_passes(request, service)
    with service.database.write() as db:
        secret = tablet_actions.begin_hand_over(db, who.id, who.sign_in_id, by=who.actor)
    answer = see("/tablet")
    tablet.lock(answer, service, secret)
    return answer


def _screen(request: Request, service: Service, held: Tablet, form: Filled[Any], status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        member = db.get_one(Member, held.member_id)
    return show(
        request,
        "studio/tablet.html",
        form=form,
        here="/tablet",  # where the language is chosen leads back here, from a refused code, too
        is_over=held.is_over,
        asks_pin=_asks_pin(held, member),
        status=status,
    )


def _asks_pin(held: Tablet, member: Member) -> bool:
    return member.is_active and bool(member.pin_hash) and not held.is_over


@router.get("/tablet")
def screen(request: Request, service: Here, held: OnTablet) -> HTMLResponse:
    """The neutral screen. Whoever comes here has closed the form that was open: nothing leads back into it."""
    was_open = tablet.has_pass(request, service)
    if was_open:
        tablet.end_passes(request, service)
    answer = _screen(request, service, held, shown({}))
    if was_open:
        tablet.clear(answer, service)
    return answer


@router.post("/tablet/reset")
def reset(request: Request, service: Here, _: PublicOnTablet) -> Response:
    """Closes what is open for a client in this browser, on the studio's tablet and on any other device."""
    tablet.end_passes(request, service)
    answer = see("/tablet" if request.state.is_handed_over else "/code")
    tablet.clear(answer, service)
    return answer


def _place_of(request: Request) -> str:
    return request.client.host if request.client else ""


def _open_by_code(
    request: Request, service: Service, posted: Sent, doors: tuple[str, ...], lasts: timedelta
) -> Response | Filled[forms.TabletCode]:
    """The form that a code is for; or what is wrong with the code, which is always the same."""
    filled = fill(forms.TabletCode, posted)
    if not filled.ok:
        return filled
    with service.database.write() as db:
        free = throttle.spend(db, f"codes-from/{_place_of(request)}", limit=CODES_FROM_ONE_PLACE, window=QUARTER)
        free = throttle.spend(db, "codes", limit=CODES_IN_ALL, window=QUARTER) and free
    if not free:
        return filled.refuse("code", WAIT)
    try:
        with service.database.write() as db:
            swapped = links.swap_code(db, filled.sure.code, lasts=lasts)
            if swapped is None or swapped[0].purpose not in doors:
                raise NotFound  # which leaves a code for another door unspent
    except NotFound:
        return filled.refuse("code", WRONG_CODE)
    tablet.end_passes(request, service)
    purpose = swapped[0].purpose
    answer = see(DOORS[purpose])
    for other in DOORS:
        if other != purpose:
            tablet.forget(answer, service, cookie_name(service, other))
    give_cookie(answer, service, cookie_name(service, purpose), swapped[1], days=0.5)
    return answer


def _status(filled: Filled[Any]) -> int:
    return 429 if WAIT in filled.errors.values() else 422


@router.post("/tablet/code")
def code_on_tablet(request: Request, service: Here, posted: Sent, held: OnTablet) -> Response:
    if held.is_over:
        return see("/tablet")
    done = _open_by_code(request, service, posted, ON_TABLET, TABLET_PASS_LASTS)
    return _screen(request, service, held, done, _status(done)) if isinstance(done, Filled) else done


@router.get("/code")
def code_page(request: Request, _: Public) -> HTMLResponse:
    return show(request, "studio/code.html", form=shown({}), lang=language_of(request))


@router.post("/code")
def code(request: Request, service: Here, posted: Sent, _: Public) -> Response:
    """Any device: a code instead of a link."""
    done = _open_by_code(request, service, posted, tuple(DOORS), links.PASS_LASTS)
    if isinstance(done, Filled):
        return show(request, "studio/code.html", form=done, lang=language_of(request), status=_status(done))
    return done


@router.post("/tablet/pin")
def pin(request: Request, service: Here, posted: Sent, held: OnTablet) -> Response:
    """The right PIN signs in whoever handed the tablet over, and nobody else."""
    filled = fill(forms.TabletPin, posted)
    if not filled.ok:
        return _screen(request, service, held, filled, 422)
    with service.database.write() as db:
        member = db.get_one(Member, held.member_id)
        if not _asks_pin(held, member):
            return see("/tablet/sign-in")
        free = throttle.spend(db, f"pin/{member.id}", limit=10, window=QUARTER)
        counts = free and tablet_actions.count_try(db, held.id)
    if not free:
        return _screen(request, service, held, filled.refuse("pin", WAIT), 429)
    if not counts or not is_right(filled.sure.pin, member.pin_hash):
        return _wrong_pin(request, service, held, filled)
    with service.database.write() as db:
        if tablet_actions.end_hand_over(db, held.id, "pin", by=held.actor).ended_how != "pin":
            raise Elsewhere("/sign-in")
        throttle.clear(db, f"pin/{member.id}")
        secret = actions.sign_in(db, db.get_one(Member, held.member_id))
    return _taken_back(request, service, secret, "/today")


def _wrong_pin(request: Request, service: Service, held: Tablet, filled: Filled[forms.TabletPin]) -> Response:
    with service.database.write() as db:
        row = tablet_actions.refuse_pin(db, held.id, by=held.actor)
        is_last = row.pin_tries >= tablet_actions.PIN_TRIES
        if is_last:
            tablet_actions.end_hand_over(db, held.id, "tries", by=held.actor)
    if not is_last:
        return _screen(request, service, held, filled.refuse("pin", WRONG_PIN), 422)
    tablet.end_passes(request, service)
    answer = see("/sign-in?why=tries")
    tablet.unlock(answer, service)
    return answer


def _taken_back(request: Request, service: Service, secret: str, to: str) -> Response:
    tablet.end_passes(request, service)
    answer = see(to)
    tablet.unlock(answer, service)
    give_cookie(answer, service, cookie_name(service), secret, days=7)
    return answer


@router.get("/tablet/sign-in")
def sign_in_page(request: Request, _: OnTablet) -> HTMLResponse:
    return show(request, "studio/tablet_sign_in.html", form=shown({}), lang="en")


@router.post("/tablet/sign-in")
def sign_in(request: Request, service: Here, posted: Sent, held: OnTablet) -> Response:
    """Any member's full sign-in takes the tablet back."""
    entered = let_in(request, service, posted)
    if not isinstance(entered, Member):
        return show(request, "studio/tablet_sign_in.html", form=entered.form, lang="en", status=entered.status)
    with service.database.write() as db:
        tablet_actions.end_hand_over(
            db, held.id, "expired" if held.is_over else "sign_in", by=Actor("member", entered.id)
        )
        secret = actions.sign_in(db, entered)
    return _taken_back(request, service, secret, "/today")
