"""The client's own pages while healing, by link. Neither titles nor addresses say what is healing."""

from dataclasses import dataclass
from datetime import timedelta

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.consents import actions as consents
from app.consents import queries as consent_queries
from app.healing import actions, aftercare, forms, guest_pages, queries
from app.healing.facts import SERIOUS
from app.healing.models import Course
from app.platform import clock, throttle
from app.platform.db import Handle
from app.platform.forms import Filled, Posted, Sent, fill
from app.platform.images import NotAPhoto
from app.platform.links import Guest
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.platform.storage import Stored
from app.records import actions as records
from app.records import queries as record_queries
from app.records.models import Case, Photo
from app.records.photo_header import Header, read_header, taken_at
from app.records.photo_permission import may_photograph
from app.studio.access import AftercareGuest, today

router = APIRouter()
ANSWERS = [("yes", "Yes"), ("no", "No"), ("not sure", "Not sure")]


@router.get("/aftercare")
def aftercare_page(request: Request, service: Here, guest: AftercareGuest) -> HTMLResponse:
    with service.database.read() as db:
        page = guest_pages.aftercare_page(db, guest, request.state.studio, clock.now())
        is_written_to = consent_queries.is_granted(db, guest.client_id, "reminders_email")
    return show(request, "healing/aftercare.html", page=page, is_written_to=is_written_to,
                not_advice=aftercare.NOT_ADVICE)  # fmt: skip


@router.post("/aftercare/no-more-notes")
def stop_notes(service: Here, guest: AftercareGuest, _posted: Sent) -> Response:
    """Takes the permission to write back; every plan meets that answer before it sends."""
    with service.database.write() as db:
        for answer in consent_queries.permissions_of(db, guest.client_id):
            if answer.kind == "reminders_email" and answer.is_granted and answer.revoked_at is None:
                consents.revoke(db, answer, by=guest.actor)
    return see("/aftercare")


def _ask(
    request: Request, service: Service, guest: Guest, form: Filled[forms.CheckIn], status: int = 200
) -> HTMLResponse:
    studio, now = request.state.studio, clock.now()
    with service.database.read() as db:
        course = queries.course_for_guest(db, guest)
        may_send_photo = may_photograph(db, guest.client_id)
    day = guest_pages.day_number(course, studio, now)
    return show(
        request, "healing/check_in.html", questions=aftercare.questions_for(day), answers=ANSWERS, form=form,
        may_send_photo=may_send_photo,
        keys=[f"q_{question.key}" for question in aftercare.questions_for(day)],
        status=status, reads=guest_pages.when_read(studio, now), urgent=guest_pages.advice("emergency", studio),
    )  # fmt: skip


@router.get("/aftercare/check-in")
def check_in_page(request: Request, service: Here, guest: AftercareGuest) -> HTMLResponse:
    return _ask(request, service, guest, Filled())


@dataclass(frozen=True)
class Received:
    """A photo that came with a check-in, safely stored; or why there is none."""

    stored: Stored | None = None
    header: Header | None = None
    fault: str = ""  # unread, or not_allowed: the client has not said yes to photos


def _receive(service: Service, posted: Posted, guest: Guest) -> Received:
    upload = next(iter(posted.files.get("photo", [])), None)
    if upload is None or not upload.content:
        return Received()
    # A report of trouble is never refused; only the photos of one link are bounded, so that none fills the disk.
    with service.database.write() as db:
        if not may_photograph(db, guest.client_id):
            return Received(fault="not_allowed")
        if not throttle.spend(db, f"check-in-photos/{guest.link_id}", limit=20, window=timedelta(hours=1)):
            return Received(fault="unread")
    try:
        header = read_header(upload.content)
    except NotAPhoto:
        return Received(fault="unread")
    return Received(service.storage.put(upload.content, "photo"), header)


@router.post("/aftercare/check-in")
def check_in(request: Request, service: Here, posted: Sent, guest: AftercareGuest) -> Response:
    filled = fill(forms.CheckIn, posted)
    with service.database.read() as db:
        course = queries.course_for_guest(db, guest)
    day = guest_pages.day_number(course, request.state.studio, clock.now())
    answers = forms.answers_of(posted, day)
    # Whoever needs a doctor is answered at once: nobody is sent back to fill in the rest.
    if aftercare.worst_level(answers) not in SERIOUS:
        for key in aftercare.unanswered(answers, day):
            filled = filled.refuse(f"q_{key}", "Answer yes, no or not sure.")
    if not filled.ok:
        return _ask(request, service, guest, filled, status=422)
    photo = _receive(service, posted, guest)
    with service.database.write() as db:
        course = queries.course_for_guest(db, guest)
        photo_id, fault = _keep_photo(db, course, photo, request, guest)
        row = actions.check_in(db, course, day_number=day, answers=answers, words=filled.sure.words, photo_id=photo_id,
                               by=guest.actor)  # fmt: skip
    return see(f"/aftercare/check-ins/{row.id}" + (f"?photo={fault}" if fault else ""))


def _keep_photo(
    db: Handle, course: Course, photo: Received, request: Request, guest: Guest
) -> tuple[int | None, str]:
    """A photo of the only zone of a course is filed with that zone, else with the case. Its id, or why there is none.

    A yes that was taken back a moment ago is met here once more, and never at the cost of the answers.
    """
    if photo.stored is None or photo.header is None:
        return None, photo.fault
    if not may_photograph(db, guest.client_id):
        return None, "not_allowed"
    on = today(request)
    clocks = queries.clock_rows(db, course)
    zones = {zone.id: zone for zone in record_queries.zones_of(db, course.case_id)}
    zone = zones[clocks[0].zone_id] if len(clocks) == 1 else None
    kept: Photo = records.add_photo(
        db, db.get_one(Case, course.case_id), zone, purpose="check_in", taken_on=on, original=photo.stored,
        width=photo.header.width, height=photo.header.height, camera=photo.header.camera, by_client=True,
        taken_at=taken_at(photo.header, on, request.state.studio.time_zone), facts=photo.header.facts.text(),
        by=guest.actor,
    )  # fmt: skip
    return kept.id, ""


@router.get("/aftercare/check-ins/{check_in_id}")
def answered(
    request: Request, service: Here, check_in_id: Id, guest: AftercareGuest, photo: str = ""
) -> HTMLResponse:
    studio = request.state.studio
    with service.database.read() as db:
        row = queries.check_in_for_guest(db, guest, check_in_id)
        page = guest_pages.aftercare_page(db, guest, studio, clock.now())
    return show(request, "healing/answered.html", row=row, advice=guest_pages.advice(row.level, studio), page=page,
                photo_unread=photo == "unread", photo_not_allowed=photo == "not_allowed",
                emergency=guest_pages.advice("emergency", studio))  # fmt: skip


@router.get("/aftercare/clinician")
def clinician(request: Request, service: Here, guest: AftercareGuest) -> HTMLResponse:
    with service.database.read() as db:
        treatments = guest_pages.clinician_sheet(db, guest)
        name = guest_pages.client_name(db, guest)
    words = aftercare.CLINICIAN_TEXT
    at = words.index(aftercare.LOTS_PLACEHOLDER)
    return show(
        request, "healing/clinician.html", treatments=treatments, name=name, before=words[:at],
        after=words[at + 1 :], cautions=aftercare.LASTING_CAUTIONS, not_advice=aftercare.NOT_ADVICE,
    )  # fmt: skip
