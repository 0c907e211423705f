import secrets
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from app.platform import throttle
from app.platform.audit import SYSTEM
from app.platform.forms import Filled, Posted, Refused, Sent, fill, shown
from app.platform.languages import LANGUAGES
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.rows import MAX_ID
from app.platform.search import fold
from app.platform.service import Service
from app.studio import actions, forms, queries
from app.studio.access import AnyMember, FirstRun, Machine, Owner, Public, Who, cookie_name
from app.studio.country import PACKS, country_pack
from app.studio.models import Member
from app.studio.passwords import hash_password, is_right

router = APIRouter()
WAIT = "Too many tries. Wait a quarter of an hour, then try again."


def give_cookie(answer: Response, service: Service, name: str, secret: str, *, days: float) -> None:
    answer.set_cookie(
        name,
        secret,
        max_age=int(days * 86400),
        httponly=True,
        samesite="lax",
        path="/",
        secure=service.settings.is_https,
    )


@router.get("/health", response_class=Response)
def health(service: Here, _: Machine) -> Response:
    """200 when database and storage answer."""
    ok = service.database.answers() and service.storage.answers()
    return Response("ok\n" if ok else "not ready\n", 200 if ok else 503, media_type="text/plain")


@router.get("/first-run")
def first_run(request: Request, _: FirstRun) -> HTMLResponse:
    return show(request, "studio/first_run.html", form=shown({"country": "", "zone": ""}))


@router.post("/first-run")
def found(request: Request, service: Here, posted: Sent, _: FirstRun) -> Response:
    filled = fill(forms.FirstRun, posted)
    with service.database.write() as db:
        free = throttle.spend(db, "first-run", limit=10, window=timedelta(minutes=15))
    if not free:
        filled = filled.refuse("code", WAIT)
    elif not secrets.compare_digest(posted.one("code").strip().encode(), service.first_run_code.encode()):
        filled = filled.refuse("code", "This is not the code that the console shows. Type it as it stands there.")
    if not filled.ok:
        return show(request, "studio/first_run.html", form=filled, status=422)
    password_hash = hash_password(filled.sure.password)
    try:
        with service.database.write() as db:
            owner = actions.found(db, filled.sure, password_hash, by=SYSTEM)
            secret = actions.sign_in(db, owner)
    except Refused as refused:  # two people founding at the same moment
        return show(request, "studio/first_run.html", form=filled.refuse(refused.name, refused.message), status=422)
    answer = see("/")
    give_cookie(answer, service, cookie_name(service), secret, days=7)
    return answer


def inside(address: str) -> str:
    """Only our own pages, so that a crafted link cannot lead away after signing in."""
    # Browsers leave tabs and line ends out of an address before they read it: "/<tab>/" would be "//".
    is_plain = address.isprintable() and address.startswith("/") and not address.startswith(("//", "/\\"))
    return address if is_plain else "/"


WHY = {"tries": "The PIN was wrong five times. The tablet is signed out now; sign in with your name and password."}


@router.get("/sign-in")
def sign_in_page(request: Request, _: Public, next: str = "/", why: str = "") -> HTMLResponse:
    return show(request, "studio/sign_in.html", form=shown({"next": inside(next)}), why=WHY.get(why, ""))


@dataclass(frozen=True)
class NotIn:
    """A sign-in that did not lead in: the form with what is wrong."""

    form: Filled[forms.SignIn]
    status: int


def let_in(request: Request, service: Service, posted: Posted) -> Member | NotIn:
    """The member whose name and password were typed; throttled, and every refusal is in the trail."""
    filled = fill(forms.SignIn, posted)
    if not filled.ok:
        return NotIn(filled, 422)
    login = fold(filled.sure.login)
    with service.database.write() as db:
        free = throttle.spend(db, f"sign-in/{login}", limit=10, window=timedelta(minutes=15))
        address = request.client.host if request.client else ""
        free = throttle.spend(db, f"sign-in-from/{address}", limit=60, window=timedelta(minutes=15)) and free
    if not free:
        return NotIn(filled.refuse("login", WAIT), 429)
    with service.database.read() as db:
        member = queries.member_by_login(db, login)
    if not is_right(filled.sure.password, member.password_hash if member else None) or member is None:
        with service.database.write() as db:
            actions.refuse_sign_in(db, login, by=SYSTEM)
        return NotIn(filled.refuse("password", "The sign-in name and the password do not go together."), 422)
    with service.database.write() as db:
        throttle.clear(db, f"sign-in/{login}")
    return member


@router.post("/sign-in")
def sign_in(request: Request, service: Here, posted: Sent, _: Public) -> Response:
    entered = let_in(request, service, posted)
    if isinstance(entered, NotIn):
        return show(request, "studio/sign_in.html", form=entered.form, why="", status=entered.status)
    with service.database.write() as db:
        secret = actions.sign_in(db, entered)
    answer = see(inside(posted.one("next", "/")))
    give_cookie(answer, service, cookie_name(service), secret, days=7)
    return answer


@router.post("/sign-out")
def sign_out(service: Here, who: AnyMember) -> RedirectResponse:
    with service.database.write() as db:
        actions.sign_out(db, who.sign_in_id, by=who.actor)
    answer = see("/sign-in")
    answer.delete_cookie(cookie_name(service), path="/", secure=service.settings.is_https, httponly=True)
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer


def _studio_page(
    request: Request, service: Service, form: Filled[forms.StudioDetails], status: int = 200
) -> HTMLResponse:
    with service.database.read() as db:
        studio, members = queries.studio(db), queries.members(db)
    pack = country_pack(studio.country)
    region = pack.region(studio.region)
    return show(
        request,
        "studio/studio.html",
        nav="studio",
        members=members,
        form=form,
        countries=[(pack.code, pack.name) for pack in PACKS],
        languages_of_studio=list(LANGUAGES.items()),
        regions=[(region.code, region.name) for region in pack.regions],
        region_note=region.note if region else "",
        status=status,
    )


def _as_it_stands(service: Service) -> Filled[forms.StudioDetails]:
    with service.database.read() as db:
        studio = queries.studio(db)
    return shown({**studio.model_dump(), "zone": studio.time_zone})


@router.get("/studio")
def studio_page(request: Request, service: Here, who: Owner) -> HTMLResponse:
    return _studio_page(request, service, _as_it_stands(service))


@router.post("/studio")
def change_studio(request: Request, service: Here, posted: Sent, who: Owner) -> Response:
    filled = fill(forms.StudioDetails, posted)
    if not filled.ok:
        return _studio_page(request, service, filled, 422)
    with service.database.write() as db:
        actions.change_studio(db, filled.sure, by=who.actor)
    return see("/studio")


@router.get("/studio/members/new")
def new_member(request: Request, who: Owner) -> HTMLResponse:
    return show(request, "studio/member_new.html", nav="studio", form=shown({"role": "artist"}))


@router.post("/studio/members")
def add_member(request: Request, service: Here, posted: Sent, who: Owner) -> Response:
    filled = fill(forms.NewMember, posted)
    if filled.ok:
        password_hash = hash_password(filled.sure.password)
        try:
            with service.database.write() as db:
                actions.add_member(db, filled.sure, password_hash, by=who.actor)
            return see("/studio")
        except Refused as refused:
            filled = filled.refuse(refused.name, refused.message)
    return show(request, "studio/member_new.html", nav="studio", form=filled, status=422)


@router.post("/studio/members/{member_id}/leaving")
def retire_member(request: Request, service: Here, member_id: Id, who: Owner) -> Response:
    try:
        with service.database.write() as db:
            actions.retire_member(db, queries.member_for(db, who, member_id), by=who.actor)
    except Refused as refused:
        return _studio_page(request, service, _as_it_stands(service).refuse("_member", refused.message), 422)
    return see("/studio")


@router.get("/account")
def account(request: Request, who: AnyMember) -> HTMLResponse:
    return show(request, "studio/account.html", form=shown({}))


def _is_own_password(service: Service, who: Who, typed: str) -> bool | None:
    """Whether it is; nothing after too many tries."""
    with service.database.write() as db:
        free = throttle.spend(db, f"password/{who.id}", limit=10, window=timedelta(minutes=15))
        member = queries.member_for(db, who, who.id)
    return is_right(typed, member.password_hash) if free else None


def _refused_password(is_own: bool | None) -> str:
    return WAIT if is_own is None else "This is not your password."


@router.post("/account/password")
def change_password(request: Request, service: Here, posted: Sent, who: AnyMember) -> Response:
    filled = fill(forms.NewPassword, posted)
    if filled.ok and not (is_own := _is_own_password(service, who, filled.sure.current)):
        filled = filled.refuse("current", _refused_password(is_own))
    if not filled.ok:
        return show(request, "studio/account.html", form=filled, status=422)
    password_hash = hash_password(filled.sure.password)
    with service.database.write() as db:
        member = actions.change_password(db, queries.member_for(db, who, who.id), password_hash, by=who.actor)
        secret = actions.sign_in(db, member)
    answer = see("/")
    give_cookie(answer, service, cookie_name(service), secret, days=7)
    return answer


@router.post("/account/pin")
def set_pin(request: Request, service: Here, posted: Sent, who: AnyMember) -> Response:
    filled = fill(forms.NewPin, posted)
    if filled.ok and not (is_own := _is_own_password(service, who, filled.sure.pin_password)):
        filled = filled.refuse("pin_password", _refused_password(is_own))
    if not filled.ok:
        return show(request, "studio/account.html", form=filled, status=422)
    pin_hash = hash_password(filled.sure.pin)
    with service.database.write() as db:
        actions.set_pin(db, queries.member_for(db, who, who.id), pin_hash, by=who.actor)
    return see("/account")


@router.get("/studio/trail")
def trail(
    request: Request,
    service: Here,
    who: Owner,
    before: Annotated[int | None, Query(ge=1, le=MAX_ID)] = None,
    subject: str = "",
) -> HTMLResponse:
    with service.database.read() as db:
        lines = queries.trail(db, before=before, subject=subject[:80])
    return show(request, "studio/trail.html", nav="studio", lines=lines, subject=subject[:80], page=queries.PAGE)
