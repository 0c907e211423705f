"""What an alert of the client says about an item at the chair. It is shown and refuses nothing: recording never is.

A numbing product on a client who must have none is a breach, and stands on the record. Whether a dressing sticks, or
which cleaner it is, only the artist sees: there the alert asks them to look.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class ItemCaution:
    alert: str
    item: str  # the kind of item it speaks of
    words: str
    breach: str = ""


CAUTIONS = (
    ItemCaution(
        "no_numbing", "numbing", "No numbing products for this client: take it off, or write down why it was used.",
        "A numbing product was used, and this client must have none.",
    ),
    ItemCaution("adhesive", "dressing", "No adhesive film and no plasters: a dressing that is tied on."),
    ItemCaution("antiseptic", "antiseptic", "Ask which skin cleaner to use: one of them is not tolerated."),
)  # fmt: skip


def item_cautions(alert_kinds: Collection[str]) -> Mapping[str, str]:
    """For each kind of item of which an alert speaks, what it says."""
    return {one.item: one.words for one in CAUTIONS if one.alert in alert_kinds}


def item_breaches(item_kinds: Collection[str], alert_kinds: Collection[str]) -> tuple[ItemCaution, ...]:
    """What was used against an alert."""
    return tuple(one for one in CAUTIONS if one.breach and one.alert in alert_kinds and one.item in item_kinds)
