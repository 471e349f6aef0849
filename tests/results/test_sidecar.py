"""Gains as files: read back by ExifTool, by the standard library, and by the module itself."""

from __future__ import annotations

import csv
import json
import math
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.results.clip.sidecar import (
    NAMESPACE,
    FrameGain,
    read_gains_json,
    write_gains_csv,
    write_gains_json,
    xmp,
)
from controller.words.errors import BadInput, DuskhandError

ROWS = [
    FrameGain(seq=1, gain_ev=-0.00001, measured_ev=-3.25, wanted_ev=-3.25001, exposure_ev=7.333333),
    FrameGain(seq=12, gain_ev=0.1234567, measured_ev=-4.0, wanted_ev=-3.8765433),
]
RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"


@pytest.mark.skipif(shutil.which("exiftool") is None, reason="ExifTool is not installed")
def test_exiftool_reads_the_sidecar(tmp_path: Path) -> None:
    for row in ROWS:
        (tmp_path / f"{row.seq}.xmp").write_bytes(xmp("2026-12-01-quay & <harbour>", row))
    paths = [str(tmp_path / f"{row.seq}.xmp") for row in ROWS]
    command = ["exiftool", "-json", "-XMP:all", "-validate", "-warning", "-error", *paths]
    first, second = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    assert (first["Validate"], second["Validate"]) == ("OK", "OK")
    assert first["Shoot"] == "2026-12-01-quay & <harbour>"
    assert [first[tag] for tag in ("Seq", "GainEv", "MeasuredEv", "WantedEv", "ExposureEv")] == [
        1,
        0,
        -3.25,
        -3.25,
        7.3333,
    ]
    assert [second[tag] for tag in ("Seq", "GainEv", "MeasuredEv", "WantedEv")] == [12, 0.1235, -4, -3.8765]
    assert "ExposureEv" not in second


@given(
    st.text(st.characters(min_codepoint=32, exclude_categories=["Cs"], exclude_characters="\ufffe\uffff"), max_size=40),
    st.floats(-20, 20),
)
@settings(max_examples=60, deadline=None)
def test_the_sidecar_is_xml_and_rdf(shoot: str, gain: float) -> None:
    """ISO 16684-1, 7: one rdf:RDF in x:xmpmeta, simple properties as elements of an rdf:Description about this file;
    7.3.2: the packet's head with its id, and its end."""
    text = xmp(shoot, FrameGain(seq=3, gain_ev=gain, measured_ev=-3.0, wanted_ev=gain - 3.0))
    assert text.startswith('<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'.encode())
    assert text.rstrip().endswith(b'<?xpacket end="w"?>')
    root = ElementTree.fromstring(text.decode())
    assert root.tag == "{adobe:ns:meta/}xmpmeta"
    (description,) = root.findall(f"{RDF}RDF/{RDF}Description")
    assert description.get(f"{RDF}about") == ""
    found = {child.tag: child.text or "" for child in description}
    assert found[f"{{{NAMESPACE}}}shoot"].split() == shoot.split()
    assert found[f"{{{NAMESPACE}}}seq"] == "3"
    assert float(found[f"{{{NAMESPACE}}}gainEv"]) == pytest.approx(gain, abs=5e-5)
    assert "-0.0000" not in found.values()


def test_csv_and_json(tmp_path: Path) -> None:
    write_gains_csv(tmp_path / "a.csv", "quay, at dusk", ROWS)
    with (tmp_path / "a.csv").open(newline="", encoding="utf-8") as file:
        first, second = csv.DictReader(file)
    assert list(first) == ["shoot", "seq", "gain_ev", "measured_ev", "wanted_ev", "exposure_ev"]
    assert (first["shoot"], first["seq"], first["gain_ev"], first["exposure_ev"]) == (
        "quay, at dusk",
        "1",
        "0.0000",
        "7.3333",
    )
    assert (second["gain_ev"], second["exposure_ev"]) == ("0.1235", "")
    write_gains_json(tmp_path / "a.json", "quay", ROWS)
    read = json.loads((tmp_path / "a.json").read_text())
    assert read["shoot"] == "quay"
    assert math.isclose(read["frames"][1]["gain_ev"], 0.1234567)
    assert read_gains_json(tmp_path / "a.json").frames == ROWS
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.csv", "a.json"]


def test_gains_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"none.json: No such file or directory. Make the clip again"):
        read_gains_json(tmp_path / "none.json")
    for text in ("", "{}", '{"shoot": "a", "frames": [{"seq": 1}]}', "\0"):
        (tmp_path / "bad.json").write_text(text)
        with pytest.raises(BadInput, match=r"bad.json: no gains as a clip writes them. Make the clip again"):
            read_gains_json(tmp_path / "bad.json")


def test_gains_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "taken.csv").mkdir()
    with pytest.raises(DuskhandError) as caught:
        write_gains_csv(tmp_path / "taken.csv", "quay", ROWS)
    assert caught.value.code == "gains-failed"
    assert [path.name for path in tmp_path.iterdir()] == ["taken.csv"]
