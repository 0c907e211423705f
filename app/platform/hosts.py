"""The names and addresses under which this machine is reached, found without sending anything."""

import ipaddress
import re
import socket
from collections.abc import Iterable
from contextlib import suppress

LOOPBACK = ("localhost", "127.0.0.1", "::1")


class BadHost(ValueError):
    """A name or an address that cannot be one machine's, said so that whoever gave it can mend it."""


def is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def is_loopback(host: str) -> bool:
    return host == "localhost" or (is_address(host) and ipaddress.ip_address(host).is_loopback)


def read_name(text: str) -> str:
    """A host name as a certificate may carry it, in small letters."""
    name = text.strip().lower().rstrip(".")
    if is_address(name):
        raise BadHost(f"{text!r} is an address: give it with --address")
    labels = name.split(".")
    if len(name) > 253 or not all(re.fullmatch(r"(?!-)[a-z0-9-]{1,63}(?<!-)", label) for label in labels):
        raise BadHost(f"{text!r} is not a host name; give one like studio.local")
    if name in ("local", "lan", "home", "internal"):  # the authority would stand for every machine under it
        raise BadHost(f"{text!r} is not one machine's name; give one like studio.{name}")
    return name


def read_address(text: str) -> str:
    try:
        address = ipaddress.ip_address(text.strip().strip("[]"))
    except ValueError:
        raise BadHost(f"{text!r} is not an IP address; give one like 192.168.1.20") from None
    if address.is_unspecified or address.is_multicast:
        raise BadHost(f"{text!r} is not one machine's address; give one like 192.168.1.20")
    return str(address)


def own_names() -> list[str]:
    """This machine's name, and the one under which it may answer for itself on its network (multicast DNS)."""
    name = socket.gethostname().lower()
    try:
        found = [read_name(name), read_name(name.split(".")[0] + ".local")]
    except BadHost:  # names such as my_machine cannot stand in a certificate
        return []
    return list(dict.fromkeys(one for one in found if not is_loopback(one)))


def own_addresses() -> list[str]:
    """This machine's private addresses: which one it would send from, asked of the kernel; nothing is sent."""
    found: list[str] = []
    # One documentation address (RFC 5737) for the default route, and one in each private range (RFC 1918).
    for far in ("192.0.2.1", "192.168.0.1", "10.0.0.1", "172.16.0.1"):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):
            probe.connect((far, 9))  # on a datagram socket this only chooses the route
            found.append(str(probe.getsockname()[0]))
    private = (one for one in found if ipaddress.ip_address(one).is_private and not is_loopback(one))
    return list(dict.fromkeys(private))


def hosts(names: Iterable[str] = (), addresses: Iterable[str] = ()) -> tuple[str, ...]:
    """What a certificate is for: what was given, this machine's own where none was, and the machine to itself."""
    given = [*(read_name(name) for name in names), *(read_address(address) for address in addresses)]
    if not any(not is_address(host) for host in given):
        given = [*given, *own_names()]
    if not any(is_address(host) for host in given):
        given = [*given, *own_addresses()]
    return tuple(dict.fromkeys([*given, *LOOPBACK]))
