"""A second place that is reached over SFTP, the file transfer of SSH: by a host key known before, or not at all.

Only the process of such a place imports the library.
"""

from __future__ import annotations

import asyncio
import os
import posixpath
from collections.abc import AsyncIterator, Awaitable
from contextlib import suppress
from typing import Any, TypeVar

from controller.copying.far import PART, PIECE, Progress, Room, Sent, away, failed, full, refused
from controller.copying.pace import Pace
from controller.copying.source import Source
from controller.words.errors import CopyError

try:
    import asyncssh
    from asyncssh import constants as codes
except ImportError as error:
    raise CopyError(
        "no-copy-library", "asyncssh is not installed", remedy="`.venv/bin/pip install '.[sftp]'` on the rig"
    ) from error

T = TypeVar("T")

_CONNECT_S, _ALIVE_S = 30.0, 15
_FULL = (codes.FX_NO_SPACE_ON_FILESYSTEM, codes.FX_QUOTA_EXCEEDED)
_GONE = (codes.FX_NO_CONNECTION, codes.FX_CONNECTION_LOST)


class Sftp:
    """Implements far.Far."""

    def __init__(self, client: Any, connection: Any, root: str, where: str, pace: Pace, progress: Progress) -> None:
        self._client, self._connection, self._root, self._where = client, connection, root, where
        self._pace, self._progress = pace, progress
        self._there: set[str] = set()

    @classmethod
    async def connect(
        cls,
        *,
        host: str,
        port: int,
        user: str,
        path: str,
        host_key: str,
        key_file: str | None,
        password: str | None,
        pace: Pace,
        progress: Progress,
    ) -> Sftp:
        """Raises CopyError where it cannot be reached, shows another key, or refuses us."""
        if not host_key:
            raise await _unknown_key(host, port)
        try:
            known: Any = ([asyncssh.import_public_key(line) for line in host_key.splitlines() if line.strip()], [], [])
            keys = [] if key_file is None else [asyncssh.read_private_key(key_file)]
        except (OSError, asyncssh.KeyImportError, asyncssh.KeyEncryptionError) as error:
            raise refused(f"a key cannot be read: {error}", "Look at host_key and key_file in places.toml") from error
        try:
            connection = await asyncssh.connect(
                host,
                port,
                username=user,
                password=password,
                client_keys=keys,
                known_hosts=known,
                agent_path=None,
                config=None,
                connect_timeout=_CONNECT_S,
                login_timeout=_CONNECT_S,
                keepalive_interval=_ALIVE_S,
            )
            client = await connection.start_sftp_client()
        except asyncssh.HostKeyNotVerifiable as error:
            what = "the server shows another host key than host_key in places.toml"
            remedy = "Nothing was sent. Find out why on the server itself, before you change host_key"
            raise CopyError("place-host-key", what, host, remedy, True) from error
        except asyncssh.PermissionDenied as error:
            raise refused(f"{host} refuses {user}", "Look at user, key_file or password in places.toml") from error
        except asyncssh.ChannelOpenError as error:
            raise refused(f"{host} has no SFTP for {user}: {error.reason}", "Switch SFTP on for that user") from error
        except (OSError, TimeoutError, asyncssh.Error) as error:
            raise away(f"{host} does not answer: {_words(error)}") from error
        return cls(client, connection, path, f"{host}:{port}", pace, progress)

    async def room(self) -> Room:
        free = None
        with suppress(asyncssh.SFTPOpUnsupported, asyncssh.SFTPNoSuchFile):  # not every server tells
            stat = await self._do(self._client.statvfs(self._root), asyncssh.SFTPOpUnsupported, asyncssh.SFTPNoSuchFile)
            free = stat.bavail * stat.frsize
        return Room(self._where, True, free)

    async def size(self, name: str) -> int | None:
        try:
            stat = await self._do(self._client.stat(self._at(name)), asyncssh.SFTPNoSuchFile)
        except asyncssh.SFTPNoSuchFile:
            return None
        return int(stat.size or 0)

    async def read(self, name: str) -> AsyncIterator[bytes]:
        offset = 0
        async with await self._do(self._client.open(self._at(name), "rb", encoding=None)) as file:
            while piece := await self._do(file.read(PIECE, offset)):
                yield piece
                offset += len(piece)
                await self._took(len(piece))

    async def send(self, name: str, source: Source) -> Sent:
        part = name + PART
        await self._make(posixpath.dirname(part))
        begin = await self.size(part) or 0
        flags = asyncssh.FXF_WRITE | asyncssh.FXF_CREAT
        if begin > source.size:
            begin, flags = 0, flags | asyncssh.FXF_TRUNC
        file = await self._do(self._client.open(self._at(part), flags, encoding=None))
        try:
            offset = begin
            for piece in source.pieces(PIECE, begin):
                try:
                    await self._do(file.write(piece, offset))
                except CopyError as error:
                    raise (await self._perhaps_full(error, len(piece))) from error
                offset += len(piece)
                await self._took(len(piece))
            with suppress(asyncssh.SFTPOpUnsupported):
                await self._do(file.fsync(), asyncssh.SFTPOpUnsupported)
        finally:
            with suppress(OSError, asyncssh.Error):
                await file.close()
        return Sent(part)

    async def discard(self, name: str) -> None:
        with suppress(asyncssh.SFTPNoSuchFile):
            await self._do(self._client.remove(self._at(name + PART)), asyncssh.SFTPNoSuchFile)

    async def put_name(self, sent: Sent, name: str) -> None:
        await self.set_aside(sent.name, name)

    async def set_aside(self, name: str, other: str) -> None:
        await self._do(self._client.rename(self._at(name), self._at(other)))  # which refuses where something is

    async def close(self) -> None:
        self._client.exit()
        self._connection.close()
        with suppress(OSError, TimeoutError, asyncssh.Error):
            await asyncio.wait_for(self._connection.wait_closed(), 2.0)

    # ---- on the line

    def _at(self, name: str) -> str:
        return posixpath.join(self._root, name)

    async def _took(self, size: int) -> None:
        self._progress(size)
        await asyncio.sleep(self._pace.wait_s(size))

    async def _make(self, directory: str) -> None:
        if directory not in self._there:
            await self._do(self._client.makedirs(self._at(directory), exist_ok=True))
            self._there.add(directory)

    async def _perhaps_full(self, error: CopyError, size: int) -> CopyError:
        """Version 3 of the protocol, which most servers speak, has no word for a full disk but 'failure'."""
        if error.code != "place-failed":
            return error
        free = (await self.room()).free_bytes
        return full() if free is not None and free < size else error

    async def _do(self, call: Awaitable[T], *passed: type[Exception]) -> T:
        try:
            return await call
        except asyncssh.SFTPError as error:
            if isinstance(error, passed):
                raise
            raise _told(error) from error
        except (OSError, TimeoutError, asyncssh.Error) as error:
            raise away(f"the line was cut: {_words(error)}") from error


def _told(error: Any) -> CopyError:
    if error.code in _FULL:
        return full()
    if error.code in _GONE:
        return away(f"the line was cut: {_words(error)}")
    if error.code in (codes.FX_PERMISSION_DENIED, codes.FX_WRITE_PROTECT):
        return refused(f"it cannot be written: {_words(error)}", "Let that user write at `path`")
    return failed(f"the server says: {_words(error)}")


def _words(error: BaseException) -> str:
    number = getattr(error, "errno", None)
    if isinstance(error, OSError) and isinstance(number, int) and number > 0:
        return os.strerror(number).lower()  # asyncio's own sentence shows an address in Python's form
    text = getattr(error, "reason", "") or getattr(error, "strerror", "") or str(error) or type(error).__name__
    return " ".join(str(text).split())[:200]


async def _unknown_key(host: str, port: int) -> CopyError:
    """The key that the server shows, for a person to compare with the server's own."""
    try:
        key = await asyncio.wait_for(asyncssh.get_server_host_key(host, port, config=None), _CONNECT_S)
    except (OSError, TimeoutError, asyncssh.Error) as error:
        return away(f"{host} does not answer: {_words(error)}")
    if key is None:
        return failed(f"{host} shows no host key")
    line = key.export_public_key().decode().strip()
    what = f"its host key is not known; it shows {key.get_fingerprint()}"
    remedy = f'Compare it with the server\'s own, then add host_key = "{line}" in places.toml'
    return CopyError("place-host-key", what, host, remedy, True)
