"""The report over REST: by the process that makes it, against the same log added up here."""

from __future__ import annotations

import base64
import hashlib
import re

import httpx
import pytest

from controller.daemon import Rig
from controller.results.report.documents import Report
from controller.results.report.make import report
from controller.store.files import write_atomic
from controller.words.layout import verified_path
from tests.results.dusk import NOTES, SHOOT, shoot, slots

AT = f"/api/v1/shoots/{SHOOT}"


@pytest.fixture
async def logged(rig: Rig) -> Rig:
    await rig.store.add_shoot(shoot(slots()))
    await rig.store.add_missed(slots())
    for note in NOTES:
        await rig.store.note(note)
    return rig


async def test_the_document_is_that_of_the_log(client: httpx.AsyncClient, logged: Rig) -> None:
    answer = await client.get(f"{AT}/report")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/json")
    found = Report.model_validate(answer.json())
    frames = await logged.store.frames(SHOOT, limit=1000)
    here = report(await logged.store.shoot(SHOOT), frames, await logged.store.notes(SHOOT))
    assert found.model_dump(mode="json") == here.model_dump(mode="json")
    assert (found.frames, found.integrity, len(found.notes)) == (235, None, 2)
    write_atomic(logged.directory / verified_path(SHOOT), b'{"checked": 3, "whole": 3, "damaged": []}')
    again = (await client.get(f"{AT}/report", params={"camera": "camera-1"})).json()
    assert again["integrity"]["whole"] == 3


async def test_the_page_in_the_rigs_theme(client: httpx.AsyncClient, logged: Rig) -> None:
    answer = await client.get(f"{AT}/report.html", headers={"Cookie": "theme=day"})
    assert (answer.status_code, answer.headers["content-type"]) == (200, "text/html; charset=utf-8")
    assert '<html lang="en" data-theme="day">' in answer.text
    assert 'href="../../../../"' in answer.text
    (sheet,) = re.findall("<style>(.*?)</style>", answer.text, re.S)
    digest = base64.b64encode(hashlib.sha256(sheet.encode()).digest()).decode()  # CSP level 3, section 6.7.3
    assert f"default-src 'none'; style-src 'sha256-{digest}'" in answer.headers["content-security-policy"]
    browser = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
    answer = await client.get(f"{AT}/report", headers=browser)
    assert 'data-theme="night"' in answer.text  # a rig that knows no place blinds nobody


@pytest.mark.parametrize(
    ("path", "status", "code"),
    [
        ("/api/v1/shoots/none/report", 404, "no-such-shoot"),
        ("/api/v1/shoots/none/report.html", 404, "no-such-shoot"),
        (f"{AT}/report?camera=camera-9", 422, "no-such-camera"),
        (f"{AT}/report?verify=1", 422, "unknown-parameter"),
    ],
)
async def test_what_cannot_be_told(client: httpx.AsyncClient, logged: Rig, path: str, status: int, code: str) -> None:
    answer = await client.get(path)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert answer.json()["remedy"]
