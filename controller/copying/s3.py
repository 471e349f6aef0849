"""A second place that is a bucket of an S3-compatible store. Large files go up part by part, and go on by the part.

Only the process of such a place imports the library. Its calls block, which hurts nobody there.
"""

from __future__ import annotations

import asyncio
import hashlib
import io
import time
from base64 import b64encode
from collections.abc import AsyncIterator
from contextlib import contextmanager
from typing import Any

from controller.copying.far import PIECE, Progress, Room, Sent, away, failed, full, refused
from controller.copying.pace import Pace
from controller.copying.source import Source
from controller.words.errors import CopyError

try:
    import botocore.session
    from botocore.config import Config
    from botocore.exceptions import BotoCoreError, ClientError, HTTPClientError, NoCredentialsError
except ImportError as error:
    raise CopyError(
        "no-copy-library", "botocore is not installed", remedy="`.venv/bin/pip install '.[s3]'` on the rig"
    ) from error

PART_BYTES = 8 << 20
"""One part; the least that S3 takes is 5 MiB ("Amazon S3 multipart upload limits", Amazon S3 User Guide)."""

_NOT_THERE = ("404", "NoSuchKey", "NotFound")
_REFUSED = ("403", "AccessDenied", "InvalidAccessKeyId", "SignatureDoesNotMatch", "AuthFailure", "RequestTimeTooSkewed")
_FULL = ("QuotaExceeded", "XMinioStorageFull", "InsufficientStorage", "507")


class S3:
    """Implements far.Far."""

    def __init__(
        self,
        *,
        endpoint: str,
        bucket: str,
        prefix: str,
        region: str,
        access_key: str,
        secret_key: str,
        pace: Pace,
        progress: Progress,
    ) -> None:
        self._bucket, self._prefix, self._pace, self._progress = bucket, prefix, pace, progress
        self._where = f"{endpoint}/{bucket}"
        self._endpoint = endpoint
        config = Config(
            connect_timeout=30,
            read_timeout=60,
            retries={"max_attempts": 2, "mode": "standard"},
            s3={"addressing_style": "path", "payload_signing_enabled": False},
            request_checksum_calculation="when_required",
            response_checksum_validation="when_required",
        )
        self._client = botocore.session.Session().create_client(
            "s3",
            endpoint_url=endpoint,
            region_name=region,
            aws_access_key_id=access_key,
            aws_secret_access_key=secret_key,
            config=config,
        )

    async def room(self) -> Room:
        return Room(self._where, True, None)  # the protocol has no word for it

    async def size(self, name: str) -> int | None:
        head = self._head(name)
        return None if head is None else int(head["ContentLength"])

    async def read(self, name: str) -> AsyncIterator[bytes]:
        with self._told():
            body = self._client.get_object(Bucket=self._bucket, Key=self._key(name))["Body"]
            while piece := body.read(PIECE):
                yield piece
                self._progress(len(piece))
                await asyncio.sleep(self._pace.wait_s(len(piece)))

    async def send(self, name: str, source: Source) -> Sent:
        if source.size <= PART_BYTES:
            data = b"".join(source.pieces(PART_BYTES))
            digest = b64encode(hashlib.sha256(data).digest()).decode()
            with self._told():
                body = _Paced(data, self._pace, self._progress)
                self._client.put_object(Bucket=self._bucket, Key=self._key(name), Body=body, ChecksumSHA256=digest)
            return Sent(name, self._vouches(name, digest))
        return await self._in_parts(name, source)

    async def _in_parts(self, name: str, source: Source) -> Sent:
        upload, there = self._begun(name)
        asked = {"Bucket": self._bucket, "Key": self._key(name)}
        parts, digests = [], []
        for number, data in enumerate(source.pieces(PART_BYTES), 1):
            digest = hashlib.sha256(data).digest()
            digests.append(digest)
            known = there.get(number)
            if known is None or known["Size"] != len(data) or not _same(known, data):
                text = b64encode(digest).decode()
                with self._told():
                    known = self._client.upload_part(
                        **asked,
                        UploadId=upload,
                        PartNumber=number,
                        Body=_Paced(data, self._pace, self._progress),
                        ChecksumSHA256=text,
                    )
            part = {"PartNumber": number, "ETag": known["ETag"]}
            if known.get("ChecksumSHA256"):
                part["ChecksumSHA256"] = known["ChecksumSHA256"]
            parts.append(part)
        with self._told():
            self._client.complete_multipart_upload(**asked, UploadId=upload, MultipartUpload={"Parts": parts})
        whole = b64encode(hashlib.sha256(b"".join(digests)).digest()).decode()
        return Sent(name, self._vouches(name, f"{whole}-{len(parts)}"))

    def _begun(self, name: str) -> tuple[str, dict[int, Any]]:
        """An upload of this file that was interrupted, with its parts by number; else a new one."""
        key = self._key(name)
        with self._told():
            found = self._client.list_multipart_uploads(Bucket=self._bucket, Prefix=key).get("Uploads", [])
            for each in found:
                if each["Key"] == key:
                    listed = self._client.list_parts(Bucket=self._bucket, Key=key, UploadId=each["UploadId"])
                    return each["UploadId"], {part["PartNumber"]: part for part in listed.get("Parts", [])}
            made = self._client.create_multipart_upload(Bucket=self._bucket, Key=key, ChecksumAlgorithm="SHA256")
            return made["UploadId"], {}

    async def discard(self, name: str) -> None:
        key = self._key(name)
        with self._told():
            for each in self._client.list_multipart_uploads(Bucket=self._bucket, Prefix=key).get("Uploads", []):
                if each["Key"] == key:
                    self._client.abort_multipart_upload(Bucket=self._bucket, Key=key, UploadId=each["UploadId"])

    async def put_name(self, sent: Sent, name: str) -> None:
        pass  # an object is there whole or not at all

    async def set_aside(self, name: str, other: str) -> None:
        source = {"Bucket": self._bucket, "Key": self._key(name)}
        with self._told():
            self._client.copy_object(Bucket=self._bucket, Key=self._key(other), CopySource=source)

    async def close(self) -> None:
        self._client.close()

    # ---- on the line

    def _key(self, name: str) -> str:
        return f"{self._prefix}{name}"

    def _head(self, name: str) -> Any:
        with self._told():
            try:
                return self._client.head_object(Bucket=self._bucket, Key=self._key(name), ChecksumMode="ENABLED")
            except ClientError as error:
                if str(error.response["Error"]["Code"]) in _NOT_THERE:
                    return None
                raise

    def _vouches(self, name: str, digest: str) -> bool:
        head = self._head(name)
        return head is not None and head.get("ChecksumSHA256") == digest

    @contextmanager
    def _told(self) -> Any:
        try:
            yield
        except ClientError as error:
            code, text = str(error.response["Error"].get("Code", "")), str(error.response["Error"].get("Message", ""))
            if code in _REFUSED:
                what = f"the store refuses: {code}"
                raise refused(
                    what, "Look at bucket, access_key and secret_key in places.toml, and at the clock"
                ) from None
            if code in _FULL:
                raise full() from None
            if code == "NoSuchBucket":
                raise refused(f"there is no bucket {self._bucket}", "Make it, or put `bucket` right") from None
            status = error.response.get("ResponseMetadata", {}).get("HTTPStatusCode", 0)
            if status >= 500:
                raise away(f"the store does not answer: {code} {text}".rstrip()[:200]) from None
            raise failed(f"the store says: {code} {text}".rstrip()[:200]) from None
        except (NoCredentialsError, ValueError) as error:
            raise refused(f"{error}", "Look at the place's table in places.toml") from None
        except (HTTPClientError, BotoCoreError, OSError) as error:
            kind = type(error).__name__
            raise away(f"{self._endpoint} does not answer ({kind})") from None


def _same(known: Any, data: bytes) -> bool:
    """Whether a part that is there holds these bytes, by the store's own sum of it."""
    told = known.get("ChecksumSHA256")
    if told:
        return bool(told == b64encode(hashlib.sha256(data).digest()).decode())
    return bool(known["ETag"].strip('"') == hashlib.md5(data, usedforsecurity=False).hexdigest())


class _Paced(io.BytesIO):
    """A body that is handed out no faster than it may go."""

    def __init__(self, data: bytes, pace: Pace, progress: Progress) -> None:
        super().__init__(data)
        self._pace, self._progress = pace, progress

    def read(self, size: int | None = -1) -> bytes:
        piece = super().read(size)
        self._progress(len(piece))
        time.sleep(self._pace.wait_s(len(piece)))
        return piece
