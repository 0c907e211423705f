from sqlmodel import Session, col, select

from app.messages.models import PlannedMessage


def planned_for(db: Session, client_id: int) -> list[PlannedMessage]:
    """What will be sent to a client, soonest first."""
    wanted = select(PlannedMessage).where(PlannedMessage.client_id == client_id, PlannedMessage.state == "planned")
    return list(db.exec(wanted.order_by(col(PlannedMessage.due_at), col(PlannedMessage.id))).all())


def sent_for(db: Session, client_id: int) -> list[PlannedMessage]:
    """What was sent to a client, newest first."""
    wanted = select(PlannedMessage).where(PlannedMessage.client_id == client_id, PlannedMessage.state == "sent")
    return list(db.exec(wanted.order_by(col(PlannedMessage.sent_at).desc(), col(PlannedMessage.id).desc())).all())


def of_course(db: Session, course_key: str) -> list[PlannedMessage]:
    """Every message of one course, whatever became of it, in the order of its days."""
    wanted = select(PlannedMessage).where(PlannedMessage.course_key == course_key)
    return list(db.exec(wanted.order_by(col(PlannedMessage.due_on), col(PlannedMessage.id))).all())


def failed(db: Session) -> list[PlannedMessage]:
    """What could not be sent, newest first: somebody has to reach these clients another way."""
    wanted = select(PlannedMessage).where(PlannedMessage.state == "failed").order_by(col(PlannedMessage.due_on).desc())
    return list(db.exec(wanted.limit(100)).all())
