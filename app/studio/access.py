"""What every route names: who may come in. Strangers to a record get 404; the signed-out are led to sign in."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Annotated

from fastapi import Depends, Request
from sqlmodel import Session, select

from app.platform import clock, languages
from app.platform.audit import Actor
from app.platform.links import Guest, guest_of, hash_of, stretch, why_shut
from app.platform.service import Service
from app.studio.models import HandOver, Member, SignIn, Studio

IDLE = timedelta(hours=12)
SEEN_EVERY = timedelta(minutes=2)


class SignedOut(Exception):
    """Nobody is signed in here."""


class NotFound(Exception):
    """No such thing, or not for whoever asks: the two look the same from outside."""


class PassOver(NotFound):
    """A client's pass that was good once: whoever holds it is told why it is over, and what was typed is kept."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


class NoStudioYet(Exception):
    """The service is new and waits for its owner."""


class Elsewhere(Exception):
    """Not from this browser, as it stands: whoever asks is led to the one place that is open to them."""

    def __init__(self, address: str) -> None:
        super().__init__(address)
        self.address = address


@dataclass(frozen=True)
class Who:
    """A signed-in member."""

    id: int
    name: str
    role: str
    sign_in_id: int
    has_pin: bool = False

    @property
    def actor(self) -> Actor:
        return Actor("member", self.id)

    @property
    def is_owner(self) -> bool:
        return self.role == "owner"

    @property
    def sees_health(self) -> bool:
        return self.role in ("owner", "artist")


def cookie_name(service: Service, purpose: str = "member") -> str:
    """`__Host-` where the browser would keep it: it needs HTTPS."""
    return f"{'__Host-' if service.settings.is_https else ''}evenseam_{purpose}"


def _studio(request: Request, db: Session) -> Studio:
    studio = db.get(Studio, 1)
    if studio is None:
        raise NoStudioYet
    request.state.studio = studio
    return studio


def today(request: Request) -> date:
    """The date where the studio stands."""
    return clock.today(request.state.studio.time_zone)


def tablet_of(db: Session, secret: str) -> HandOver | None:
    """The hand-over that this browser stands under; one that has expired still holds until somebody signs in fully."""
    if not secret:
        return None
    return db.exec(select(HandOver).where(HandOver.secret_hash == hash_of(secret), HandOver.ended_at == None)).first()  # noqa: E711


def _handed_over(request: Request, db: Session) -> HandOver | None:
    """Whether this browser is a tablet in a client's hands. Its cookie wins over every other that lies beside it."""
    service: Service = request.app.state.service
    tablet = tablet_of(db, request.cookies.get(cookie_name(service, "tablet"), ""))
    request.state.is_handed_over = tablet is not None
    return tablet


def _its_place(request: Request, db: Session) -> Elsewhere:
    """Where a handed-over tablet belongs: on the one form that is open on it, else on its neutral screen."""
    service: Service = request.app.state.service
    for purpose in ON_TABLET:
        if guest_of(db, request.cookies.get(cookie_name(service, purpose), ""), purpose):
            return Elsewhere(DOORS[purpose])
    return Elsewhere("/tablet")


def _signed_in(db: Session, secret: str) -> tuple[SignIn, Member] | None:
    found = db.exec(select(SignIn, Member).join(Member).where(SignIn.secret_hash == hash_of(secret))).first()
    if found is None:
        return None
    sign_in, member = found
    now = clock.now()
    stands = sign_in.ended_at is None and sign_in.expires_at > now and now - sign_in.last_seen_at < IDLE
    return (sign_in, member) if stands and member.is_active else None


LANGUAGE_COOKIE = "evenseam_language"
# Where a link of each purpose leads, and which of them a handed-over tablet opens.
DOORS = {"intake": "/intake", "aftercare": "/aftercare", "signing": "/signing",
         "permissions": "/permissions"}  # fmt: skip
ON_TABLET = ("intake", "signing")
# A form that nobody touched for so long is closed on a handed-over tablet by the server, too: the page's own clock,
# which asks much sooner, stands still while a tablet sleeps. It outlasts the longest idle time that an owner may set.
TABLET_PASS_LASTS = timedelta(minutes=90)
# Pages for clients that the catalogues cover; the others are English until they are.
TRANSLATED = frozenset({"intake", "signing", "permissions"})


def language_of(request: Request, *wishes: str) -> str:
    """What the client chose on this device, else what is known of them, else what their browser asks for."""
    asked = request.headers.get("accept-language", "")
    return languages.chosen(request.cookies.get(LANGUAGE_COOKIE, ""), *wishes, accepts=asked)


class Access:
    """Lets members of some roles in."""

    def __init__(self, *roles: str) -> None:
        self.roles = roles

    def __call__(self, request: Request) -> Who:
        service: Service = request.app.state.service
        with service.database.read() as db:
            _studio(request, db)
            if _handed_over(request, db):
                raise _its_place(request, db)
            found = _signed_in(db, request.cookies.get(cookie_name(service), ""))
        if found is None:
            raise SignedOut
        sign_in, member = found
        assert sign_in.id is not None
        assert member.id is not None
        who = Who(member.id, member.name, member.role, sign_in.id, bool(member.pin_hash))
        request.state.who = who
        if clock.now() - sign_in.last_seen_at > SEEN_EVERY:
            with service.database.write() as db:
                row = db.get_one(SignIn, sign_in.id)
                row.last_seen_at = clock.now()
                db.add(row)
        if member.role not in self.roles:
            raise NotFound
        return who


class PublicAccess:
    """Lets anybody in, but a handed-over tablet only where it says so."""

    def __init__(self, *, on_tablet: bool = False) -> None:
        self.on_tablet = on_tablet

    def __call__(self, request: Request) -> None:
        service: Service = request.app.state.service
        with service.database.read() as db:
            _studio(request, db)
            if _handed_over(request, db) and not self.on_tablet:
                raise _its_place(request, db)


@dataclass(frozen=True)
class Tablet:
    """A tablet in a client's hands."""

    id: int
    member_id: int
    is_over: bool  # too long ago: only a full sign-in takes it back

    @property
    def actor(self) -> Actor:
        return Actor("tablet", self.id, on_behalf_of=self.member_id)


class TabletAccess:
    """Lets in the browser of a handed-over tablet; every other is led to the first page."""

    def __call__(self, request: Request) -> Tablet:
        service: Service = request.app.state.service
        with service.database.read() as db:
            _studio(request, db)
            row = _handed_over(request, db)
        if row is None or row.id is None:
            raise Elsewhere("/")
        request.state.language = language_of(request)
        return Tablet(row.id, row.member_id, row.expires_at <= clock.now())


class FirstRunAccess:
    """Lets anybody in while there is no studio; afterwards there is no such page."""

    def __call__(self, request: Request) -> None:
        service: Service = request.app.state.service
        with service.database.read() as db:
            if db.get(Studio, 1) is not None:
                raise NotFound


class MachineAccess:
    """Lets anybody in, studio or not: health and static files."""

    def __call__(self) -> None:
        return


class GuestAccess:
    """Lets in the client who holds a pass for one purpose."""

    def __init__(self, purpose: str) -> None:
        self.purpose = purpose

    def __call__(self, request: Request) -> Guest:
        service: Service = request.app.state.service
        with service.database.read() as db:
            _studio(request, db)
            tablet = _handed_over(request, db)
            secret = request.cookies.get(cookie_name(service, self.purpose), "")
            guest = guest_of(db, secret, self.purpose)
            if tablet is not None and (guest is None or self.purpose not in ON_TABLET):
                raise _its_place(request, db)
            why = "" if guest is not None else why_shut(db, secret, self.purpose)
        if self.purpose in TRANSLATED:
            request.state.language = language_of(request, guest.language if guest is not None else "")
        if guest is None:
            raise PassOver(why) if why else NotFound
        if tablet is not None and guest.pass_ends_at - clock.now() < TABLET_PASS_LASTS - SEEN_EVERY:
            with service.database.write() as db:
                stretch(db, secret, lasts=TABLET_PASS_LASTS)
        return guest


Owner = Annotated[Who, Depends(Access("owner"))]
Artist = Annotated[Who, Depends(Access("owner", "artist"))]
AnyMember = Annotated[Who, Depends(Access("owner", "artist", "desk"))]
Public = Annotated[None, Depends(PublicAccess())]
PublicOnTablet = Annotated[None, Depends(PublicAccess(on_tablet=True))]
OnTablet = Annotated[Tablet, Depends(TabletAccess())]
FirstRun = Annotated[None, Depends(FirstRunAccess())]
Machine = Annotated[None, Depends(MachineAccess())]
IntakeGuest = Annotated[Guest, Depends(GuestAccess("intake"))]
AftercareGuest = Annotated[Guest, Depends(GuestAccess("aftercare"))]
SigningGuest = Annotated[Guest, Depends(GuestAccess("signing"))]
PermissionsGuest = Annotated[Guest, Depends(GuestAccess("permissions"))]
