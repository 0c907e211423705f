"""What every route names: who may come in. Strangers to a record get 404; the signed-out are led to sign in."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Annotated

from fastapi import Depends, Request
from sqlmodel import Session, select

from app.platform import clock
from app.platform.audit import Actor
from app.platform.links import Guest, guest_of, hash_of
from app.platform.service import Service
from app.studio.models import Member, SignIn, Studio

IDLE = timedelta(hours=12)
SEEN_EVERY = timedelta(minutes=2)


class SignedOut(Exception):
    """Nobody is signed in here."""


class NotFound(Exception):
    """No such thing, or not for whoever asks: the two look the same from outside."""


class NoStudioYet(Exception):
    """The service is new and waits for its owner."""


@dataclass(frozen=True)
class Who:
    """A signed-in member."""

    id: int
    name: str
    role: str
    sign_in_id: int

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


def _signed_in(db: Session, secret: str) -> tuple[SignIn, Member] | None:
    found = db.exec(select(SignIn, Member).join(Member).where(SignIn.secret_hash == hash_of(secret))).first()
    if found is None:
        return None
    sign_in, member = found
    now = clock.now()
    stands = sign_in.ended_at is None and sign_in.expires_at > now and now - sign_in.last_seen_at < IDLE
    return (sign_in, member) if stands and member.is_active else None


class Access:
    """Lets members of some roles in."""

    def __init__(self, *roles: str) -> None:
        self.roles = roles

    def __call__(self, request: Request) -> Who:
        service: Service = request.app.state.service
        with service.database.read() as db:
            _studio(request, db)
            found = _signed_in(db, request.cookies.get(cookie_name(service), ""))
        if found is None:
            raise SignedOut
        sign_in, member = found
        assert sign_in.id is not None
        assert member.id is not None
        who = Who(member.id, member.name, member.role, sign_in.id)
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
    """Lets anybody in; `who` is set when a member is signed in."""

    def __call__(self, request: Request) -> None:
        service: Service = request.app.state.service
        with service.database.read() as db:
            _studio(request, db)


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
            guest = guest_of(db, request.cookies.get(cookie_name(service, self.purpose), ""), self.purpose)
        if guest is None:
            raise NotFound
        return guest


Owner = Annotated[Who, Depends(Access("owner"))]
Artist = Annotated[Who, Depends(Access("owner", "artist"))]
AnyMember = Annotated[Who, Depends(Access("owner", "artist", "desk"))]
Public = Annotated[None, Depends(PublicAccess())]
FirstRun = Annotated[None, Depends(FirstRunAccess())]
Machine = Annotated[None, Depends(MachineAccess())]
IntakeGuest = Annotated[Guest, Depends(GuestAccess("intake"))]
AftercareGuest = Annotated[Guest, Depends(GuestAccess("aftercare"))]
SigningGuest = Annotated[Guest, Depends(GuestAccess("signing"))]
