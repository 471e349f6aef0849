"""The rig's service, asked over REST by commands: while it runs it holds the cameras."""

from __future__ import annotations

import argparse
import os
from typing import TYPE_CHECKING, Any

from controller.camera.address import parse_address
from controller.words.errors import BadInput, DuskhandError

if TYPE_CHECKING:
    import ssl

THIS_MACHINE = ("127.0.0.1", "::1", "localhost")
DEFAULT_PORT = 8760
DEFAULT_RIG = f"http://{THIS_MACHINE[0]}:{DEFAULT_PORT}"

_THERE_S, _ANSWER_S = 3.0, 180.0


def add_service(parser: argparse.ArgumentParser, what: str = "address of the service") -> None:
    """--rig of a command that is done by a service."""
    parser.add_argument("--rig", metavar="URL", default=DEFAULT_RIG, help=f"{what} (default: %(default)s)")


def add_running(parser: argparse.ArgumentParser) -> None:
    """--rig of a command that is done here where no service answers; None where it is not given."""
    what = f"address of a running service (default: {DEFAULT_RIG}, where one answers there)"
    parser.add_argument("--rig", metavar="URL", help=what)


def add_rig(parser: argparse.ArgumentParser) -> None:
    """Where the cameras are: a service's, or attached to this machine."""
    add_running(parser)
    parser.add_argument(
        "--camera",
        action="append",
        default=[],
        metavar="ADDRESS",
        help="libgphoto2 port such as usb: or ptpip:192.168.1.1, opened here and no service asked; once for each",
    )


def service(args: argparse.Namespace) -> str | None:
    """Address of the service to ask; None where cameras are to be opened here. Raises BadInput, DuskhandError."""
    url = (args.rig or DEFAULT_RIG).rstrip("/")
    if args.rig is not None:
        if args.camera:
            raise BadInput("bad-request", "it is asked for beside --camera", "--rig", "Give one of the two")
        if not url.startswith(("http://", "https://")):
            remedy = f"Write it as http://192.168.1.5:{DEFAULT_PORT}"
            raise BadInput("bad-address", f"'{args.rig}' is no address of a service", "--rig", remedy)
    elif args.camera:
        _require_free(url, args.camera)
        return None
    try:
        call(url, "/api/v1/cameras", patience_s=_THERE_S)
    except DuskhandError:
        if args.rig is not None:
            raise
        return None
    return url


def _require_free(url: str, addresses: list[str]) -> None:
    """A camera in a network takes one session: a second one would end the service's. Raises BadInput."""
    try:
        held = {camera["address"] for camera in call(url, "/api/v1/cameras", patience_s=_THERE_S)}
    except DuskhandError:
        return
    for address in addresses:
        if parse_address(address) in held:
            what = f"the service at {url} has this camera"
            raise BadInput("camera-held", what, f"--camera {address}", "Leave --camera out, to ask the service")


def call(
    url: str,
    path: str,
    body: dict[str, Any] | None = None,
    *,
    patience_s: float = _ANSWER_S,
    method: str | None = None,
    text: bool = False,
) -> Any:
    """One call's JSON, or its `text`; None where it has none. POST where there is a body, unless `method` says.

    Raises what the service answers, DuskhandError where it does not.
    """
    import http.client
    import json
    import urllib.error
    import urllib.request

    data = None if body is None else json.dumps(body).encode()
    try:
        headers = {"Content-Type": "application/json"}
        if token := os.environ.get("DUSKHAND_TOKEN"):
            headers["Authorization"] = f"Bearer {token}"
        request = urllib.request.Request(url + path, data, headers, method=method)
        with urllib.request.urlopen(request, timeout=patience_s, context=_trusting(url)) as answer:
            came = answer.read()
            return came.decode() if text else json.loads(came) if came else None
    except urllib.error.HTTPError as error:
        plain = error.headers.get_content_type() == "text/plain"  # a rig that serves TLS says so in plain HTTP
        if plain and (secure := over_tls(url)) != url:
            return call(secure, path, body, patience_s=patience_s, method=method, text=text)
        raise _told(error, url) from None
    except (OSError, ValueError, http.client.HTTPException) as error:
        if (secure := over_tls(url)) != url:
            return call(secure, path, body, patience_s=patience_s, method=method, text=text)
        what = f"no service answers: {_why(getattr(error, 'reason', error))}"
        raise DuskhandError("no-service", what, url, "Start duskhand serve, or name its address with --rig") from None


def over_tls(url: str) -> str:
    """The same with https, where it is http on this machine and what answers there speaks TLS."""
    import contextlib
    import socket
    import ssl
    from urllib.parse import urlsplit

    parts = urlsplit(url)
    if parts.scheme == "http" and parts.hostname in THIS_MACHINE:
        secure = f"https{url[4:]}"
        context = _trusting(secure) or ssl.create_default_context()
        with contextlib.suppress(OSError, ValueError):
            plain = socket.create_connection((parts.hostname, parts.port or 80), _THERE_S)
            with plain, context.wrap_socket(plain, server_hostname=parts.hostname):
                return secure
    return url


def _trusting(url: str) -> ssl.SSLContext | None:
    """How an https address is trusted: by the system's authorities, or those of SSL_CERT_FILE, which OpenSSL reads.

    On this machine itself nobody is in between, and the certificate carries another name.
    """
    import ssl
    from urllib.parse import urlsplit

    if not url.startswith("https://"):
        return None
    context = ssl.create_default_context()
    if urlsplit(url).hostname in THIS_MACHINE:
        context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    return context


def _why(error: object) -> str:
    """An operating system's reason without its number."""
    return str((isinstance(error, OSError) and error.strerror) or error).lower()


def _told(error: Any, url: str) -> DuskhandError:
    """The problem document that came, as the error that it was."""
    import json

    try:
        told = json.load(error)
        code, what = str(told["code"]), str(told["detail"])
    except (OSError, ValueError, KeyError, TypeError):
        what = f"what answers is no Duskhand service (status {error.code})"
        return DuskhandError("no-service", what, url, "Start duskhand serve, or name its address with --rig")
    if error.code == 401:
        remedy = "Put a token of `duskhand pair --token NAME`, run on the rig's machine, into DUSKHAND_TOKEN"
        return DuskhandError(code, "this machine is not let in by the rig", url, remedy)
    kind = BadInput if error.code in (400, 403, 404, 409, 413, 422) else DuskhandError
    return kind(code, what, str(told.get("where") or ""), str(told.get("remedy") or ""))
