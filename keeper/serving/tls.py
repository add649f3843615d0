"""Certificates for the book's own network, made here and trusted by hand on each phone.

A small authority of our own signs the server's certificate, so that a phone has to trust one
file once, however often the machine's address changes. The authority can vouch for home
networks and this machine only: even its stolen key could not pretend to be a bank.
"""

import datetime as dt
import ipaddress
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from keeper import NAME
from keeper.serving.addresses import HOME_NETWORKS, LOOPBACK
from keeper.serving.secrets import private_folder, write_private

PUBLIC_NAME = "keptlines.crt"

# Phones refuse server certificates that are valid for more than 825 days, some for more than
# 398; the authority has to outlast many of them.
_SERVER_LIFE = dt.timedelta(days=390)
_AUTHORITY_LIFE = dt.timedelta(days=3650)
_RENEW_BEFORE = dt.timedelta(days=60)


@dataclass(frozen=True)
class Files:
    """Where the certificates lie: for the server, and the one a phone has to trust."""

    chain: Path
    key: Path
    public: Path


@dataclass(frozen=True)
class _Pair:
    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey


def prepare(folder: Path, *, hosts: Sequence[str], now: dt.datetime) -> Files:
    """Return certificates for these hosts, made or renewed where they do not fit any more."""
    private_folder(folder)
    public = folder / "public"
    public.mkdir(mode=0o755, exist_ok=True)
    authority = _read(folder, "authority")
    if authority is None or not _is_fresh(authority.certificate, now):
        authority = _make_authority(now)
        _write(folder, "authority", authority)
    (public / PUBLIC_NAME).write_bytes(_pem(authority.certificate))

    names = _alternative_names([*LOOPBACK, *hosts])
    server = _read(folder, "server")
    if server is None or not _fits(server.certificate, authority, names, now):
        server = _make_server(authority, names, now)
        _write(folder, "server", server)
    return Files(folder / "server.crt", folder / "server.key", public / PUBLIC_NAME)


def fingerprint(certificate: Path) -> str:
    """Return the SHA-256 fingerprint as phones show it, in pairs of figures."""
    digest = x509.load_pem_x509_certificate(certificate.read_bytes()).fingerprint(hashes.SHA256())
    return digest.hex(":").upper()


def _make_authority(now: dt.datetime) -> _Pair:
    key = ec.generate_private_key(ec.SECP256R1())
    name = _name(f"{NAME} on this network, {now:%Y-%m-%d}")
    constraints = x509.NameConstraints(
        permitted_subtrees=[
            *(x509.DNSName(name) for name in ("local", "localhost")),
            *(x509.IPAddress(net) for net in HOME_NETWORKS),
            x509.IPAddress(ipaddress.IPv4Network("127.0.0.0/8")),
        ],
        excluded_subtrees=None,
    )
    builder = (
        _builder(name, name, key, now, _AUTHORITY_LIFE)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(constraints, critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), False)
    )
    return _Pair(builder.sign(key, hashes.SHA256()), key)


def _make_server(authority: _Pair, names: x509.SubjectAlternativeName, now: dt.datetime) -> _Pair:
    key = ec.generate_private_key(ec.SECP256R1())
    issuer = authority.certificate
    builder = (
        _builder(_name(NAME), issuer.subject, key, now, _SERVER_LIFE)
        .add_extension(names, critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key()), False
        )
    )
    return _Pair(builder.sign(authority.key, hashes.SHA256()), key)


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    now: dt.datetime,
    life: dt.timedelta,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        # A phone's clock may be a little behind.
        .not_valid_before(now - dt.timedelta(hours=1))
        .not_valid_after(now + life)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        **dict.fromkeys(
            (
                *("content_commitment", "key_encipherment", "data_encipherment"),
                *("key_agreement", "encipher_only", "decipher_only"),
            ),
            False,
        ),
    )


def _name(common: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common)])


def _alternative_names(hosts: Sequence[str]) -> x509.SubjectAlternativeName:
    names: list[x509.GeneralName] = []
    for host in dict.fromkeys(hosts):
        try:
            names.append(x509.IPAddress(ipaddress.ip_address(host)))
        except ValueError:
            names.append(x509.DNSName(host))
    return x509.SubjectAlternativeName(names)


def _fits(
    certificate: x509.Certificate,
    authority: _Pair,
    names: x509.SubjectAlternativeName,
    now: dt.datetime,
) -> bool:
    """Whether the certificate is fresh, for exactly these hosts and of this authority."""
    if certificate.issuer != authority.certificate.subject or not _is_fresh(certificate, now):
        return False
    held = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return set(held) == set(names)


def _is_fresh(certificate: x509.Certificate, now: dt.datetime) -> bool:
    return now + _RENEW_BEFORE < certificate.not_valid_after_utc


def _read(folder: Path, name: str) -> _Pair | None:
    """Return what an earlier start wrote; nothing if there is none or it cannot be read."""
    try:
        certificate = x509.load_pem_x509_certificate((folder / f"{name}.crt").read_bytes())
        key = serialization.load_pem_private_key((folder / f"{name}.key").read_bytes(), None)
    except (FileNotFoundError, ValueError):
        return None
    return _Pair(certificate, key) if isinstance(key, ec.EllipticCurvePrivateKey) else None


def _write(folder: Path, name: str, pair: _Pair) -> None:
    key = pair.key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    write_private(folder / f"{name}.key", key)
    write_private(folder / f"{name}.crt", _pem(pair.certificate))


def _pem(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.PEM)
