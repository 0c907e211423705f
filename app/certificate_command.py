"""`evenseam certificate`: HTTPS on the studio's own network, and what to do so that tablets trust it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from app.platform import certificates
from app.platform.hosts import hosts
from app.platform.pages import day_words, list_words


@dataclass(frozen=True)
class Wish:
    names: Sequence[str]
    addresses: Sequence[str]
    days: int
    new_authority: bool


def certificate(data: Path, wish: Wish, say: Callable[..., None]) -> int:
    """Makes or renews, and says what was made; never a key."""
    folder = certificates.folder_beside(data)
    wanted = hosts(wish.names, wish.addresses) if wish.names or wish.addresses else ()
    made = certificates.make(folder, wanted, days=wish.days, new_authority=wish.new_authority)
    if made.is_new_authority:
        until = day_words(made.authority.not_valid_after_utc.date())
        say(f"Made the studio's certificate authority, until {until}: {certificates.name_of(made.authority)}")
    else:
        say("The studio's certificate authority stays as it is: tablets that trust it need nothing new.")
    until = day_words(made.server.not_valid_after_utc.date())
    say(f"Made a certificate, until {until}, for {list_words(list(certificates.hosts_of(made.server)))}")
    say("Fingerprint of the authority (SHA-256), to be compared on each tablet:")
    for line in certificates.fingerprint(made.authority):
        say(f"    {line}")
    say(f"Everything is in {folder}. Keep a copy of {certificates.AUTHORITY} where nobody else comes:")
    say("whoever holds it can pose as these addresses to every tablet that trusts it.")
    say("Next: start the service again, so that the studio's network reaches it: EVENSEAM_HOST=0.0.0.0 evenseam serve")
    if made.is_new_authority:
        say("Then open on each tablet the address that it prints, which shows step by step how to trust the studio.")
    return 0
