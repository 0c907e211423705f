"""HTTPS on the studio's own network: who may be vouched for, how it is renewed, and where the keys stand."""

import asyncio
import ssl
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.x509.oid import ExtendedKeyUsageOID

from app.platform import certificates, clock
from app.platform.certificates import BadCertificate, Made, make, renew_if_due
from app.platform.hosts import LOOPBACK, BadHost, hosts, own_addresses
from app.platform.https import make_ready, uvicorn_options
from app.platform.settings import BadSetting, Tls, read_settings

WANTED = ("studio.test", "192.168.1.20", *LOOPBACK)


@pytest.fixture(autouse=True)
def _today(_on_a_known_day: None) -> Iterator[None]:
    """The library that verifies knows no other day."""
    with clock.stopped_at(datetime.now(UTC)):
        yield


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return certificates.folder_beside(tmp_path / "data")


def reached(server: ssl.SSLContext, authority: x509.Certificate, host: str) -> bytes:
    """The certificate that a device which trusts the authority is shown at a host; raises where it would warn."""
    client = ssl.create_default_context(cadata=certificates.in_pem(authority).decode())
    to_client, to_server = ssl.MemoryBIO(), ssl.MemoryBIO()
    ends = (
        client.wrap_bio(to_client, to_server, server_hostname=host),
        server.wrap_bio(to_server, to_client, server_side=True),
    )
    done = [False, False]
    while not all(done):
        for index, end in enumerate(ends):
            try:
                end.do_handshake()
                done[index] = True
            except ssl.SSLWantReadError:
                continue
    shown = ends[0].getpeercert(binary_form=True)
    assert shown
    return shown


def context_of(folder: Path) -> ssl.SSLContext:
    return certificates.server_context(folder / certificates.SERVER, folder / certificates.SERVER)


def test_a_device_that_trusts_the_authority_reaches_each_host_and_no_other(folder: Path) -> None:
    made = make(folder, WANTED)
    context = context_of(folder)
    for host in WANTED:
        assert reached(context, made.authority, host) == certificates.in_der(made.server)
    for other in ("other.test", "192.168.1.21", "127.0.0.2"):
        with pytest.raises(ssl.SSLCertVerificationError, match=r"mismatch|is not valid for"):
            reached(context, made.authority, other)


@pytest.mark.parametrize("other", ["other.test", "notstudio.test", "192.168.1.21"])
def test_what_the_authority_signs_for_another_host_is_trusted_nowhere(folder: Path, other: str) -> None:
    made = make(folder, WANTED)
    stolen = certificates._read_pair(folder / certificates.AUTHORITY)
    (folder / "false.pem").write_bytes(certificates._make_server(stolen, (other,), 30).pem)
    context = certificates.server_context(folder / "false.pem", folder / "false.pem")
    with pytest.raises(ssl.SSLCertVerificationError, match=r"permitted subtree violation"):
        reached(context, made.authority, other)


def test_another_authority_of_the_same_making_is_not_trusted(folder: Path, tmp_path: Path) -> None:
    make(folder, WANTED)
    other = make(tmp_path / "other.tls", WANTED)
    with pytest.raises(ssl.SSLCertVerificationError, match=r"self-signed|unable to get|signature failure"):
        reached(context_of(folder), other.authority, "studio.test")


def test_what_is_made_is_no_more_than_it_needs_to_be(folder: Path) -> None:
    made = make(folder, WANTED)
    authority, server = made.authority.extensions, made.server.extensions
    basic = authority.get_extension_for_class(x509.BasicConstraints)
    assert (basic.critical, basic.value.ca, basic.value.path_length) == (True, True, 0)
    constraints = authority.get_extension_for_class(x509.NameConstraints)
    assert constraints.critical
    assert [str(one.value) for one in constraints.value.permitted_subtrees or []] == [
        "studio.test", "192.168.1.20/32", "localhost", "127.0.0.1/32", "::1/128",
    ]  # fmt: skip
    assert not server.get_extension_for_class(x509.BasicConstraints).value.ca
    for one in (authority, server):
        usage = one.get_extension_for_class(x509.ExtendedKeyUsage).value
        assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert certificates.hosts_of(made.server) == WANTED
    lasts = made.server.not_valid_after_utc - made.server.not_valid_before_utc
    assert lasts <= timedelta(days=397)


def test_keys_stand_outside_the_data_folder_and_open_to_nobody_else(folder: Path, tmp_path: Path) -> None:
    make(folder, WANTED)
    assert folder == tmp_path / "data.tls"
    assert not (tmp_path / "data").exists()
    assert folder.stat().st_mode & 0o777 == 0o700
    assert {file.name: file.stat().st_mode & 0o777 for file in folder.iterdir()} == dict.fromkeys(
        ("authority.pem", "server.pem", "studio-ca.crt", "studio-ca.pem"), 0o600
    )
    for public in ("studio-ca.crt", "studio-ca.pem"):
        assert b"PRIVATE" not in (folder / public).read_bytes()


def test_made_again_the_authority_stays_and_so_do_the_hosts(folder: Path) -> None:
    first = make(folder, WANTED)
    again = make(folder)
    assert (first.is_new_authority, again.is_new_authority) == (True, False)
    assert again.authority == first.authority
    assert again.server != first.server
    assert certificates.hosts_of(again.server) == WANTED
    assert reached(context_of(folder), first.authority, "studio.test") == certificates.in_der(again.server)


def test_another_host_takes_another_authority_and_says_so(folder: Path) -> None:
    first = make(folder, WANTED)
    with pytest.raises(BadCertificate, match=r"not made for other.test. .* add --new-authority"):
        make(folder, ("other.test", *WANTED))
    assert certificates.authority_in(folder) == first.authority
    second = make(folder, ("other.test", *WANTED), new_authority=True)
    assert second.authority != first.authority
    assert reached(context_of(folder), second.authority, "other.test")


def test_an_authority_whose_key_is_kept_elsewhere_is_never_replaced_unasked(folder: Path) -> None:
    first = make(folder, WANTED)
    (folder / certificates.AUTHORITY).unlink()
    with pytest.raises(BadCertificate, match=r"Put it back"):
        make(folder)
    with clock.stopped_at(clock.now() + timedelta(days=380)):
        assert "cannot be" in make_ready(Tls(folder / "server.pem", folder / "server.pem", WANTED, folder))
    assert certificates.authority_in(folder) == first.authority


@pytest.mark.parametrize(("days", "is_due"), [(0, False), (366, False), (367, True), (400, True)])
def test_it_is_renewed_when_fewer_than_30_days_are_left(folder: Path, days: int, is_due: bool) -> None:
    first = make(folder, WANTED)
    with clock.stopped_at(clock.now() + timedelta(days=days)):
        renewed = renew_if_due(folder)
        assert (renewed is not None) is is_due
        if renewed:
            assert renewed.authority == first.authority
            assert renewed.server.not_valid_after_utc - clock.now() > timedelta(days=390)


def test_no_certificate_outlives_its_authority_and_an_ended_one_says_so(folder: Path) -> None:
    make(folder, WANTED)
    with clock.stopped_at(clock.now() + timedelta(days=3600)):
        late: Made = make(folder)
        assert late.server.not_valid_after_utc == late.authority.not_valid_after_utc
    with clock.stopped_at(clock.now() + timedelta(days=3700)), pytest.raises(BadCertificate, match=r"has ended"):
        make(folder)


def test_a_new_authority_whose_making_broke_off_is_mended(folder: Path, tmp_path: Path) -> None:
    make(folder, WANTED)
    before = (folder / certificates.SERVER).read_bytes()
    newer = make(folder, WANTED, new_authority=True)
    (folder / certificates.SERVER).write_bytes(before)
    assert renew_if_due(folder) is not None
    assert reached(context_of(folder), newer.authority, "studio.test")


def test_a_running_service_shows_the_renewed_certificate_to_who_comes_next(folder: Path) -> None:
    with clock.stopped_at(clock.now() - timedelta(days=380)):
        first = make(folder, WANTED)
    options: dict[str, Any] = uvicorn_options(Tls(folder / "server.pem", folder / "server.pem", WANTED, folder))
    context = options["ssl_context_factory"](None, None)
    assert reached(context, first.authority, "studio.test") == certificates.in_der(first.server)
    asyncio.run(options["callback_notify"]())
    assert reached(context, first.authority, "studio.test") != certificates.in_der(first.server)


def test_a_fingerprint_is_told_in_pairs_that_can_be_compared_by_eye(folder: Path) -> None:
    lines = certificates.fingerprint(make(folder, WANTED).authority)
    assert [len(line.split()) for line in lines] == [8, 8, 8, 8]
    digest = ssl.PEM_cert_to_DER_cert((folder / "studio-ca.pem").read_text())
    assert digest == (folder / "studio-ca.crt").read_bytes()


def test_what_is_not_given_is_this_machines_own() -> None:
    assert hosts(["Studio.Test."], ["192.168.1.20"]) == WANTED
    assert set(own_addresses()) <= set(hosts(["studio.test"]))
    assert hosts()[-3:] == LOOPBACK


@pytest.mark.parametrize(
    ("name", "address", "words"),
    [
        ("two words", "", "is not a host name"),
        ("under_score", "", "is not a host name"),
        ("*.studio.test", "", "is not a host name"),
        ("a" * 64, "", "is not a host name"),
        ("", "", "is not a host name"),
        ("local", "", "is not one machine's name"),
        ("192.168.1.20", "", "give it with --address"),
        ("studio.test", "192.168.1", "is not an IP address"),
        ("studio.test", "0.0.0.0", "is not one machine's address"),
    ],
)
def test_a_host_that_cannot_be_one_says_why(name: str, address: str, words: str) -> None:
    with pytest.raises(BadHost, match=words):
        hosts([name], [address] if address else [])


def test_days_beyond_what_browsers_take_are_refused(folder: Path) -> None:
    for days in (0, 398):
        with pytest.raises(BadCertificate, match=r"give 1 to 397"):
            make(folder, WANTED, days=days)
    assert not folder.exists()


def test_where_there_is_a_certificate_the_service_is_https(folder: Path, tmp_path: Path) -> None:
    make(folder, WANTED)
    env = {"EVENSEAM_DATA": str(tmp_path / "data")}
    at_large = read_settings({**env, "EVENSEAM_HOST": "0.0.0.0"})
    assert (at_large.address, at_large.is_https, at_large.trust_port) == ("https://studio.test:8620", True, 8621)
    assert read_settings(env).address == "https://127.0.0.1:8620", "nobody else reaches it"
    off = read_settings({**env, "EVENSEAM_TLS": "off"})
    assert (off.address, off.is_https) == ("http://127.0.0.1:8620", False)
    named = read_settings({**env, "EVENSEAM_BASE_URL": "https://studio.test", "EVENSEAM_TRUST_PORT": "off"})
    assert (named.address, named.trust_port) == ("https://studio.test", 0)
    own = str(folder / "server.pem")
    elsewhere = {"EVENSEAM_DATA": str(tmp_path / "x"), "EVENSEAM_TLS_CERT": own, "EVENSEAM_TLS_KEY": own}
    found = read_settings(elsewhere).tls
    assert found is not None
    assert (found.hosts, found.folder) == (WANTED, None)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"TLS": "maybe"}, "give on or off"),
        ({"TLS_CERT": "/a/file"}, "go together"),
        ({"TLS_CERT": "/a/file", "TLS_KEY": "/b/file"}, "cannot be used as a certificate"),
        ({"BASE_URL": "http://studio.test"}, "begins with http://"),
        ({"TRUST_PORT": "8620"}, "the port of the service itself"),
        ({"TRUST_PORT": "none"}, "is not a port"),
    ],
)
def test_a_setting_of_https_that_cannot_be_says_what_to_do(
    folder: Path, tmp_path: Path, given: dict[str, str], words: str
) -> None:
    make(folder, WANTED)
    with pytest.raises(BadSetting, match=words):
        read_settings({"EVENSEAM_DATA": str(tmp_path / "data"), **{f"EVENSEAM_{k}": v for k, v in given.items()}})
