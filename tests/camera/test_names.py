"""A set of paths in little room, held against Python's own."""

from __future__ import annotations

import sys

from hypothesis import given
from hypothesis import strategies as st

from controller.camera.worker.names import Names

FOLDERS = ("/store_00010001/DCIM/100DUSKH", "/store_00010001/DCIM/101DUSKH", "/1000.d")
paths = st.one_of(
    st.builds(
        "{}/{}{:04d}{}".format,
        st.sampled_from(FOLDERS),
        st.sampled_from(["DUSK", "_DSC", ""]),
        st.integers(0, 9999) | st.integers(3, 9),
        st.sampled_from([".JPG", ".NEF", "", ".jpeg"]),
    ),
    st.sampled_from(["/a/AUTPRINT.MRK", "/a/0001x.JPG", "/a/MVI_123.MOV", "/a/12345.JPG", "", "0001"]),
)


@given(st.lists(paths, max_size=60), paths)
def test_it_is_a_set(seen: list[str], other: str) -> None:
    names = Names()
    for path in seen:
        names.add(path)
    assert all(path in names for path in seen)
    assert (other in names) == (other in set(seen))


@given(st.permutations(range(12)), st.integers(0, 11))
def test_runs_grow_together(numbers: list[int], missing: int) -> None:
    names = Names(f"/a/DUSK{n:04d}.JPG" for n in numbers if n != missing)
    assert [f"/a/DUSK{n:04d}.JPG" in names for n in range(13)] == [n not in (missing, 12) for n in range(13)]
    assert len(names._runs["/a/DUSK", ".JPG"]) == (1 if missing in (0, 11) else 2)


def test_a_card_full_of_files_takes_the_room_of_a_few() -> None:
    """DCF (CIPA DC-009, section 3): 9,999 numbers a folder, folders from 100 to 999."""
    names = Names()
    for n in range(50_000):
        names.add(f"/DCIM/{100 + n // 9999:03d}DUSKH/DUSK{n % 9999 + 1:04d}.JPG")
    kept = sum(len(runs) for runs in names._runs.values())
    assert kept == 6
    assert sys.getsizeof(names._runs) < 1000
    assert not names._others
