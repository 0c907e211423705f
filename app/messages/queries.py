from sqlalchemy import ColumnElement
from sqlmodel import Session, col, select

from app.messages.models import PlannedMessage
from app.records import queries as records


def _of(db: Session, client_id: int) -> ColumnElement[bool]:
    """To a person, whichever of their records it was planned for."""
    return col(PlannedMessage.client_id).in_(records.person_ids(db, client_id))


def planned_for(db: Session, client_id: int) -> list[PlannedMessage]:
    """What will be sent to a client, soonest first."""
    wanted = select(PlannedMessage).where(_of(db, client_id), PlannedMessage.state == "planned")
    return list(db.exec(wanted.order_by(col(PlannedMessage.due_at), col(PlannedMessage.id))).all())


def of_course(db: Session, course_key: str) -> list[PlannedMessage]:
    """Every message of one course, whatever became of it, in the order of its days."""
    wanted = select(PlannedMessage).where(PlannedMessage.course_key == course_key)
    return list(db.exec(wanted.order_by(col(PlannedMessage.due_on), col(PlannedMessage.id))).all())


def failed(db: Session) -> list[PlannedMessage]:
    """What could not be sent, newest first: somebody has to reach these clients another way."""
    wanted = select(PlannedMessage).where(PlannedMessage.state == "failed").order_by(col(PlannedMessage.due_on).desc())
    return list(db.exec(wanted.limit(100)).all())
