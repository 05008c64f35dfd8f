"""TLS on the local network: a certificate made on first use, by an authority of this desk's own.

A telephone that trusts the authority trusts this desk. So that this is all that it comes to, the authority may vouch
for this computer's names and for addresses of local networks alone (RFC 5280, section 4.2.1.10). Its key stays beside
the ledger, readable by the owner alone: the certificate of the service is made anew when the computer's address changes
or its time is up, and nobody has to trust anything a second time.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import socket
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from valuation.files import replacing, write_file

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

FOLDER = "-tls"
"""What the folder's name ends in, after that of the ledger."""
AUTHORITY_DAYS = 3650
"""Trusted once for the life of a shop's computer."""
SERVICE_DAYS = 397
"""Browsers refuse a certificate of a service that holds longer than 398 days."""
RENEW_DAYS = 30
"""Left to a certificate when it is made anew."""
LOCAL_NETWORKS = (
    "10.0.0.0/8",
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",
    "127.0.0.0/8",
    "fc00::/7",
    "fe80::/10",
)
"""RFC 1918, 3927, 4193 and 4291."""
ELSEWHERE = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737): asking for the way there sends nothing and tells this computer's own."""


class Certificate(NamedTuple):
    """Where the service's certificate lies, and that of the authority which a telephone may trust."""

    authority: Path
    chain: Path
    key: Path


def own_names() -> list[str]:
    """Names and addresses of this computer on the local network, the most useful first."""
    name = socket.gethostname().split(".")[0]
    found = [_address(), f"{name}.local", name, "localhost", "127.0.0.1"]
    return list(dict.fromkeys(filter(None, found)))


def _address() -> str:
    """The address by which other computers reach this one; empty without a network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            way.connect(ELSEWHERE)
        except OSError:
            return ""
        return str(way.getsockname()[0])


def certificate(ledger: str, names: Sequence[str]) -> Certificate:
    """The certificate for these names, made if there is none that will do.

    Parameters
    ----------
    ledger : str
        File or address of the ledger; the certificate lies beside a file, else where one works.
    names : sequence of str
        Host names and addresses of this computer.
    """
    place = Path("valuation" if "://" in ledger else ledger)
    folder = place.with_name(place.name + FOLDER)
    folder.mkdir(mode=0o700, exist_ok=True)
    found = Certificate(folder / "authority.crt", folder / "desk.crt", folder / "desk.key")
    secret = folder / "authority.key"
    if not (found.authority.exists() and secret.exists() and _days_left(found.authority) > RENEW_DAYS):
        _make_authority(found.authority, secret, names)
        found.chain.unlink(missing_ok=True)
    if not (found.chain.exists() and found.key.exists() and _holds(found.chain, names)):
        _make_service(found, secret, names)
    return found


def fingerprint(certificate: Path) -> str:
    """The SHA-256 of a certificate, as browsers show it."""
    from cryptography.hazmat.primitives.hashes import SHA256

    return _read(certificate).fingerprint(SHA256()).hex(":").upper()


def _read(certificate: Path) -> x509.Certificate:
    from cryptography import x509

    return x509.load_pem_x509_certificate(certificate.read_bytes())


def _days_left(certificate: Path) -> int:
    return (_read(certificate).not_valid_after_utc - dt.datetime.now(dt.UTC)).days


def _holds(chain: Path, names: Sequence[str]) -> bool:
    """Whether a certificate is for all these names and for a while yet."""
    from cryptography import x509

    known = _read(chain).extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return set(_general_names(names)) <= set(known) and _days_left(chain) > RENEW_DAYS


def _make_authority(place: Path, secret: Path, names: Sequence[str]) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    named = [x509.DNSName(one) for one in names if not _is_address(one)]
    networks = [ipaddress.ip_network(one) for one in (*LOCAL_NETWORKS, *filter(_is_address, names))]
    title = _title(f"Valuation desk on {socket.gethostname()[:40]}, authority")
    made = (
        _begun(title, title, key, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(
            x509.NameConstraints([*named, *map(x509.IPAddress, networks)], excluded_subtrees=None), critical=True
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    _write(place, secret, key, [_signed(made, key)])


def _make_service(found: Certificate, secret: Path, names: Sequence[str]) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    authority, own = _read(found.authority), ec.generate_private_key(ec.SECP256R1())
    signer = load_pem_private_key(secret.read_bytes(), None)
    assert isinstance(signer, ec.EllipticCurvePrivateKey), (
        "an authority signs with the kind of key that it was made with"
    )
    made = (
        _begun(_title("Valuation desk"), authority.subject, own, SERVICE_DAYS)
        .add_extension(x509.SubjectAlternativeName(_general_names(names)), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False)
    )
    _write(found.chain, found.key, own, [_signed(made, signer), authority])


def _begun(subject: x509.Name, issuer: x509.Name, key: EllipticCurvePrivateKey, days: int) -> x509.CertificateBuilder:
    from cryptography import x509

    now = dt.datetime.now(dt.UTC)
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))  # a telephone's clock may be behind
        .not_valid_after(now + dt.timedelta(days=days))
    )


def _signed(made: x509.CertificateBuilder, signer: EllipticCurvePrivateKey) -> x509.Certificate:
    from cryptography.hazmat.primitives.hashes import SHA256

    return made.sign(signer, SHA256())


def _write(place: Path, secret: Path, key: EllipticCurvePrivateKey, chain: Sequence[x509.Certificate]) -> None:
    """The private key first, readable by its owner before anything stands in it."""
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    with replacing(secret) as part:
        part.chmod(0o600)
        part.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    write_file(place, b"".join(one.public_bytes(Encoding.PEM) for one in chain))


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _title(text: str) -> x509.Name:
    from cryptography import x509

    return x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, text)])


def _general_names(names: Sequence[str]) -> list[x509.GeneralName]:
    from cryptography import x509

    return [x509.IPAddress(ipaddress.ip_address(one)) if _is_address(one) else x509.DNSName(one) for one in names]


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True
