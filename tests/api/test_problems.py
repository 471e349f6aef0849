import http
import re

import httpx
import pytest

from api.body_limit import BODY_LIMIT
from controller.daemon import Rig
from controller.words.errors import CameraError, DuskhandError, StoreError


def check(answer: httpx.Response, status: int) -> dict[str, str]:
    """RFC 9457, sections 3 and 3.1: media type, and the members with their types; 4.2.1 for about:blank's title."""
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    problem: dict[str, str] = answer.json()
    assert problem["type"] == "about:blank"
    assert problem["title"] == http.HTTPStatus(status).phrase
    assert problem["status"] == status
    assert problem["detail"]
    assert "\n" not in problem["detail"]
    assert problem["code"]
    return problem


async def test_an_unknown_path_and_a_wrong_method(client: httpx.AsyncClient) -> None:
    unknown = check(await client.get("/api/v1/nothing"), 404)
    assert (unknown["code"], unknown["where"]) == ("no-such-path", "GET /api/v1/nothing")
    assert unknown["detail"] == "there is no such call"
    for path in ("/api/v1/nothing", "/api/v2/now", "/api/v1"):
        assert check(await client.post(path), 404)["code"] == "no-such-path"
    assert check(await client.get("/nothing"), 404)["detail"] == "there is nothing at this address"
    assert check(await client.post("/index.html"), 405)["code"] == "wrong-method"


@pytest.mark.parametrize(
    ("method", "path", "allow"),
    [
        ("DELETE", "/api/v1/now", "GET, HEAD"),
        ("GET", "/api/v1/shoots/none/hold", "POST"),  # as who forgets `--request POST` asks
        ("HEAD", "/api/v1/shoots/none/hold", "POST"),
        ("PATCH", "/api/v1/plans/none", "DELETE, GET, HEAD, PUT"),
        ("POST", "/api/v1/defaults", "GET, HEAD, PUT"),
        ("POST", "/healthz", "GET, HEAD"),
        ("PUT", "/metrics", "GET, HEAD"),
    ],
)
async def test_a_wrong_method_tells_those_that_there_are(
    client: httpx.AsyncClient, method: str, path: str, allow: str
) -> None:
    """RFC 9110, section 15.5.6."""
    wrong = await client.request(method, path)
    assert (wrong.status_code, wrong.headers["allow"]) == (405, allow)
    if method != "HEAD":
        problem = check(wrong, 405)
        assert (problem["code"], problem["where"]) == ("wrong-method", f"{method} {path}")
        assert problem["detail"] == f"this call takes {allow}"


async def test_a_body_that_is_not_json(client: httpx.AsyncClient) -> None:
    headers = {"Content-Type": "application/json"}
    problem = check(await client.post("/api/v1/shoots", content='{"plan": ', headers=headers), 422)
    assert problem["code"] == "bad-request"
    assert "JSON" in problem["detail"]
    assert "character 9" in problem["where"]
    check(await client.post("/api/v1/shoots", content=b"\xff\xfe", headers=headers), 422)


@pytest.mark.parametrize("body", [b'{"name": "\xff"}', b"[" * 100_000, b"1" * 100_000])
async def test_json_that_no_one_can_read_is_told_with_a_remedy(client: httpx.AsyncClient, body: bytes) -> None:
    problem = check(await client.post("/api/v1/plans", content=body, headers={"Content-Type": "application/json"}), 400)
    assert (problem["code"], problem["where"]) == ("bad-request", "body")
    assert "JSON" in problem["detail"]
    assert "UTF-8" in problem["remedy"]


@pytest.mark.parametrize(
    ("call", "name", "meant"),
    [
        ("plans/evening/forecast", "clip", "Did you mean clip_s?"),
        ("plans/evening/forecast", "intervall_s", "Did you mean interval_s?"),
        ("plans/evening/forecast", "nothing", "date, clip_s, interval_s, card_bytes, frame_bytes"),
        ("plans/evening", "versions", "takes none"),
        ("plans", "name", "takes none"),
        ("defaults", "x", "takes none"),
        ("shoots/s1/frames", "limt", "Did you mean limit?"),
    ],
)
async def test_a_parameter_that_a_call_does_not_have(
    client: httpx.AsyncClient, call: str, name: str, meant: str
) -> None:
    problem = check(await client.get(f"/api/v1/{call}", params={name: "20"}), 422)
    assert problem["code"] == "unknown-parameter"
    assert f"'{name}'" in problem["detail"]
    assert meant in problem["remedy"]


async def test_a_body_of_another_type_or_shape(client: httpx.AsyncClient) -> None:
    text = await client.post("/api/v1/shoots", content='{"plan": "x"}', headers={"Content-Type": "text/plain"})
    problem = check(text, 422)
    assert (problem["code"], problem["where"]) == ("bad-request", "Content-Type")
    assert "'text/plain'" in problem["detail"]
    assert "application/json" in problem["remedy"]
    assert check(await client.post("/api/v1/shoots", json={}), 422)["where"] == "body.plan"
    check(await client.post("/api/v1/plans", json=["name"]), 422)
    assert check(await client.post("/api/v1/plans", json={"name": 3}), 422)["where"] == "name"


@pytest.mark.parametrize(
    ("call", "body", "says"),
    [
        ("plans", ["name"], "is no table"),
        ("plans", 3, "3 is no table"),
        ("shoots", {"plan": 3}, "3 is no text"),
        ("shoots", {}, "is missing"),
        ("shoots", {"plan": "x", "when": 1}, "unknown key"),
        ("shoots/s1/pace", {"to_s": "soon"}, "'soon' is no number"),
        ("shoots/s1/pace", {"to_s": -1}, "-1 is out of range"),
        ("shoots/s1/light", {"iso": [3200, 100]}, "the lower limit 3200 is above the upper one, 100"),
        ("shoots/s1/light", {"iso": [100]}, "is missing"),
        ("shoots/s1/light", {"iso": [100, 200, 400]}, "right length"),
        ("shoots/s1/light", {"iso": "100"}, "'100' is no list"),
        ("shoots/s1/light", {"bias_ev": 11}, "11 is out of range"),
    ],
)
async def test_a_wrong_shape_is_told_in_plain_words(
    client: httpx.AsyncClient, call: str, body: object, says: str
) -> None:
    problem = check(await client.post(f"/api/v1/{call}", json=body), 422)
    assert problem["code"] == "bad-request"
    assert says in problem["detail"]
    assert not re.search("Input should|should have|valid (dictionary|tuple|list)|Value error|Field req", str(problem))


async def test_numbers_that_json_has_but_an_interval_cannot_be(client: httpx.AsyncClient) -> None:
    huge = await client.post(
        "/api/v1/shoots/s1/pace", content='{"to_s": 1e999}', headers={"Content-Type": "application/json"}
    )
    assert check(huge, 422)["where"] == "body.to_s"


async def test_a_body_that_is_too_large(client: httpx.AsyncClient) -> None:
    large = {"name": "x" * BODY_LIMIT}
    problem = check(await client.post("/api/v1/plans", json=large), 413)
    assert (problem["code"], problem["where"]) == ("too-large", "body")
    assert (await client.get("/api/v1/plans")).json() == []


async def test_a_body_that_is_too_large_and_does_not_say_so_beforehand(client: httpx.AsyncClient) -> None:
    async def parts():
        for _ in range(BODY_LIMIT // 1000 + 1):
            yield b" " * 1000

    answer = await client.post("/api/v1/plans", content=parts(), headers={"Content-Type": "application/json"})
    check(answer, 413)


@pytest.mark.parametrize(
    "error",
    [
        CameraError("camera-gone", "the camera does not answer", "cam1", "Look at its cable", True),
        StoreError("disk-full", "the disk is full", "log", "Free some space", True),
    ],
)
async def test_what_the_hardware_refuses_is_503(
    client: httpx.AsyncClient, rig: Rig, monkeypatch: pytest.MonkeyPatch, error: DuskhandError
) -> None:
    async def hold(*_: object) -> None:
        raise error

    monkeypatch.setattr(rig.shoots, "hold", hold)
    answer = await client.post("/api/v1/shoots/s1/hold")
    problem = check(answer, 503)
    assert (problem["code"], problem["where"], problem["remedy"]) == (error.code, error.where, error.remedy)
    assert answer.headers["retry-after"] == "2"


async def test_a_fault_of_ours_is_a_problem_without_its_traceback(
    client: httpx.AsyncClient, rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def now() -> None:
        raise ZeroDivisionError("secret")

    monkeypatch.setattr(rig, "now", now)
    answer = await client.get("/api/v1/now")
    check(answer, 500)
    assert "secret" not in answer.text
