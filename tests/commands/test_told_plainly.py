"""What commands say of input that is no use, and of trouble that stands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from controller.commands import asking, main
from controller.words.errors import DuskhandError


def test_an_id_that_is_none(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["pair", "--revoke", "xyz"])
    assert ended.value.code == 2
    assert "'xyz' is no ID: give the number that `duskhand pair --list` shows" in capsys.readouterr().err


def test_addresses_that_others_may_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def nobody(*_: Any, **__: Any) -> None:
        raise DuskhandError("no-service", "no service answers")

    monkeypatch.setattr(asking, "call", nobody)
    monkeypatch.delenv("DUSKHAND_MESSAGES_TO", raising=False)
    (tmp_path / "rig.toml").write_text("[messages]\n")
    (file := tmp_path / "messages.addresses").write_text("json://example.org/x\n")
    file.chmod(0o644)
    assert main(["messages", "--dir", str(tmp_path)]) == 1
    assert "chmod 600" in capsys.readouterr().out
    file.chmod(0o600)
    assert main(["messages", "--dir", str(tmp_path)]) == 0
    assert capsys.readouterr().out == "Nothing waits\n"
