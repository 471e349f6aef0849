"""What stores answer, in words that a person can act on."""

from __future__ import annotations

import pytest
from botocore.exceptions import ClientError, EndpointConnectionError

from controller.copying.pace import Pace
from controller.copying.s3 import S3
from controller.words.errors import CopyError


@pytest.mark.parametrize(
    ("code", "status", "ours"),
    [
        # "Error responses", Amazon S3 API Reference
        ("AccessDenied", 403, "place-refused"),
        ("InvalidAccessKeyId", 403, "place-refused"),
        ("SignatureDoesNotMatch", 403, "place-refused"),
        ("RequestTimeTooSkewed", 403, "place-refused"),
        ("NoSuchBucket", 404, "place-refused"),
        ("SlowDown", 503, "place-away"),
        ("InternalError", 500, "place-away"),
        ("InvalidRequest", 400, "place-failed"),
        # other makers' words, from memory
        ("QuotaExceeded", 403, "place-full"),
        ("XMinioStorageFull", 507, "place-full"),
    ],
)
def test_words_of_stores(code: str, status: int, ours: str) -> None:
    answer = {"Error": {"Code": code, "Message": "its own words"}, "ResponseMetadata": {"HTTPStatusCode": status}}
    with pytest.raises(CopyError) as caught, place()._told():
        raise ClientError(answer, "PutObject")  # type: ignore[arg-type]
    assert caught.value.code == ours
    assert caught.value.remedy
    assert "secret-key" not in str(caught.value)


def test_a_store_that_does_not_answer() -> None:
    with pytest.raises(CopyError) as caught, place()._told():
        raise EndpointConnectionError(endpoint_url="http://s")
    assert caught.value.code == "place-away"


def place() -> S3:
    told = {"endpoint": "http://192.0.2.1", "bucket": "frames", "prefix": "", "region": "us-east-1"}
    return S3(**told, access_key="a-key", secret_key="a-secret-key", pace=Pace(None), progress=lambda size: None)
