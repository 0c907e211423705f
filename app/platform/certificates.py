"""HTTPS on the studio's own network: an authority that stands for the studio's addresses only, and its certificate.

Tablets show camera, microphone and safe cookies to HTTPS pages alone, and an address such as 192.168.1.20 gets no
certificate from a public authority. So the studio makes one of its own, once, and each of its tablets is told to trust
it. Nothing is sent anywhere.
"""

import ipaddress
import os
import ssl
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from app.platform import clock
from app.platform.hosts import hosts, is_address

AUTHORITY_DAYS = 3652  # ten years: as long as a studio's tablets live, since each must be told again of a new one
# Browsers refuse certificates of public authorities that last longer than 398 days (CA/Browser Forum, Baseline
# Requirements 6.3.2, until March 2026), and some hold private ones to it as well: one day less, to be safe everywhere.
MOST_DAYS = 397
RENEWED_BEFORE = timedelta(days=30)
BACKDATED = timedelta(hours=1)  # a tablet's clock may be slow

# Key and certificate stand in one file each, so that a broken-off renewal never leaves a pair that does not match.
AUTHORITY, SERVER = "authority.pem", "server.pem"
TRUSTED_DER, TRUSTED_PEM = "studio-ca.crt", "studio-ca.pem"


class BadCertificate(ValueError):
    """A certificate that cannot be made or used, said so that whoever asked can mend it."""


@dataclass(frozen=True)
class Made:
    """An authority's certificate and the server's, and whether tablets must be told of a new authority."""

    authority: x509.Certificate
    server: x509.Certificate
    is_new_authority: bool


@dataclass(frozen=True)
class _Pair:
    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate

    @property
    def pem(self) -> bytes:
        key = self.key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        return key + in_pem(self.certificate)


def folder_beside(data: Path) -> Path:
    """Outside the data folder, like the key of the stored files: a copy of the data gives no key away."""
    return data.with_name(data.name + ".tls")


def hosts_of(certificate: x509.Certificate) -> tuple[str, ...]:
    """The names and addresses a server's certificate is for, the first one first; names with a star left out."""
    try:
        extension = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName)
    except x509.ExtensionNotFound:
        return ()
    texts = (str(one.value) for one in extension.value if isinstance(one, x509.DNSName | x509.IPAddress))
    return tuple(text for text in texts if "*" not in text)


def name_of(certificate: x509.Certificate) -> str:
    found = certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)
    return str(found[0].value) if found else ""


def in_der(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.DER)


def in_pem(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.PEM)


def fingerprint(certificate: x509.Certificate) -> tuple[str, ...]:
    """SHA-256 of the certificate in pairs of hexadecimal digits, eight to a line: to be compared by eye."""
    pairs = [f"{byte:02X}" for byte in certificate.fingerprint(hashes.SHA256())]
    return tuple(" ".join(pairs[start : start + 8]) for start in range(0, len(pairs), 8))


def is_within(authority: x509.Certificate, host: str) -> bool:
    """Whether the authority may stand for this host (RFC 5280, 4.2.1.10: a name covers the names beneath it)."""
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    for one in permitted:
        if isinstance(one, x509.IPAddress) and is_address(host) and str(one.value) == str(ipaddress.ip_network(host)):
            return True
        if isinstance(one, x509.DNSName) and not is_address(host) and f".{host}".endswith(f".{one.value}"):
            return True
    return False


def is_issued_by(server: x509.Certificate, authority: x509.Certificate) -> bool:
    try:
        server.verify_directly_issued_by(authority)
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


def _general(host: str) -> x509.GeneralName:
    return x509.IPAddress(ipaddress.ip_address(host)) if is_address(host) else x509.DNSName(host)


def _constraint(host: str) -> x509.GeneralName:
    return x509.IPAddress(ipaddress.ip_network(host)) if is_address(host) else x509.DNSName(host)


def _named(words: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, words[:64])])


def _usage(*, is_authority: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not is_authority,
        key_cert_sign=is_authority,
        crl_sign=is_authority,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, until: datetime, *, is_authority: bool
) -> x509.CertificateBuilder:
    public = key.public_key()
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(clock.now() - BACKDATED)
        .not_valid_after(until)
        .add_extension(x509.BasicConstraints(ca=is_authority, path_length=0 if is_authority else None), critical=True)
        .add_extension(_usage(is_authority=is_authority), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
    )


def _make_authority(wanted: tuple[str, ...]) -> _Pair:
    """One that can vouch for nothing but these hosts: who steals its key cannot pose as anybody else to the tablets."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = _named(f"Evenseam at {wanted[0][:32]}, made {clock.now():%Y-%m-%d %H:%M}")
    until = clock.now() + timedelta(days=AUTHORITY_DAYS)
    constraints = x509.NameConstraints([_constraint(host) for host in wanted], None)
    builder = _builder(name, name, key, until, is_authority=True).add_extension(constraints, critical=True)
    return _Pair(key, builder.sign(key, hashes.SHA256()))


def _make_server(authority: _Pair, wanted: tuple[str, ...], days: int) -> _Pair:
    key = ec.generate_private_key(ec.SECP256R1())
    issuer = authority.certificate
    until = min(clock.now() - BACKDATED + timedelta(days=days), issuer.not_valid_after_utc)
    builder = (
        _builder(_named(wanted[0]), issuer.subject, key, until, is_authority=False)
        .add_extension(x509.SubjectAlternativeName([_general(host) for host in wanted]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key()), critical=False)
    )
    return _Pair(key, builder.sign(authority.key, hashes.SHA256()))


def _write(file: Path, content: bytes) -> None:
    """Readable by the service's own user only, and whole or not at all."""
    part = file.with_name(file.name + ".part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())
    part.replace(file)


def _read_pair(file: Path) -> _Pair:
    try:
        content = file.read_bytes()
        key = serialization.load_pem_private_key(content, None)
        certificate = x509.load_pem_x509_certificate(content)
    except (OSError, ValueError, TypeError) as error:
        raise BadCertificate(f"{file} cannot be used: {error}") from error
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise BadCertificate(f"{file} holds a key of another kind")
    return _Pair(key, certificate)


def read_certificate(file: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificate(file.read_bytes())
    except (OSError, ValueError) as error:
        raise BadCertificate(f"{file} cannot be used as a certificate: {error}") from error


def authority_in(folder: Path) -> x509.Certificate | None:
    """What tablets are told to trust; read without the key."""
    file = folder / TRUSTED_PEM
    return read_certificate(file) if file.exists() else None


def make(folder: Path, wanted: tuple[str, ...] = (), *, days: int = MOST_DAYS, new_authority: bool = False) -> Made:
    """A server certificate from the studio's authority, which is made first where there is none."""
    if not 1 <= days <= MOST_DAYS:
        raise BadCertificate(f"--days: give 1 to {MOST_DAYS}; browsers refuse certificates that last longer")
    is_new = new_authority or not (folder / TRUSTED_PEM).exists()
    if not is_new and not (folder / AUTHORITY).exists():  # kept elsewhere, as is wise: never replaced without a word
        raise BadCertificate(
            f"the authority's key is not at {folder / AUTHORITY}. Put it back to renew the certificate, or make "
            "another authority, which each tablet must then be told to trust, with --new-authority"
        )
    if not wanted:
        wanted = hosts_of(read_certificate(folder / SERVER)) if (folder / SERVER).exists() else hosts()
    authority = _make_authority(wanted) if is_new else _read_pair(folder / AUTHORITY)
    if authority.certificate.not_valid_after_utc <= clock.now():
        raise BadCertificate("the studio's authority has ended: make another one with --new-authority")
    if outside := [host for host in wanted if not is_within(authority.certificate, host)]:
        raise BadCertificate(
            f"the studio's authority was not made for {', '.join(outside)}. To make another one for all of them, which "
            "each tablet must then be told to trust, add --new-authority"
        )
    server = _make_server(authority, wanted, days)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    folder.chmod(0o700)
    if is_new:
        _write(folder / AUTHORITY, authority.pem)
    _write(folder / TRUSTED_DER, in_der(authority.certificate))
    _write(folder / TRUSTED_PEM, in_pem(authority.certificate))
    _write(folder / SERVER, server.pem)
    return Made(authority.certificate, server.certificate, is_new)


def renew_if_due(folder: Path) -> Made | None:
    """A new certificate for the same hosts from the same authority when fewer than 30 days are left."""
    server, authority = read_certificate(folder / SERVER), authority_in(folder)
    left = server.not_valid_after_utc - clock.now()
    # Another authority's: making a new one broke off before its certificate was written.
    is_stray = authority is not None and not is_issued_by(server, authority)
    return make(folder) if left < RENEWED_BEFORE or is_stray else None


def server_context(certificate: Path, key: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(certificate, key)
    except (OSError, ValueError) as error:  # ssl.SSLError is an OSError
        raise BadCertificate(f"{certificate} and {key} cannot be used for HTTPS: {error}") from error
    return context
