from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from app.platform.forms import Filled, Posted, Sent, fill, shown
from app.platform.images import NotAPhoto
from app.platform.pages import see, show
from app.platform.routing import Here, Id
from app.platform.service import Service
from app.records import attachment_actions as actions
from app.records import attachment_queries as letters
from app.records import queries
from app.records.attachment_forms import FileLetter
from app.records.letter_files import LetterFile, plain_name, read_letter_file
from app.records.models import Case, Client
from app.studio.access import AnyMember, Artist, NotFound, Who

router = APIRouter()
# A PDF may hold scripts and links: it is handed over as a file, and where a browser shows it after all, in a sandbox.
PDF_HEADERS = {
    "Content-Security-Policy": "sandbox; default-src 'none'",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
}
BIGGEST_ID = 2147483647


def _whose(service: Service, who: Who, client_id: int) -> tuple[Client | None, list[Case]]:
    if not 0 < client_id <= BIGGEST_ID:
        return None, []
    with service.database.read() as db:
        client = queries.client_for(db, who, client_id)
        return client, queries.cases_of(db, who, client.id or 0)


def _page(request: Request, service: Service, who: Who, client_id: int, form: Filled[Any], *, q: str = "",
          filed: int = 0, status: int = 200) -> HTMLResponse:  # fmt: skip
    client, cases = _whose(service, who, client_id)
    done, _ = _whose(service, who, filed)
    with service.database.read() as db:
        found = queries.clients(db, who, q) if client is None and q.strip() else []
        waiting = letters.unread_count(db)
    return show(request, "records/letter_new.html", nav="clients", client=client, cases=cases, form=form, q=q,
                found=found, done=done, waiting=waiting, status=status)  # fmt: skip


@router.get("/letters/new")
def new_letter(
    request: Request, service: Here, who: AnyMember, client: int = 0, q: str = "", filed: int = 0
) -> HTMLResponse:
    """Whose letter it is, and then the letter itself."""
    return _page(request, service, who, client, shown({}), q=q[:200], filed=filed)


def _read(filled: Filled[FileLetter], posted: Posted) -> tuple[Filled[FileLetter], LetterFile | None]:
    files = posted.files.get("letter", [])
    if not files:
        return filled.refuse("letter", "Choose the file of the letter."), None
    try:
        return filled, read_letter_file(files[0].content)
    except NotAPhoto as reason:
        return filled.refuse("letter", str(reason)), None


@router.post("/letters")
def file_letter(request: Request, service: Here, posted: Sent, who: AnyMember) -> Response:
    filled, letter = _read(fill(FileLetter, posted), posted)
    asked = posted.one("client_id")
    client_id = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 11 else 0
    client, cases = _whose(service, who, client_id)
    if not filled.ok or letter is None or client is None:
        return _page(request, service, who, client_id, filled, status=422)
    case = next((one for one in cases if one.id == filled.sure.case_id), None)
    if filled.sure.case_id is not None and case is None:
        raise NotFound
    original = service.storage.put(letter.content, letter.kind)
    picture = service.storage.put(letter.shown_jpeg, "image/jpeg") if letter.shown_jpeg is not None else None
    with service.database.write() as db:
        actions.file_letter(db, client, case, name=plain_name(posted.files["letter"][0].name), original=original,
                            from_whom=filled.sure.from_whom, shown=picture, by=who.actor)  # fmt: skip
    return see(f"/letters/new?filed={client.id}")


@router.get("/attachments/{attachment_id}/shown", response_class=Response)
def picture(service: Here, attachment_id: Id, who: Artist) -> Response:
    with service.database.read() as db:
        blob = letters.picture_of(db, who, attachment_id)
    headers = {"Content-Disposition": "inline", "Cache-Control": "no-store"}
    return Response(service.storage.get(blob), media_type="image/jpeg", headers=headers)


@router.get("/attachments/{attachment_id}/download", response_class=Response)
def download(service: Here, attachment_id: Id, who: Artist) -> Response:
    """The PDF as a file with a name that says nothing."""
    with service.database.read() as db:
        blob = letters.original_of(db, who, attachment_id)
    headers = {**PDF_HEADERS, "Content-Disposition": f'attachment; filename="letter-{attachment_id}.pdf"'}
    return Response(service.storage.get(blob), media_type="application/pdf", headers=headers)
