from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.outcomes import actions, export, forms, queries, review_queries, scores
from app.outcomes.passed_queries import waits_passed
from app.platform.forms import Filled, Posted, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.records import queries as records
from app.studio import queries as studio
from app.studio.access import Artist, Who, today

router = APIRouter()
STEPS = [(step.key, step.words, step.definition) for step in reversed(scores.VERDICTS)]


def _verdict_page(
    request: Request,
    service: Here,
    zone_id: int,
    who: Who,
    form: Filled[Any],
    status: int = 200,
    *,
    is_open: bool = False,
) -> HTMLResponse:
    with service.database.read() as db:
        judging = queries.judging_of(db, who, zone_id, today(request))
    is_open = is_open or not judging.zone.is_sensitive
    return show(
        request,
        "outcomes/verdict.html",
        nav="clients",
        judging=judging,
        zone=judging.zone,
        case=judging.case,
        steps=STEPS,
        rule=scores.VERDICT_RULE,
        is_open=is_open,
        form=form,
        status=status,
        treats=judging.is_treated_by(who.id),
    )


@router.get("/zones/{zone_id}/verdict")
def verdict_page(request: Request, service: Here, zone_id: Id, who: Artist, open: str = "") -> HTMLResponse:
    return _verdict_page(request, service, zone_id, who, shown({}), is_open=open == "1")


@router.post("/zones/{zone_id}/verdict")
def judge(request: Request, service: Here, zone_id: Id, posted: Sent, who: Artist) -> Response:
    filled = fill(forms.JudgeZone, posted)
    with service.database.read() as db:
        judging = queries.judging_of(db, who, zone_id, today(request))
    if not filled.ok:
        return _verdict_page(request, service, zone_id, who, filled, 422)
    try:
        with service.database.write() as db:
            actions.judge(
                db,
                records.zone_for(db, who, zone_id),
                filled.sure,
                sessions_used=judging.sessions_used,
                was_settled=judging.is_settled,
                by=who.actor,
            )
    except Refused as refused:
        return _verdict_page(request, service, zone_id, who, filled.refuse(refused.name, refused.message), 422)
    return see(f"/zones/{zone_id}/verdict#earlier")


def _asked(request: Request) -> Filled[forms.ReviewFilter]:
    """What the address asks for; an address is a form as well."""
    given = {name: request.query_params.getlist(name) for name in ("artist", "since", "until")}
    return fill(forms.ReviewFilter, Posted({name: texts for name, texts in given.items() if texts}, {}))


@router.get("/review")
def review_page(request: Request, service: Here, who: Artist) -> HTMLResponse:
    filled, on = _asked(request), today(request)
    with service.database.read() as db:
        review = review_queries.review(db, who, filled.data or forms.ReviewFilter(), on)
        passed = waits_passed(db, who, filled.data or forms.ReviewFilter())
        artists = [(member.id, member.name) for member in studio.artists(db)]
    return show(
        request,
        "outcomes/review.html",
        nav="review",
        review=review,
        passed=passed,
        artists=artists,
        form=filled,
        on=on,
        query=request.url.query,
        rank_from=scores.RANK_FROM,
        weeks=review_queries.LOST_AFTER.days // 7,
        status=200 if filled.ok else 422,
    )


@router.get("/review.csv", response_class=Response)
def review_table(request: Request, service: Here, who: Artist) -> Response:
    filled = _asked(request)
    with service.database.read() as db:
        review = review_queries.review(db, who, filled.data or forms.ReviewFilter(), today(request))
    # With the mark at its beginning a spreadsheet reads the file as UTF-8.
    return Response(
        export.table(review.settled).encode("utf-8-sig"),
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="review-{today(request)}.csv"'},
    )
