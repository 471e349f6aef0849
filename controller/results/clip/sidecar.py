"""What steadying did to each frame, carried into any editor: CSV, JSON, and XMP (ISO 16684-1) beside a picture.

XMP's namespace is our own. It names, and leads nowhere: the domain `.invalid` belongs to nobody and never will (RFC
2606), so that nobody else's properties can have the same name.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from pydantic import Field, ValidationError

from controller.words.documents import Document
from controller.words.errors import BadInput, DuskhandError

NAMESPACE = "https://duskhand.invalid/ns/gain/1.0/"


class FrameGain(Document):
    """Of one frame of a clip, in EV: log2 of linear luminance, mean over the picture, 0 where all of it is white."""

    seq: int = Field(description="number of the slot within the shoot")
    gain_ev: float = Field(description="by how much lighter the clip shows it; darker below 0")
    measured_ev: float = Field(description="brightness of the picture")
    wanted_ev: float = Field(description="brightness in the clip: the measured one and the gain")
    exposure_ev: float | None = Field(None, description="EV at ISO 100 of the settings, in true stops, by its Exif")


class Gains(Document):
    """Of a clip, in its order."""

    shoot: str
    camera: str = Field("", description="whose pictures they are")
    frames: list[FrameGain]


def gains_csv(shoot: str, rows: Sequence[FrameGain]) -> str:
    """A line for each frame below a head; lines end as RFC 4180 has them."""
    out = io.StringIO()
    lines = csv.writer(out)
    lines.writerow(["shoot", *FrameGain.model_fields])
    for row in rows:
        lines.writerow([shoot, row.seq, *(_figure(value) for _, value in _values(row))])
    return out.getvalue()


def write_gains_csv(path: Path, shoot: str, rows: Sequence[FrameGain]) -> None:
    """Raises DuskhandError('gains-failed'); then the old file, if any, is as it was."""
    _write(path, gains_csv(shoot, rows))


def write_gains_json(path: Path, shoot: str, rows: Sequence[FrameGain], camera: str = "") -> None:
    """Raises DuskhandError('gains-failed'); then the old file, if any, is as it was."""
    _write(path, Gains(shoot=shoot, camera=camera, frames=list(rows)).model_dump_json(indent=1) + "\n")


def read_gains_json(path: Path) -> Gains:
    """Raises BadInput('bad-gains') where it is not there or cannot be read."""
    try:
        return Gains.model_validate_json(path.read_bytes())
    except (OSError, ValidationError) as error:
        what = error.strerror if isinstance(error, OSError) else "no gains as a clip writes them"
        raise BadInput("bad-gains", str(what), str(path), "Make the clip again: it writes them anew") from error


def xmp(shoot: str, row: FrameGain) -> bytes:
    """A sidecar: an XMP packet in UTF-8 with the properties of `NAMESPACE`. What is not known is not in it."""
    values = [("shoot", shoot), ("seq", str(row.seq))]
    values += [(_camel(name), _figure(value)) for name, value in _values(row) if value is not None]
    properties = "".join(f"\n   <duskhand:{name}>{escape(value)}</duskhand:{name}>" for name, value in values)
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about="" xmlns:duskhand="{NAMESPACE}">{properties}
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
""".encode()


def _values(row: FrameGain) -> list[tuple[str, float | None]]:
    return [(name, getattr(row, name)) for name in FrameGain.model_fields if name != "seq"]


def _camel(name: str) -> str:
    first, *others = name.split("_")
    return first + "".join(other.capitalize() for other in others)


def _figure(value: float | None) -> str:
    """In ten-thousandths of an EV, far below what can be seen; empty where it is not known."""
    return "" if value is None else f"{round(value, 4) + 0.0:.4f}"  # 0.0 takes the sign of a negative zero away


def _write(path: Path, text: str) -> None:
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        what = f"the gains of the clip could not be written: {error.strerror}"
        raise DuskhandError(
            "gains-failed", what, str(path), "Free some space there; the clip itself is made"
        ) from error
