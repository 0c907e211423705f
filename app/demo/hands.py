"""The hands that build the made-up studio: each step is the action that a person's click would be."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from app.consents import actions as consents
from app.consents import queries as consent_queries
from app.demo.cast import STUDIO, Crew
from app.demo.photos import Rendered
from app.demo.shelf import Bottle
from app.healing import queries as healing_queries
from app.healing.models import Course
from app.intake import actions as intake
from app.intake import forms as intake_forms
from app.intake import queries as intake_queries
from app.intake.models import Screening
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
from app.records.examine import examine, measure_outlines
from app.records.models import Case, Client, Photo, Zone
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
                by=Actor("client", case.client_id),
                permissions=(("record_photos", True), ("reminders_email", reminders)),
            )

    def decide(
        self, screening: Screening, decision: str, *, by: str, reason: str = "", wait_until: date | None = None
    ) -> None:
        with self.service.database.write() as db:
            held = db.get_one(Screening, screening.id)
            intake.decide(db, held, decision, reason, wait_until, by=self.crew.by(by))

    def lift_letters(self, screening: Screening, reason: str, *, by: str) -> None:
        """Files a clinician's letter against everything that one lifts."""
        with self.service.database.write() as db:
            for finding in intake_queries.findings_of(db, screening.id or 0):
                if "letter" in finding.proofs.split() and not finding.lifted_with:
                    form = intake_forms.Lifting.model_validate(
                        {"proof": "letter", "seen_on": clock.today(STUDIO["zone"]), "reason": reason}
                    )
                    intake.lift(db, finding, form, by=self.crew.by(by))

    def zone(self, case: Case, *, by: str, **facts: Any) -> Zone:
        with self.service.database.write() as db:
            held = db.get_one(Case, case.id)
            return intake.place_zone(db, held, record_forms.PlaceZone.model_validate(facts), by=self.crew.by(by))

    def photo(self, zone: Zone, scene: str, purpose: str, *, by: str, measured: bool = True) -> Photo | None:
        """Takes a photo of the album into the record, and outlines and measures it where it can be."""
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
            outlines = {
                "scar": [rendered.scar_outline.round(1).tolist()],
                "skin": [rendered.skin_outline.round(1).tolist()],
            }
            with self.service.database.write() as db:
                photo_actions.draw_outlines(db, db.get_one(Photo, photo.id), outlines, by=self.crew.by(by))
            self.work()
        return photo

    def work(self) -> None:
        while work_once(self.service, WORK):
            pass

    def sign(self, case: Case, zones: list[Zone], *, by: str, **answers: bool) -> None:
        """The client signs the treatment of these zones on the studio's tablet, and answers the other permissions."""
        with self.service.database.write() as db:
            client = db.get_one(Client, case.client_id)
            token = consents.ask_to_sign(db, db.get_one(Case, case.id), zones, by=self.crew.by(by))
        with self.service.database.write() as db:
            swapped = links.swap(db, token)
            assert swapped is not None
            signing = consent_queries.signing_for_guest(db, swapped[0])
            consents.sign_treatment(
                db,
                signing,
                treatment=True,
                answers=tuple(answers.items()),
                typed_name=client.name,
                drawing=None,
                by=swapped[0].actor,
            )

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
