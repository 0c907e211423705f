import secrets
from datetime import timedelta

from sqlmodel import Session, select

from app.platform import clock
from app.platform.audit import SYSTEM, Actor, about, audited, entry, note
from app.platform.db import take_revision
from app.platform.forms import Refused
from app.platform.links import hash_of
from app.studio import forms
from app.studio.country import country_pack
from app.studio.models import HandOver, Member, SignIn, Studio

SIGN_IN_LASTS = timedelta(days=7)


@audited("studio.studio.founded")
def found(db: Session, form: forms.FirstRun, password_hash: str, *, by: Actor) -> Member:
    """Makes the studio and its owner's own account; there is one studio and it is founded once."""
    if db.get(Studio, 1) is not None:
        raise Refused("studio_name", "The studio stands already. Sign in instead.")
    db.add(Studio(name=form.studio_name, country=form.country, time_zone=form.zone, made_at=clock.now()))
    owner = Member(name=form.name, login=form.login, role="owner", password_hash=password_hash, made_at=clock.now())
    db.add(owner)
    return owner


@audited("studio.member.added")
def add_member(db: Session, form: forms.NewMember, password_hash: str, *, by: Actor) -> Member:
    if db.exec(select(Member).where(Member.login == form.login)).first():
        raise Refused("login", "Somebody has this sign-in name already. Choose another.")
    member = Member(name=form.name, login=form.login, role=form.role, password_hash=password_hash, made_at=clock.now())
    db.add(member)
    return member


@audited("studio.member.left")
def retire_member(db: Session, member: Member, *, by: Actor) -> Member:
    """Ends an account and every sign-in of it; what the member wrote stays theirs."""
    if member.role == "owner":
        others = select(Member).where(Member.role == "owner", Member.is_active, Member.id != member.id)
        if db.exec(others).first() is None:
            raise Refused("member", "The studio needs an owner. Add another owner first.")
    member.is_active = False
    db.add(member)
    end_sign_ins(db, member)
    return member


@audited("studio.password.changed")
def change_password(db: Session, member: Member, password_hash: str, *, by: Actor) -> Member:
    member.password_hash = password_hash
    member.revision += 1
    db.add(member)
    end_sign_ins(db, member)
    return member


@audited("studio.pin.set")
def set_pin(db: Session, member: Member, pin_hash: str, *, by: Actor) -> Member:
    member.pin_hash = pin_hash
    member.revision += 1
    db.add(member)
    return member


def end_sign_ins(db: Session, member: Member) -> None:
    """Ends every sign-in of a member; what they handed over asks for a full sign-in from now on."""
    for tablet in db.exec(select(HandOver).where(HandOver.member_id == member.id, HandOver.ended_at == None)).all():  # noqa: E711
        tablet.expires_at = min(tablet.expires_at, clock.now())
        db.add(tablet)
    for sign_in in db.exec(select(SignIn).where(SignIn.member_id == member.id, SignIn.ended_at == None)).all():  # noqa: E711
        sign_in.ended_at = clock.now()
        db.add(sign_in)


def sign_in(db: Session, member: Member) -> str:
    """Starts a sign-in and gives the secret for its cookie."""
    assert member.id is not None
    secret, now = secrets.token_urlsafe(32), clock.now()
    with entry(db, "studio.sign_in.started", Actor("member", member.id)):
        row = SignIn(
            secret_hash=hash_of(secret),
            member_id=member.id,
            started_at=now,
            last_seen_at=now,
            expires_at=now + SIGN_IN_LASTS,
        )
        db.add(row)
        about(db, row)
    return secret


@audited("studio.sign_in.ended")
def sign_out(db: Session, sign_in_id: int, *, by: Actor) -> SignIn:
    row = db.get_one(SignIn, sign_in_id)
    row.ended_at = clock.now()
    db.add(row)
    return row


@audited("studio.sign_in.refused")
def refuse_sign_in(db: Session, login: str, *, by: Actor = SYSTEM) -> None:
    note(db, login=login[:60])


@audited("studio.studio.changed")
def change_studio(db: Session, form: forms.StudioDetails, *, by: Actor) -> Studio:
    studio = db.get_one(Studio, 1)
    take_revision(studio, form.revision)
    studio.name, studio.country, studio.time_zone = form.name, form.country, form.zone
    studio.phone, studio.email, studio.opens_at = form.phone, form.email, form.opens_at
    studio.aftercare_school, studio.earliest_weeks = form.aftercare_school, form.earliest_weeks
    studio.judge_weeks, studio.judge_weeks_slow = form.judge_weeks, form.judge_weeks_slow
    studio.language = form.language
    studio.region = form.region if country_pack(form.country).region(form.region) else ""  # goes with its country
    studio.intake_months, studio.idle_minutes = form.intake_months, form.idle_minutes
    db.add(studio)
    return studio
