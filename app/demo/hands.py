"""The hands that build the made-up studio: each step is the action that a person's click would be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from app.colour.geometry import Piece
from app.consents import actions as consents
from app.consents import queries as consent_queries
from app.consents.drawing import keep_drawing
from app.consents.forms import Signed, SiteCheck
from app.consents.models import Signature
from app.consents.site_actions import countersign
from app.consents.texts import TYPED_REASONS
from app.demo.answers import short
from app.demo.cast import STUDIO, Crew
from app.demo.handwriting import picture_of, strokes_of
from app.demo.letter import letter_picture
from app.demo.photos import Rendered
from app.demo.shelf import Bottle
from app.healing import queries as healing_queries
from app.healing.models import Course
from app.intake import actions as intake
from app.intake import queries as intake_queries
from app.intake import visit_actions as visits
from app.intake import visit_queries
from app.intake.clearing import finding_key
from app.intake.letter_actions import may_be_asked
from app.intake.letter_forms import AskForLetter, LetterAnswer
from app.intake.models import LetterRequest, Screening, Visit
from app.intake.visit_forms import PlanVisit
from app.outcomes import actions as outcomes
from app.outcomes import forms as outcome_forms
from app.outcomes import queries as outcome_queries
from app.pigments import actions as pigments
from app.pigments import forms as pigment_forms
from app.pigments import proposals
from app.pigments import queries as pigment_queries
from app.pigments.models import Item, Recipe
from app.platform import clock, links
from app.platform.audit import Actor
from app.platform.jobs import work_once
from app.platform.service import Service
from app.records import actions as records
from app.records import forms as record_forms
from app.records import photo_actions
from app.records import queries as record_queries
from app.records.attachment_actions import file_letter
from app.records.examine import examine, measure_outlines
from app.records.letter_files import read_letter_file
from app.records.models import Attachment, Case, Client, Photo, Zone
from app.records.outline_actions import draw_outlines
from app.records.selectors import Outlines
from app.studio import actions as studio_actions
from app.studio import queries as studio_queries
from app.studio.access import Who
from app.studio.country import country_pack
from app.studio.forms import StudioDetails

Step = tuple[int, int]  # days before today, hour of the studio's day
WORK = {photo_actions.EXAMINE: examine, photo_actions.MEASURE: measure_outlines}


def moment(day: date, hour: int, minute: int = 0) -> datetime:
    """An hour of the studio's day as a UTC moment."""
    return datetime.combine(day, time(hour, minute), ZoneInfo(STUDIO["zone"])).astimezone(UTC)


@dataclass
class Hands:
    service: Service
    crew: Crew
    today: date
    album: Mapping[str, Rendered]  # empty: the studio is built without photos
    items: dict[str, Item] = field(default_factory=dict)

    def open_doors(self) -> None:
        """How clients reach the studio."""
        with self.service.database.write() as db:
            held = studio_queries.studio(db).model_dump()
            details = {**held, "zone": held["time_zone"], "phone": "+353 1 555 0100", "email": "studio@example.org"}
            studio_actions.change_studio(db, StudioDetails.model_validate(details), by=self.crew.by("ines"))

    def stock(self, bottle: Bottle, opened_on: date) -> None:
        """Puts an item on the shelf with its measured colours."""
        by = self.crew.by("ines")
        form = pigment_forms.NewItem.model_validate(
            {
                "kind": bottle.kind,
                "label": bottle.label,
                "lot": bottle.lot,
                "colour_index": bottle.colour_index,
                "expires_on": bottle.expires_on,
                "opened_on": opened_on,
                "use_within_days": 365,
            }
        )
        with self.service.database.write() as db:
            item = pigments.add_item(db, form, by=by)
            for share, (lab_l, lab_a, lab_b) in bottle.swatches:
                white = self.items["white"].id if share else None
                swatch = pigment_forms.NewSwatch.model_validate(
                    {
                        "white_percent": share * 100,
                        "white_id": white,
                        "lab_l": lab_l,
                        "lab_a": lab_a,
                        "lab_b": lab_b,
                        "measured_on": opened_on,
                        "measured_by": "typed from an instrument",
                        "is_checked": True,
                    }
                )
                pigments.add_swatch(db, item, swatch, by=by)
        self.items[bottle.key] = item

    def case(
        self,
        name: str,
        born_on: str,
        title: str,
        *,
        lead: str,
        email: str = "",
        phone: str = "",
        is_restricted: bool = False,
    ) -> Case:
        by = self.crew.by("pia")
        with self.service.database.write() as db:
            client = records.add_client(
                db,
                record_forms.NewClient.model_validate(
                    {"name": name, "born_on": born_on, "email": email, "phone": phone}
                ),
                by=by,
            )
            return records.open_case(
                db,
                client,
                record_forms.NewCase(title=title, lead_id=self.crew.by(lead).id or 0, is_restricted=is_restricted),
                by=by,
            )

    def ask(self, case: Case) -> None:
        with self.service.database.write() as db:
            intake.ask(db, case, by=self.crew.by("pia"))

    def fill_in(self, case: Case, answers: Mapping[str, Any], *, reminders: bool = True) -> Screening:
        """The client sends the form of a case, signed with their name."""
        on = clock.today(STUDIO["zone"])
        with self.service.database.write() as db:
            submission = intake_queries.submission_of_case(db, case.id or 0)
            assert submission is not None
            return intake.submit(
                db,
                submission,
                answers,
                country=country_pack(STUDIO["country"]),
                on=on,
                typed_name=str(answers["name"]),
                typed_reason=TYPED_REASONS["screen"],
                by=Actor("client", case.client_id),
                permissions=(("record_photos", True), ("reminders_email", reminders)),
            )

    def visit(self, case: Case, on: date, at: str, *, by: str) -> Visit:
        """A visit on every open zone of a case."""
        form = PlanVisit(planned_on=on, planned_at=at)
        with self.service.database.write() as db:
            zones = visit_queries.open_zones(db, case.id or 0)
            return visits.plan_visit(db, db.get_one(Case, case.id), form, zones, by=self.crew.by(by))

    def answer_short(self, case: Case, *, by: str, evening: Visit | None = None, **changes: Any) -> Screening:
        """The short questions with nothing new, on the client's own the evening before, or on the tablet at arrival."""
        on = clock.today(STUDIO["zone"])
        with self.service.database.write() as db:
            held = db.get_one(Case, case.id)
            if evening is None:
                visit = visits.visit_today(db, held, by=self.crew.by(by))
                visits.ask_at_arrival(db, visit, by=self.crew.by(by))
            else:
                visit = db.get_one(Visit, evening.id)
            form, client = visit_queries.form_to_fill(db, visit), db.get_one(Client, case.client_id)
            assert form is not None
            return intake.submit(
                db,
                form,
                short(visit_queries.draft_for(db, visit), **changes),
                country=country_pack(STUDIO["country"]),
                on=on,
                typed_name=client.name,
                typed_reason=TYPED_REASONS["screen"],
                by=Actor("client", case.client_id),
            )

    def decide(
        self, screening: Screening, decision: str, *, by: str, reason: str = "", wait_until: date | None = None
    ) -> None:
        with self.service.database.write() as db:
            held = db.get_one(Screening, screening.id)
            intake.decide(db, held, decision, reason, wait_until, by=self.crew.by(by))

    def lift_letters(self, screening: Screening, reason: str, *, by: str) -> None:
        """A clinician was asked about everything that a letter lifts, and agrees."""
        answer = {"answer": "agrees", "answered_on": clock.today(STUDIO["zone"]), "words": reason}
        request = self.ask_for_letter(screening, "The burns clinic", by=by)
        with self.service.database.write() as db:
            held = db.get_one(LetterRequest, request.id)
            intake.record_answer(db, held, LetterAnswer.model_validate(answer), None, by=self.crew.by(by))

    def ask_for_letter(self, screening: Screening, to_whom: str, *, by: str) -> LetterRequest:
        with self.service.database.write() as db:
            held = db.get_one(Screening, screening.id)
            rows = intake_queries.findings_of(db, screening.id or 0)
            keys = [finding_key(row.rule, row.scar_key) for row in rows if may_be_asked(row)]
            form = AskForLetter.model_validate({"findings": keys, "to_whom": to_whom})
            return intake.ask_for_letter(db, held, form, by=self.crew.by(by))

    def file_letter(self, case: Case, from_whom: str, words: Sequence[str]) -> Attachment:
        """The desk files a letter that came by post, unread."""
        read = read_letter_file(letter_picture((from_whom, *words)))
        original = self.service.storage.put(read.content, read.kind)
        shown = self.service.storage.put(read.shown_jpeg or b"", "image/jpeg")
        with self.service.database.write() as db:
            client = db.get_one(Client, case.client_id)
            return file_letter(
                db, client, db.get_one(Case, case.id), name="scan.png", from_whom=from_whom, original=original,
                shown=shown, by=self.crew.by("pia"),
            )  # fmt: skip

    def zone(self, case: Case, *, by: str, **facts: Any) -> Zone:
        with self.service.database.write() as db:
            held = db.get_one(Case, case.id)
            return intake.place_zone(db, held, record_forms.PlaceZone.model_validate(facts), by=self.crew.by(by))

    def photo(self, zone: Zone, scene: str, purpose: str, *, by: str, measured: bool = True,
              second_by: str = "") -> Photo | None:
        """Takes a photo of the album into the record, and outlines and measures it where it can be. A second observer
        draws a little further in."""
        rendered = self.album.get(scene)
        if rendered is None:
            return None
        height, width = rendered.srgb8.shape[:2]
        stored = self.service.storage.put(rendered.jpeg, "image/jpeg")
        with self.service.database.write() as db:
            case = db.get_one(Case, zone.case_id)
            photo = photo_actions.add_photo(
                db,
                case,
                zone,
                purpose=purpose,
                taken_on=clock.today(STUDIO["zone"]),
                original=stored,
                width=width,
                height=height,
                camera="",
                by=self.crew.by(by),
            )
        self.work()
        if measured:
            outlines = Outlines((Piece(rendered.scar_outline),), rendered.skin_ring)
            with self.service.database.write() as db:
                draw_outlines(db, db.get_one(Photo, photo.id), outlines, by=self.crew.by(by))
            self.work()
        if measured and second_by:
            middle = rendered.scar_outline.mean(axis=0)
            further_in = Piece(middle + (rendered.scar_outline - middle) * 0.94)
            seen = Outlines((further_in,), rendered.skin_ring)
            with self.service.database.write() as db:
                draw_outlines(db, db.get_one(Photo, photo.id), seen, is_second=True, by=self.crew.by(second_by))
            self.work()
        return photo

    def work(self) -> None:
        while work_once(self.service, WORK):
            pass

    def sign(self, case: Case, zones: list[Zone], *, by: str, **answers: bool) -> None:
        """The client signs the treatment of these zones on the studio's tablet, and answers the other permissions; the
        artist sees the identity document and countersigns."""
        with self.service.database.write() as db:
            client = db.get_one(Client, case.client_id)
            token = consents.ask_to_sign(db, db.get_one(Case, case.id), zones, by=self.crew.by(by))
        strokes = strokes_of(client.name)
        signed = Signed.model_validate({"drawing": picture_of(strokes), "strokes": strokes})
        drawing = keep_drawing(self.service, signed)
        with self.service.database.write() as db:
            swapped = links.swap(db, token)
            assert swapped is not None
            signing = consent_queries.signing_for_guest(db, swapped[0])
            request = consents.sign_treatment(
                db,
                signing,
                treatment=True,
                answers=tuple(answers.items()),
                typed_name="",
                drawing=drawing,
                strokes=signed.lines,
                by=swapped[0].actor,
            )
        seen = SiteCheck.model_validate({"identity_kind": "identity_card", "countersigned": "yes"})
        with self.service.database.write() as db:
            countersign(db, db.get_one(Signature, request.signature_id), seen, by=self.crew.by(by))

    def mix(self, zone: Zone, *, layer: int, by: str) -> Recipe | None:
        """Searches the shelf for the zone's measured skin and keeps the best of what is offered."""
        on = clock.today(STUDIO["zone"])
        with self.service.database.read() as db:
            target = record_queries.target_of(db, zone.id or 0)
            paints = pigment_queries.paints(db, on)
            items = {item.id: item for item in pigment_queries.items(db) if item.id is not None}
        if target is None:
            return None
        aim = proposals.Aim(target.lab_d65, target.reading_id, target.taken_on)
        offer = proposals.offer(paints, items, aim, pigment_forms.RecipeAsk(layer=layer))
        best = offer.result.proposals[0]
        with self.service.database.write() as db:
            return pigments.keep_recipe(
                db,
                zone,
                kind="computed",
                drops=best.drops,
                layer=layer,
                aim=aim,
                on=on,
                offered=offer.record,
                prediction=proposals.Prediction(best.lab_d65, best.delta_e_00, best.low, best.high),
                by=self.crew.by(by),
            )

    def own_mix(self, zone: Zone, name: str, drops: Mapping[str, int], *, layer: int, by: str) -> Recipe:
        counted = {self.items[key].id or 0: count for key, count in drops.items()}
        with self.service.database.write() as db:
            return pigments.keep_recipe(
                db,
                zone,
                kind="own",
                drops=counted,
                layer=layer,
                aim=None,
                prediction=None,
                on=clock.today(STUDIO["zone"]),
                name=name,
                by=self.crew.by(by),
            )

    def course(self, case: Case) -> Course:
        with self.service.database.read() as db:
            return healing_queries.courses_of(db, case.id or 0)[0]

    def judge(self, zone: Zone, *, by: str, **facts: Any) -> None:
        form = outcome_forms.JudgeZone.model_validate(facts)
        member = self.crew.member(by)
        who = Who(member.id or 0, member.name, member.role, 0)
        with self.service.database.write() as db:
            judging = outcome_queries.judging_of(db, who, zone.id or 0, clock.today(STUDIO["zone"]))
            outcomes.judge(
                db,
                judging.zone,
                form,
                sessions_used=judging.sessions_used,
                was_settled=judging.is_settled,
                by=self.crew.by(by),
            )

    def days_ago(self, days: int) -> date:
        return self.today - timedelta(days=days)
