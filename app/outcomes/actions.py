from sqlmodel import Session

from app.healing import actions as healing
from app.outcomes import forms, queries
from app.outcomes.models import Verdict
from app.outcomes.work_queries import work_on
from app.pigments import actions as pigments
from app.pigments.models import Recipe
from app.platform import clock
from app.platform.audit import Actor, audited
from app.platform.forms import Refused
from app.records import actions as records
from app.records.models import Case, Zone
from app.studio import queries as studio

WAIT_FOR_IT = (
    "A zone is finished only when its colour has settled. Choose another session or wait, and judge again "
    "when its day has come."
)


@audited("outcomes.zone.judged")
def judge(
    db: Session, zone: Zone, form: forms.JudgeZone, *, sessions_used: int, was_settled: bool, by: Actor
) -> Verdict:
    """Files a judgement beside the earlier ones. Only a settled one proves a recipe or finishes the zone."""
    assert zone.id is not None
    assert by.id is not None
    work = [one for one in work_on(db, [zone.id]).get(zone.id, []) if one.kind != "allergy_patch"]
    if not work:
        raise Refused("grade", "Nothing has been done on this zone yet, so there is nothing to judge.")
    if form.next_step == "finished" and not was_settled:
        raise Refused("next_step", WAIT_FOR_IT)
    case = db.get_one(Case, zone.case_id)
    before, after = queries.pair_of(db, zone.id, case.skin_class)
    today = clock.today(studio.studio(db).time_zone)
    verdict = Verdict(
        zone_id=zone.id,
        grade=form.grade,
        grade_second_light=form.grade_second_light,
        seen=form.seen,
        visibility=form.visibility,
        satisfaction=form.satisfaction,
        next_step=form.next_step,
        note=form.note,
        before_photo_id=before.photo.id if before else None,
        after_photo_id=after.photo.id if after else None,
        before_reading_id=before.reading.id if before and before.reading else None,
        after_reading_id=after.reading.id if after and after.reading else None,
        sessions_used=sessions_used,
        was_settled=was_settled,
        judged_on=today,
        judged_by=by.id,
        judged_at=clock.now(),
        by_treating_artist=any(one.artist_id == by.id for one in work),
    )
    db.add(verdict)
    db.flush()
    if was_settled:
        used = next((one.recipe_id for one in reversed(work) if one.recipe_id is not None), None)
        if used is not None:
            pigments.judge_recipe(db, db.get_one(Recipe, used), verdict.counts, by=by)
        _follow(db, zone, verdict, by)
    return verdict


def _follow(db: Session, zone: Zone, verdict: Verdict, by: Actor) -> None:
    """What a settled judgement means for the zone and its healing."""
    if verdict.next_step == "finished" and zone.finished_on is None:
        records.finish_zone(db, zone, verdict.judged_on, by=by)
    elif verdict.next_step == "another_session" and zone.finished_on is not None:
        records.reopen_zone(db, zone, by=by)
    healing.zone_judged(db, verdict.zone_id, verdict.judged_on, by=by)
