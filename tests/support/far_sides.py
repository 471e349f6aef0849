"""Real far sides for copies: an SFTP server (asyncssh), an S3-compatible store (moto), and a line that can be cut."""

from __future__ import annotations

import asyncio
import contextlib
import subprocess
import sys
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from typing import Any

import asyncssh
import botocore.session

USER, PASSWORD = "rig", "a-password-of-the-tests"
BUCKET = "frames"


class Line:
    """A TCP line to `port` that can be down, or be cut after so many bytes towards the far side."""

    def __init__(self, port: int) -> None:
        self._to = port
        self.port = 0
        self.sent = 0
        self.cut_after: int | None = None
        self.down = False
        self._writers: set[asyncio.StreamWriter] = set()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self.down:
            writer.close()
            return
        far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self._to)
        self._writers |= {writer, far_writer}
        await asyncio.gather(self._pass(reader, far_writer, True), self._pass(far_reader, writer, False))

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, counted: bool) -> None:
        with contextlib.suppress(OSError):
            while data := await reader.read(1 << 16):
                if counted:
                    self.sent += len(data)
                    if self.cut_after is not None and self.sent > self.cut_after:
                        self.cut()
                        return
                writer.write(data)
                await writer.drain()
        writer.close()

    def cut(self) -> None:
        """End every connection at once."""
        for writer in self._writers:
            if not writer.transport.is_closing():
                writer.transport.abort()
        self._writers.clear()


@asynccontextmanager
async def line(port: int) -> AsyncIterator[Line]:
    made = Line(port)
    server = await asyncio.start_server(made._serve, "127.0.0.1", 0)
    made.port = server.sockets[0].getsockname()[1]
    try:
        yield made
    finally:
        server.close()
        made.cut()


class Sftp:
    """An SFTP server whose files lie in `root`; `full` lets it refuse whatever is written, as OpenSSH's does."""

    def __init__(self, root: Path, key: Any) -> None:
        self.root, self.full = root, False
        root.mkdir(parents=True, exist_ok=True)
        self.host_key = key.export_public_key().decode().strip()
        self.port = 0

    def settings(self, port: int | None = None, **other: Any) -> dict[str, Any]:
        """A place's table."""
        told = {"kind": "sftp", "host": "127.0.0.1", "port": port or self.port, "user": USER, "path": "/"}
        return {**told, "host_key": self.host_key, "password": PASSWORD, **other}


@asynccontextmanager
async def sftp_server(root: Path) -> AsyncIterator[Sftp]:
    key = asyncssh.generate_private_key("ssh-ed25519")
    far = Sftp(root, key)

    class Door(asyncssh.SSHServer):
        def begin_auth(self, username: str) -> bool:
            return True

        def password_auth_supported(self) -> bool:
            return True

        def validate_password(self, username: str, password: str) -> bool:
            return (username, password) == (USER, PASSWORD)

    class Files(asyncssh.SFTPServer):
        def __init__(self, channel: Any) -> None:
            super().__init__(channel, chroot=str(root))

        def write(self, file_obj: object, offset: int, data: bytes) -> int:
            if far.full:
                raise asyncssh.SFTPFailure("Failure")
            return super().write(file_obj, offset, data)  # type: ignore[return-value]

        def statvfs(self, path: bytes) -> asyncssh.SFTPVFSAttrs:
            found = super().statvfs(path)
            assert not asyncio.iscoroutine(found)
            return asyncssh.SFTPVFSAttrs(bsize=4096, frsize=4096, bavail=0) if far.full else found  # type: ignore[return-value]

    server = await asyncssh.listen("127.0.0.1", 0, server_host_keys=[key], server_factory=Door, sftp_factory=Files)
    far.port = server.get_port()
    try:
        yield far
    finally:
        server.close()
        await server.wait_closed()


class S3:
    """A store with one bucket, which holds whoever asks to the keys that it gave."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.access_key = self.secret_key = "for-the-first-calls"
        self._client("s3").create_bucket(Bucket=BUCKET)
        iam = self._client("iam")
        iam.create_user(UserName=USER)
        everything = '{"Version": "2012-10-17", "Statement": [{"Effect": "Allow", "Action": "*", "Resource": "*"}]}'
        iam.put_user_policy(UserName=USER, PolicyName="all", PolicyDocument=everything)
        made = iam.create_access_key(UserName=USER)["AccessKey"]
        self.access_key, self.secret_key = made["AccessKeyId"], made["SecretAccessKey"]
        self.client = self._client("s3")

    def _client(self, service: str) -> Any:
        return botocore.session.Session().create_client(
            service,
            endpoint_url=f"http://127.0.0.1:{self.port}",
            region_name="us-east-1",
            aws_access_key_id=self.access_key,
            aws_secret_access_key=self.secret_key,
        )

    def settings(self, port: int | None = None, **other: Any) -> dict[str, Any]:
        """A place's table."""
        told = {"kind": "s3", "endpoint": f"http://127.0.0.1:{port or self.port}", "bucket": BUCKET}
        return {**told, "access_key": self.access_key, "secret_key": self.secret_key, **other}


_FIRST_CALLS = 4  # before it holds to keys: those that make the bucket and the keys


@contextmanager
def s3_server() -> Iterator[S3]:
    program = (
        "import sys; from moto.server import ThreadedMotoServer as M; s = M('127.0.0.1', 0, verbose=False); s.start();"
        " print(s.get_host_and_port()[1], flush=True); sys.stdin.read()"
    )
    env = {"INITIAL_NO_AUTH_ACTION_COUNT": str(_FIRST_CALLS), "PATH": "/usr/bin:/bin"}
    process = subprocess.Popen(
        [sys.executable, "-c", program],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=env,
    )
    assert process.stdout is not None
    assert process.stdin is not None
    try:
        yield S3(int(process.stdout.readline()))
    finally:
        process.stdin.close()
        process.kill()
        process.wait()
        process.stdout.close()
