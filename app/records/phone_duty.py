"""Numbers that were filed before numbers were read get their key, so that two records of one person can be seen."""

from sqlmodel import col, select

from app.platform.audit import SYSTEM
from app.platform.service import Service
from app.records import actions
from app.records.models import Client
from app.records.phones import phone_of
from app.studio.models import Studio

AT_ONCE = 200  # in one transaction; the next round takes the next


def read_phones(service: Service) -> int:
    """Reads what can be read, and says how many. What cannot be read stays as typed, and is cheap to try again."""
    with service.database.read() as db:
        studio = db.get(Studio, 1)
        if studio is None:
            return 0
        unread = select(Client).where(Client.phone != "", Client.phone_key == "").order_by(col(Client.id))
        rows = db.exec(unread).all()
        found = [row.id for row in rows if phone_of(row.phone, studio.country) is not None][:AT_ONCE]
    if found:
        with service.database.write() as db:
            for client_id in found:
                actions.read_phone_again(db, db.get_one(Client, client_id), by=SYSTEM)
    return len(found)
