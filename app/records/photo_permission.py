"""Whether a client allows photos for their record. Permissions belong to a row above this one, which tells it here how
they are asked for; a process in which nobody told takes no photo.
"""

from collections.abc import Callable

from sqlmodel import Session

OF_THE_CLIENT = frozenset({"before", "fresh", "check_in", "settled"})  # a swatch, a label or a letter shows nobody
NO_PERMISSION = "The client has not said yes to photos for their record, so none can be filed."

Answer = Callable[[Session, int], bool]
_answers: list[Answer] = []


def answered_by(answer: Answer) -> None:
    """Names what says whether the permission of a client is in force."""
    _answers[:] = [answer]


def may_photograph(db: Session, client_id: int) -> bool:
    """Whether the newest answer to the question about photos for the record is a yes that was not taken back."""
    if not _answers:
        raise LookupError("nobody here knows the permissions: import app.consents.queries")
    return _answers[0](db, client_id)
