"""TLS with a certificate of one's own, made by cryptography, read by Python's ssl and by the commands."""

from __future__ import annotations

import json
import os
import socket
import ssl
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
)
from cryptography.x509.oid import NameOID

from api.tls import Tls
from controller.words.errors import BadInput
from tests.support.alone import served_alone


def made(directory: Path, name: str = "rig", *, days: int = 30, passphrase: bytes | None = None) -> tuple[Path, Path]:
    """A certificate that vouches for itself, whose time is over in `days`, and its key."""
    key, now = ec.generate_private_key(ec.SECP256R1()), datetime.now(UTC)
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "rig")])
    names = [x509.DNSName("rig.example"), x509.IPAddress(ip_address("127.0.0.2"))]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=60))
        .not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .sign(key, hashes.SHA256())
    )
    locked = NoEncryption() if passphrase is None else BestAvailableEncryption(passphrase)
    files = directory / f"{name}.pem", directory / f"{name}.key"
    files[0].write_bytes(certificate.public_bytes(Encoding.PEM))
    files[1].write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, locked))
    return files


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    return made(tmp_path_factory.mktemp("tls"))


@pytest.fixture(scope="module")
def url(pair: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A real service over TLS, on every address of this machine."""
    directory = tmp_path_factory.mktemp("rig")
    options = ("--host", "0.0.0.0", "--certificate", str(pair[0]), "--key", str(pair[1]))
    with served_alone(directory, *options) as address:
        yield address


def command(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    told = {**os.environ, **environment}
    return subprocess.run(
        [sys.executable, "-m", "controller", *words], capture_output=True, text=True, timeout=120, env=told
    )


def test_the_cookie_is_for_tls_alone(url: str, pair: tuple[Path, Path]) -> None:
    """The attribute Secure (RFC 6265, section 5.4)."""
    assert url.startswith("https://127.0.0.1:")
    port = url.rpartition(":")[2]
    trusting = ssl.create_default_context(cafile=str(pair[0]))
    with httpx.Client(verify=trusting, base_url=f"https://127.0.0.2:{port}") as phone:
        code = json.loads(command("pair", "--rig", url, "--json").stdout)["code"]
        answer = phone.post("/api/v1/session", json={"code": code}, headers={"Host": "rig.example"})
        assert answer.status_code == 201, answer.text
        assert "; secure" in answer.headers["set-cookie"].lower()
    with httpx.Client(base_url=f"https://127.0.0.2:{port}") as stranger, pytest.raises(httpx.ConnectError):
        stranger.get("/")


@pytest.mark.parametrize("method", ["GET", "POST", "HEAD", "PUT"])
def test_who_asks_without_tls_is_told_so(url: str, method: str) -> None:
    """By one line that holds nothing of what was asked; then the connection ends, and others are served."""
    host, port = "127.0.0.1", int(url.rpartition(":")[2].rstrip("/"))
    for _ in range(3):
        with socket.create_connection((host, port), timeout=60) as stranger:
            stranger.sendall(f"{method} /x?y=secret HTTP/1.1\r\nHost: evil.example\r\n\r\n".encode())
            told = b""
            while b"\n" not in told.partition(b"\r\n\r\n")[2]:
                part = stranger.recv(4096)
                assert part, told
                told += part
            stranger.sendall(b"GET / HTTP/1.1\r\n\r\n")
            assert stranger.recv(4096) == b""  # once only
        head, _, line = told.partition(b"\r\n\r\n")
        assert head.startswith(b"HTTP/1.1 400 ")
        assert f"Content-Length: {len(line)}".encode() in head
        assert b"https://" in line
        assert b"evil" not in told
        assert b"secret" not in told
    assert command("cameras", "--rig", url, "--json").returncode == 0


def test_commands_find_it_on_this_machine_and_pair_shows_https(url: str) -> None:
    plain = url.replace("https", "http")
    for asked in (url, plain):
        told = command("pair", "--rig", asked, "--json")
        assert told.returncode == 0, told.stderr
        assert all(address.startswith("https://") for address in json.loads(told.stdout)["addresses"])
        assert command("cameras", "--rig", asked, "--json").returncode == 0


def test_commands_trust_the_authority_that_openssl_is_told(url: str, pair: tuple[Path, Path]) -> None:
    """SSL_CERT_FILE, as in OpenSSL's manual, SSL_CTX_set_default_verify_paths."""
    far = url.replace("127.0.0.1", "127.0.0.2")
    refused = command("pair", "--rig", far, "--list")
    assert (refused.returncode, "certificate" in refused.stderr) == (1, True)
    told = command("pair", "--rig", far, "--list", SSL_CERT_FILE=str(pair[0]))
    assert told.returncode == 0, told.stderr


def test_files_that_cannot_be_used_are_said(pair: tuple[Path, Path], tmp_path: Path) -> None:
    certificate, key = pair
    _, other = made(tmp_path, "other")
    _, locked = made(tmp_path, "locked", passphrase=b"dusk")
    nothing, empty, broken = tmp_path / "nothing.pem", tmp_path / "empty.pem", tmp_path / "broken.pem"
    empty.write_text("")
    broken.write_text("-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n")
    for files, code, word in (
        ((nothing, key), "bad-certificate", "No such file"),
        ((certificate, nothing), "bad-key", "No such file"),
        ((tmp_path, key), "bad-certificate", "directory"),
        ((empty, key), "bad-certificate", "PEM"),
        ((certificate, empty), "bad-key", "PEM"),
        ((broken, key), "bad-certificate", "cannot be used"),
        ((certificate, certificate), "bad-certificate", "cannot be used"),
        ((certificate, other), "bad-key", "is not this certificate's"),
        ((certificate, locked), "bad-key", "passphrase"),
    ):
        with pytest.raises(BadInput, match=word) as refused:
            Tls(*files)
        assert refused.value.code == code
        assert refused.value.remedy
        line = command("serve", "--dir", str(tmp_path / "rig"), "--certificate", str(files[0]), "--key", str(files[1]))
        assert (line.returncode, line.stderr.count("\n")) == (2, 1), line.stderr


@pytest.mark.parametrize("alone", ["--certificate", "--key"])
def test_one_file_alone_is_no_pair(alone: str, tmp_path: Path) -> None:
    told = command("serve", "--dir", str(tmp_path / "rig"), alone, str(tmp_path / "x"))
    assert (told.returncode, "Give both" in told.stderr) == (2, True)


def test_one_whose_time_is_over_is_served_and_said(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """A rig with a wrong clock, or a renewal that failed, shoots on."""
    Tls(*made(tmp_path, "over", days=-30))
    assert "its time is over" in caplog.text


def test_a_renewed_certificate_is_taken_into_use(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    certificate, key = made(tmp_path)
    tls = Tls(certificate, key)
    assert caplog.text == ""

    def shown() -> bytes:
        client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        client.check_hostname, client.verify_mode = False, ssl.CERT_NONE
        ours, theirs = ssl.MemoryBIO(), ssl.MemoryBIO()
        sides = client.wrap_bio(theirs, ours), tls.context.wrap_bio(ours, theirs, server_side=True)
        for _ in range(4):
            for side in sides:
                try:
                    side.do_handshake()
                except ssl.SSLWantReadError:
                    continue
        return sides[0].getpeercert(binary_form=True) or b""

    before = shown()
    certificate.write_bytes(made(tmp_path, "next")[0].read_bytes())  # its key is not there yet
    tls.look()
    assert "old one stays" in caplog.text
    assert shown() == before
    made(tmp_path)
    tls.look()
    assert before != shown() == ssl.PEM_cert_to_DER_cert(certificate.read_text())
