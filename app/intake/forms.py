from typing import Annotated, Literal

from pydantic import StringConstraints

from app.consents.forms import Answer, Signed
from app.platform.forms import Day, Form, OptionalDay, OptionalText, Text

Reason = Annotated[OptionalText, StringConstraints(max_length=2000)]
# Proofs that an artist sees and names. A patch or a spot is written down by the work itself, and the client's informed
# decision has a page of its own, since it stands only after a clinician would not say.
SHOWN_PROOFS = ("letter", "photo_pair", "talk", "guardian_consent")


class Sign(Signed):
    """Signing the intake, with the first permissions, each by itself."""

    version: Text  # of the answers that were looked through
    text_version: Annotated[OptionalText, StringConstraints(max_length=64)] = ""
    record_photos: Answer = ""
    reminders_email: Answer = ""

    @property
    def answered(self) -> tuple[tuple[str, bool], ...]:
        given = (("record_photos", self.record_photos), ("reminders_email", self.reminders_email))
        return tuple((kind, answer == "yes") for kind, answer in given if answer)


class Decision(Form):
    """`passed` are the keys of the waits that are gone past, each ticked by itself; `seen` is when the decision that
    stood on the page was made, empty for none."""

    decision: Literal["accepted", "wait", "declined"]
    passed: list[Annotated[str, StringConstraints(max_length=200)]] = []
    reason: Reason = ""
    wait_until: OptionalDay = None
    seen: Annotated[str, StringConstraints(max_length=40)] | None = None


class Lifting(Form):
    proof: Literal["letter", "photo_pair", "talk", "informed_decision", "guardian_consent"]
    seen_on: Day
    until: OptionalDay = None
    reason: Annotated[Text, StringConstraints(min_length=1, max_length=2000)]
