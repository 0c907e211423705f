"""How a tablet comes to trust the studio's own certificate authority: what the page about it says."""

from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlsplit

from app.platform import certificates
from app.platform.hosts import is_address, is_loopback
from app.platform.settings import Settings, Tls, in_url

EVERYWHERE = ("0.0.0.0", "::")


@dataclass(frozen=True)
class Trust:
    """The authority's certificate in both encodings, how it is told from others, and where the studio is reached."""

    name: str
    fingerprint: tuple[str, ...]
    ends_at: datetime
    hosts: tuple[str, ...]
    der: bytes
    pem: bytes
    secure_address: str
    first_address: str  # where a tablet begins that does not trust the studio yet; empty where nothing listens


def first_address(settings: Settings) -> str:
    """The plain page's address, by number where there is one.

    A browser that has once seen the studio's HTTPS under a name never again opens plain HTTP there (RFC 6797); numbers
    are exempt (8.1.1), so that this address also serves when the authority is made anew. Besides, not every network
    knows the names.
    """
    if settings.tls is None or settings.tls.folder is None or not settings.trust_port:
        return ""
    host = settings.host
    if host in EVERYWHERE:
        numbers = [one for one in settings.tls.hosts if is_address(one) and not is_loopback(one)]
        host = (numbers or settings.tls.hosts)[0]
    return f"http://{in_url(host)}:{settings.trust_port}/trust"


def secure_address(settings: Settings, tls: Tls) -> str:
    """Where tablets go: not the address of clients' links when that is a public one with a certificate of its own."""
    if urlsplit(settings.address).hostname in tls.hosts:
        return settings.address
    return f"https://{in_url(tls.host(settings.host))}:{settings.port}"


def trust_of(settings: Settings) -> Trust | None:
    """Nothing where the studio has no authority of its own: no HTTPS, or a certificate from elsewhere."""
    if settings.tls is None or settings.tls.folder is None:
        return None
    authority = certificates.authority_in(settings.tls.folder)
    if authority is None:
        return None
    return Trust(
        name=certificates.name_of(authority),
        fingerprint=certificates.fingerprint(authority),
        ends_at=authority.not_valid_after_utc,
        hosts=settings.tls.hosts,
        der=certificates.in_der(authority),
        pem=certificates.in_pem(authority),
        secure_address=secure_address(settings, settings.tls),
        first_address=first_address(settings),
    )
