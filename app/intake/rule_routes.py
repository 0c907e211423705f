"""The owner's pages about the rules: the list, each rule, and putting changes into use."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.intake import publication_pages, publishing, rule_actions, rule_pages
from app.intake.rule_forms import ChangeRule, Publish, warning_mark, warning_of
from app.platform.forms import Filled, Posted, Refused, Sent, fill, shown
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.studio.access import Owner

router = APIRouter()
WORDS_LIMIT = 80


@router.get("/studio/rules")
def rules(
    request: Request, service: Here, who: Owner, words: str = "", group: str = "", only: str = ""
) -> HTMLResponse:
    asked = {"words": words[:WORDS_LIMIT], "group": group[:WORDS_LIMIT], "only": only[:WORDS_LIMIT]}
    with service.database.read() as db:
        listed = rule_pages.rule_list(db, **asked)
    return show(request, "intake/rules.html", nav="studio", listed=listed, form=shown(asked))


def _publication_page(request: Request, service: Service, form: Filled[Publish], status: int = 200) -> HTMLResponse:
    with service.database.read() as db:
        page = publication_pages.publication_page(db)
    return show(request, "intake/rules_publication.html", nav="studio", page=page, form=form, status=status)


@router.get("/studio/rules/publication")
def publication(request: Request, service: Here, who: Owner) -> HTMLResponse:
    return _publication_page(request, service, shown({}))


@router.post("/studio/rules/publication")
def publish(request: Request, service: Here, posted: Sent, who: Owner) -> Response:
    filled = fill(Publish, posted)
    if not filled.ok:
        return _publication_page(request, service, filled, 422)
    try:
        with service.database.write() as db:
            publishing.publish(db, filled.sure.note, mark=filled.sure.mark, by=who.actor)
    except Refused as refused:
        return _publication_page(request, service, filled.refuse(refused.name, refused.message), 422)
    return see("/studio/rules/publication")


@router.get("/studio/rules/publications/{publication_id}")
def whole_publication(request: Request, service: Here, publication_id: Id, who: Owner) -> HTMLResponse:
    with service.database.read() as db:
        whole = publication_pages.whole_publication(db, publication_id)
    return show(request, "intake/rules_whole.html", nav="studio", whole=whole)


def _rule_page(
    request: Request, service: Service, rule_id: str, form: Filled[ChangeRule] | None = None, status: int = 200,
    warning: str = "", mark: str = "",
) -> HTMLResponse:  # fmt: skip
    with service.database.read() as db:
        page = rule_pages.rule_page(db, rule_id)
    if form is None:
        form = shown(_values(page))
    return show(
        request, "intake/rule.html", nav="studio", page=page, form=form, status=status, warning=warning, mark=mark
    )


def _values(page: rule_pages.RulePage) -> dict[str, object]:
    wait = page.would_be.wait
    return {
        "consequence": page.would_be.consequence,
        "amount": wait.amount if wait is not None else "",
        "unit": wait.unit if wait is not None else "weeks",
    }


@router.get("/studio/rules/{rule_id}")
def rule(request: Request, service: Here, rule_id: str, who: Owner) -> HTMLResponse:
    return _rule_page(request, service, rule_id)


@router.post("/studio/rules/{rule_id}")
def change_rule(request: Request, service: Here, rule_id: str, posted: Sent, who: Owner) -> Response:
    filled, shipped = fill(ChangeRule, posted), rule_pages.shipped_rule(rule_id)
    if not filled.ok:
        return _rule_page(request, service, rule_id, filled, 422)
    warning, mark = warning_of(shipped, filled.sure), warning_mark(shipped, filled.sure)
    try:
        with service.database.write() as db:
            rule_actions.change_rule(db, rule_id, filled.sure, by=who.actor)
    except Refused as refused:
        wrong = filled.refuse(refused.name, refused.message)
        return _rule_page(request, service, rule_id, wrong, 422, warning, mark)
    return see(f"/studio/rules/{rule_id}")


@router.post("/studio/rules/{rule_id}/restoring")
def restore_rule(request: Request, service: Here, rule_id: str, posted: Sent, who: Owner) -> Response:
    """Also for a rule that is gone from the program: its change waits on the page of publications."""
    try:
        with service.database.write() as db:
            rule_actions.restore_rule(db, rule_id, by=who.actor)
    except Refused as refused:
        return _rule_page(request, service, rule_id, shown({}).refuse(refused.name, refused.message), 422)
    return see(back_to(posted, f"/studio/rules/{rule_id}"))


def back_to(posted: Posted, own: str) -> str:
    """The page of publications where a change was taken back there, since the thing itself may be gone."""
    return "/studio/rules/publication" if posted.one("from") == "publication" else own
