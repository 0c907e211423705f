"""What the country pack sets, each value with its source, for the owner to check."""

from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from app.platform.pages import day_words, show
from app.studio.access import Owner
from app.studio.country import NOT_LEGAL_ADVICE, country_pack

router = APIRouter()
NOTHING_KNOWN = "Nothing is known"


@router.get("/studio/country")
def country(request: Request, who: Owner) -> HTMLResponse:
    studio = request.state.studio
    pack = country_pack(studio.country)
    return show(
        request,
        "studio/country.html",
        nav="studio",
        pack=pack,
        region=pack.region(studio.region),
        known=[region for region in pack.regions if not region.note.startswith(NOTHING_KNOWN)],
        report_within=_within(pack.reaction_report_days),
        reviewed=day_words(date.fromisoformat(pack.last_reviewed)),
        caution=NOT_LEGAL_ADVICE,
    )


def _within(days: int | None) -> str:
    """Within how many days a serious reaction is reported."""
    if days is None:
        return "No number of days is known to us. Check locally."
    return "Without delay." if days == 0 else "Within 1 day." if days == 1 else f"Within {days} days."
