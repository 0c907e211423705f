from typing import Annotated

from fastapi import APIRouter, Response
from pydantic import StringConstraints

from app.platform.forms import Form, OptionalText, Sent, fill
from app.platform.pages import see
from app.platform.routing import Here, Id
from app.records import tasks
from app.studio.access import Artist

router = APIRouter()


class FinishTask(Form):
    words: Annotated[OptionalText, StringConstraints(max_length=500)] = ""


@router.post("/tasks/{task_id}/done")
def finish(service: Here, task_id: Id, posted: Sent, who: Artist) -> Response:
    """Says that a task was done, and goes back to Today. One that was done already needs no second word."""
    filled = fill(FinishTask, posted)
    words = filled.data.words if filled.data is not None else posted.one("words")[:500].replace("\x00", "")
    with service.database.write() as db:
        task = tasks.task_for(db, who, task_id)
        if task.done_at is None:
            tasks.finish_task(db, task, words, by=who.actor)
    return see("/today")
