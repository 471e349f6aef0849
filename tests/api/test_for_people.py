"""What is refused, as whoever asks can read it: a page for a browser's own address line, a document for all others."""

from __future__ import annotations

import base64
import hashlib
import re

import httpx
import pytest

from tests.api.test_problems import check

BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
ELSEWHERE = {"X-Forwarded-For": "192.0.2.9"}
REPORT = "/api/v1/shoots/none/report.html"


@pytest.mark.parametrize(
    ("path", "headers", "status", "words"),
    [
        (
            REPORT,
            ELSEWHERE,
            401,
            ("This device is not paired with the rig.", "by “duskhand pair”, and enter it on the page."),
        ),
        (REPORT, {}, 404, ("No shoot",)),
        (REPORT, {"Sec-Fetch-Site": "cross-site"}, 403, ("A page of another site asked for this.", "own page.")),
        ("/api/v1/plans?%3Cb%3E=1", {}, 422, ("&lt;b&gt;",)),
        ("/nothing", {}, 404, ("stand in /openapi.json.",)),
    ],
)
async def test_a_browser_gets_a_page(
    client: httpx.AsyncClient, path: str, headers: dict[str, str], status: int, words: tuple[str, ...]
) -> None:
    answer = await client.get(path, headers=BROWSER | headers)
    assert (answer.status_code, answer.headers["content-type"]) == (status, "text/html; charset=utf-8")
    told = re.sub(r"\s+", " ", re.sub("<[^>]+>", "", answer.text.partition("</style>")[2]))
    for text in words:
        assert text in told.replace("&#x27;", "'"), told
    assert "<b>" not in answer.text
    assert 'data-theme="night"' in answer.text  # a rig that knows no place blinds nobody
    assert answer.headers["cache-control"] == "no-store"
    assert {"Accept", "Cookie"} <= {one.strip() for one in answer.headers["vary"].split(",")}
    (sheet,) = re.findall("<style>(.*?)</style>", answer.text, re.S)
    digest = base64.b64encode(hashlib.sha256(sheet.encode()).digest()).decode()  # CSP level 3, section 6.7.3
    assert f"'sha256-{digest}'" in answer.headers["content-security-policy"]
    (home,) = re.findall('href="([^"]+)"', answer.text)
    assert httpx.URL("http://rig/behind/a/proxy" + path).join(home) == "http://rig/behind/a/proxy/"
    assert ("www-authenticate" in answer.headers) == (status == 401)  # RFC 9110, section 15.5.2


async def test_all_others_get_the_document(client: httpx.AsyncClient) -> None:
    for accept in ("*/*", "application/json"):
        check(await client.get(REPORT, headers={"Accept": accept}), 404)
    check(await client.post(REPORT, headers=BROWSER), 405)  # nobody opens that by its address
    assert (await client.head(REPORT, headers=BROWSER)).content == b""
