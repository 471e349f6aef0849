"""No log says what lets somebody in: a real service, as talkative as it can be, with secrets that are looked for."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import httpx

from controller.commands.asking import call

NOWHERE = "ptpip:127.0.0.1:1:1"
TOKEN = "a-word-that-stands-nowhere-else-4711"


def test_secrets_stand_in_no_log_and_no_file(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "controller", "serve", "--dir", str(tmp_path / "rig"), "--port", "0", "--verbose"]
    environment = {**os.environ, "DUSKHAND_TOKEN": TOKEN}
    with (tmp_path / "log").open("w") as log:
        process = subprocess.Popen(
            [*command, "--camera", NOWHERE], stdout=subprocess.PIPE, stderr=log, text=True, env=environment
        )
    assert process.stdout is not None
    secrets = [TOKEN]
    try:
        url = process.stdout.readline().split()[2].rstrip("/")
        stranger = {"Host": "rig.example"}
        with httpx.Client(base_url=url, headers=stranger, timeout=60) as phone:
            for rights in ("all", "view"):
                code = call(url, "/api/v1/invitations", {"rights": rights})["code"]
                wrong = code[:-1] + ("A" if code[-1] != "A" else "B")
                assert phone.post("/api/v1/session", json={"code": wrong}).status_code == 403
                assert phone.post("/api/v1/session", json={"code": code, "name": "phone"}).status_code == 201
                secrets += [code, code.replace("-", ""), wrong, phone.cookies["duskhand"]]
                assert phone.get("/api/v1/now").status_code == 200
            bearer = call(url, "/api/v1/sessions", {"name": "copy"})["secret"]
            secrets.append(bearer)
            for shown in (TOKEN, bearer, bearer[:-1]):
                phone.cookies.clear()
                phone.get("/api/v1/now", headers={"Authorization": f"Bearer {shown}"})
                phone.get(f"/api/v1/nowhere?x={'y' * 10}", headers={"Authorization": f"Bearer {shown}"})
                phone.post("/api/v1/plans", content=b"{", headers={"Authorization": f"Bearer {shown}"})
        call(url, "/api/v1/shoots")
    finally:
        process.terminate()
        process.wait(60)
        said = process.stdout.read()
        process.stdout.close()
    files = [path for path in (tmp_path / "rig").rglob("*") if path.is_file()]
    assert (tmp_path / "rig/frames.sqlite3") in files
    for what, content in [("stdout", said.encode())] + [(str(p), p.read_bytes()) for p in [tmp_path / "log", *files]]:
        assert [secret for secret in secrets if secret.encode() in content] == [], what
    assert "Traceback" not in (tmp_path / "log").read_text()
