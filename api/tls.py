"""TLS with a certificate of one's own: read with clear words, and read again when it is renewed."""

from __future__ import annotations

import contextlib
import logging
import ssl
from pathlib import Path

from api.plain_asked import TellingContext
from controller.words.errors import BadInput

log = logging.getLogger(__name__)

_EXPIRED, _NOT_YET = 10, 9  # X509_V_ERR_CERT_HAS_EXPIRED, X509_V_ERR_CERT_NOT_YET_VALID (OpenSSL, x509_vfy.h)


class Tls:
    """`context` serves the certificate, those that vouch for it after it in its file, and its key."""

    def __init__(self, certificate: Path, key: Path) -> None:
        """Raises BadInput where they cannot be used. One whose time is over, or yet to come, is served all the same."""
        self._files = (certificate, key)
        self._seen = self._stamps()
        self.context = _context(certificate, key)
        if (doubt := _doubt(self.context, certificate)) is not None:
            log.warning("%s: %s. Browsers will refuse it: renew it, or look at the rig's clock", certificate, doubt)

    def look(self) -> None:
        """Take renewed files into use for connections to come; the old ones stay in use where those are no good."""
        if (stamps := self._stamps()) == self._seen:
            return
        self._seen = stamps
        try:
            _context(*self._files)
            self.context.load_cert_chain(*self._files, password=_locked)
        except (BadInput, OSError) as error:
            log.warning("the certificate was renewed, and the old one stays in use: %s", error)
        else:
            log.info("%s was renewed, and is in use", self._files[0])

    def _stamps(self) -> list[tuple[int, int] | None]:
        return [_stamp(file) for file in self._files]


def _stamp(file: Path) -> tuple[int, int] | None:
    try:
        stat = file.stat()
    except OSError:
        return None
    return stat.st_mtime_ns, stat.st_ino


def _locked() -> str:
    raise BadInput(
        "bad-key", "the key is locked by a passphrase", "--key", "Give one without, readable by its user only"
    )


def _context(certificate: Path, key: Path) -> ssl.SSLContext:
    for option, file in (("--certificate", certificate), ("--key", key)):
        code = f"bad-{option[2:]}"
        try:
            text = file.read_bytes()
        except OSError as error:
            what = f"cannot be read: {error.strerror or error}"
            raise BadInput(code, what, f"{option} {file}", "Name a file that the service's user may read") from error
        if b"-----BEGIN " not in text:
            remedy = "Give it in PEM form, which begins with -----BEGIN"
            raise BadInput(code, "holds nothing in PEM form", f"{option} {file}", remedy)
    context = TellingContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(certificate, key, password=_locked)
    except ssl.SSLError as error:
        if error.reason == "KEY_VALUES_MISMATCH":
            remedy = "Give the key that the certificate was made with"
            raise BadInput("bad-key", "is not this certificate's", f"--key {key}", remedy) from error
        what = f"cannot be used with its key: {(error.reason or 'no certificate and key in PEM form').lower()}"
        remedy = "Give a certificate with those that vouch for it after it, and its key, in PEM form"
        raise BadInput("bad-certificate", what, f"--certificate {certificate}", remedy) from error
    return context


def _doubt(server: ssl.SSLContext, certificate: Path) -> str | None:
    """What of its time a client would find; asked by shaking hands with ourselves."""
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.check_hostname = False
    client.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    ours, theirs = ssl.MemoryBIO(), ssl.MemoryBIO()
    try:
        client.load_verify_locations(certificate)
        far = server.wrap_bio(ours, theirs, server_side=True)
        near = client.wrap_bio(theirs, ours)
        for _ in range(4):
            for side in (near, far):
                with contextlib.suppress(ssl.SSLWantReadError):
                    side.do_handshake()
    except ssl.SSLCertVerificationError as error:
        return {_EXPIRED: "its time is over", _NOT_YET: "its time has not come"}.get(error.verify_code)
    except ssl.SSLError:
        return None
    return None
