"""Certificates of our own making: what they vouch for, and when they are made anew."""

import datetime as dt
import ipaddress
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.oid import ExtendedKeyUsageOID

from keeper.serving import addresses, tls

NOW = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
HOSTS = ["192.168.7.5", "rackroom.local"]


def certificate(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())


def test_server_certificate_names_every_host_and_is_signed_by_ours(tmp_path: Path) -> None:
    files = tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW)
    server, authority = certificate(files.chain), certificate(files.public)
    server.verify_directly_issued_by(authority)
    names = server.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert set(names.get_values_for_type(x509.DNSName)) == {"localhost", "rackroom.local"}
    assert set(names.get_values_for_type(x509.IPAddress)) == {
        ipaddress.ip_address("127.0.0.1"),
        ipaddress.ip_address("192.168.7.5"),
    }
    usage = server.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]
    # Longer, and phones refuse it.
    assert server.not_valid_after_utc - server.not_valid_before_utc < dt.timedelta(days=398)


def test_authority_can_vouch_for_home_networks_only(tmp_path: Path) -> None:
    authority = certificate(tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW).public)
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert limits.critical
    permitted = {str(name.value) for name in limits.value.permitted_subtrees or []}
    assert permitted == {
        *("local", "localhost", "127.0.0.0/8"),
        *(str(network) for network in addresses.HOME_NETWORKS),
    }
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert (basic.ca, basic.path_length) == (True, 0)


def test_certificates_are_kept_while_they_fit(tmp_path: Path) -> None:
    first = tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW)
    before = (first.chain.read_bytes(), first.public.read_bytes())
    later = NOW + dt.timedelta(days=200)
    again = tls.prepare(tmp_path / "c", hosts=[*reversed(HOSTS)], now=later)
    assert (again.chain.read_bytes(), again.public.read_bytes()) == before


@pytest.mark.parametrize(
    ("hosts", "days"), [(["192.168.7.9"], 1), (HOSTS, 340)], ids=["moved", "old"]
)
def test_a_new_server_certificate_needs_no_new_trust(
    tmp_path: Path, hosts: list[str], days: int
) -> None:
    first = tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW)
    server, public = first.chain.read_bytes(), first.public.read_bytes()
    again = tls.prepare(tmp_path / "c", hosts=hosts, now=NOW + dt.timedelta(days=days))
    assert again.chain.read_bytes() != server
    assert again.public.read_bytes() == public
    certificate(again.chain).verify_directly_issued_by(certificate(again.public))


def test_an_authority_about_to_end_is_replaced_with_its_server(tmp_path: Path) -> None:
    public = tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW).public.read_bytes()
    again = tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW + dt.timedelta(days=3600))
    assert again.public.read_bytes() != public
    certificate(again.chain).verify_directly_issued_by(certificate(again.public))


def test_a_broken_key_is_replaced_with_its_certificate(tmp_path: Path) -> None:
    files = tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW)
    files.key.write_bytes(b"half a fi")
    before = files.chain.read_bytes()
    again = tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW)
    assert again.chain.read_bytes() != before


def test_fingerprint_is_written_as_phones_show_it(tmp_path: Path) -> None:
    public = tls.prepare(tmp_path / "c", hosts=HOSTS, now=NOW).public
    shown = tls.fingerprint(public).split(":")
    assert [len(pair) for pair in shown] == [2] * 32
    assert shown == [pair.upper() for pair in shown]


def test_network_addresses_are_never_public_or_loopback(monkeypatch: pytest.MonkeyPatch) -> None:
    found = ["127.0.0.1", "8.8.8.8", "169.254.3.4", "fe80::1", "192.168.7.5", "10.1.2.3"]
    monkeypatch.setattr(addresses, "_named", lambda: found)
    monkeypatch.setattr(addresses, "_chosen_by_system", lambda: "10.1.2.3")
    assert addresses.network_addresses() == ["10.1.2.3", "192.168.7.5"]


@pytest.mark.parametrize(
    ("machine", "expected"),
    [("rackroom", ["rackroom.local"]), ("Rack-2.lan", ["rack-2.local"]), ("Åsas Mac", [])],
)
def test_network_names_are_what_phones_can_look_up(
    monkeypatch: pytest.MonkeyPatch, machine: str, expected: list[str]
) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: machine)
    assert addresses.network_names() == expected
