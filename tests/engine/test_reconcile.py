"""Files found on a card after nobody watched, given to their slots."""

from controller.camera.messages import CardFile
from controller.engine.passed import clock_of_passed_s
from controller.engine.reconcile import clock_offset_s, match, match_between, shots
from controller.words.documents import Frame, FrameState


def frame(seq: int, due: float, *, released: float | None = None, state=FrameState.RELEASED, **more) -> Frame:
    return Frame(
        shoot="s",
        seq=seq,
        camera="c",
        due_utc=due,
        released_utc=released,
        interval_s=10,
        shutter_s=2.0,
        state=state,
        **more,
    )


def file(number: int, mtime: float | None, ext: str = "JPG", folder: str = "100ABCDE") -> CardFile:
    return CardFile(f"/store/DCIM/{folder}/IMG_{number:04d}.{ext}", 1000, mtime)


def test_pairs_stay_together_with_the_jpeg_first():
    found = shots([file(2, 5, "DNG"), file(1, 3, "DNG"), file(2, 5), file(1, 3)], set(), None)
    assert [[p[-12:] for p in shot.paths] for shot in found] == [
        ["IMG_0001.JPG", "IMG_0001.DNG"],
        ["IMG_0002.JPG", "IMG_0002.DNG"],
    ]


def test_files_from_before_the_shoot_and_known_ones_are_left_out():
    files = [file(n, n) for n in range(1, 6)]
    found = shots(files, {file(4, 0).path}, file(2, 0).path)
    assert [shot.paths[0] for shot in found] == [file(3, 0).path, file(5, 0).path]


def test_a_card_that_was_empty_before_the_shoot():
    assert [len(shots([file(1, 1)], set(), after)) for after in (None, "")] == [1, 1]


def test_a_folder_that_is_full_is_followed_by_the_next_one():
    # DCF (CIPA DC-009) numbers folders upwards from 100 to 999
    found = shots([file(1, 2, folder="101ABCDE"), file(9999, 1)], set(), None)
    assert [shot.mtime_utc for shot in found] == [1, 2]


def test_without_file_times_or_a_known_clock_order_alone_decides():
    result = match([frame(7, 100), frame(8, 110)], shots([file(1, None), file(2, None)], set(), None), 0.0)
    assert result == match([frame(7, 100), frame(8, 110)], shots([file(1, None), file(2, None)], set(), None), None)
    assert {seq: shot.paths[0][-8:] for seq, shot in result.matched.items()} == {7: "0001.JPG", 8: "0002.JPG"}
    assert not result.unclaimed
    assert not result.unknown


def test_an_intent_that_was_never_released_gets_no_file():
    slots = [frame(7, 100, released=100.0), frame(8, 110, state=FrameState.DUE)]
    result = match(slots, shots([file(1, 102)], set(), None), 0.0)
    assert list(result.matched) == [7]
    assert result.unclaimed == [8]


def test_a_released_frame_whose_file_never_came_does_not_take_the_next_ones():
    slots = [frame(7, 100, released=100.0), frame(8, 110, released=110.0)]
    result = match(slots, shots([file(1, 112)], set(), None), 0.0)
    assert list(result.matched) == [8]
    assert result.unclaimed == [7]


def test_the_file_of_a_frame_still_in_hand_is_not_given_to_one_that_was_lost():
    result = match([frame(7, 100, released=100.0)], shots([file(1, 152)], set(), None), 0.0)
    assert result.unclaimed == [7]
    assert not result.unknown


def test_a_picture_taken_by_hand_belongs_to_no_slot():
    result = match([frame(7, 100, released=100.0)], shots([file(1, 102), file(2, 104)], set(), None), 0.0)
    assert list(result.matched) == [7]
    assert [shot.paths for shot in result.unknown] == [[file(2, 0).path]]


def test_a_camera_whose_clock_is_an_hour_ahead_is_understood():
    known = [frame(n, n * 10, released=n * 10.0, camera_file=file(n, 0).path) for n in (1, 2, 3)]
    files = [file(n, n * 10 + 2 + 3600) for n in (1, 2, 3, 4)]
    offset = clock_offset_s(known, files)
    assert offset == 3600
    slots = [frame(4, 40, released=40.0), frame(5, 50, state=FrameState.DUE)]
    result = match(slots, shots(files, {f.path for f in files[:3]}, None), offset)
    assert list(result.matched) == [4]
    assert result.unclaimed == [5]


def test_a_slot_is_given_only_what_stands_between_its_neighbours_files():
    """Frames follow each other faster than file times are true; the rig was killed in slots 3 and 7."""
    rows = [frame(n, n * 0.4, released=n * 0.4, camera_file=file(n, 0).path) for n in (1, 2, 5, 6)]
    slots = [frame(n, n * 0.4, state=FrameState.DUE) for n in (3, 7)]
    found = shots([file(7, 2.8)], set(), None)
    files = [file(7, 2.8), *(file(n, n * 0.4) for n in (1, 2, 5, 6))]
    assert list(match(slots, found, -2.0).matched) == [3]
    result = match_between(slots, rows, found, files)
    assert {seq: shot.paths for seq, shot in result.matched.items()} == {7: [file(7, 0).path]}
    assert result.unclaimed == [3]


def test_nothing_is_given_twice_between_neighbours():
    rows = [frame(n, n * 10, released=n * 10.0, camera_file=file(n, 0).path) for n in (1, 4)]
    slots = [frame(n, n * 10, released=n * 10.0) for n in (2, 3, 5)]
    files = [file(n, n * 10 + 2) for n in (1, 2, 3, 4, 5, 6)]
    found = shots(files, {file(n, 0).path for n in (1, 4)}, None)
    result = match_between(slots, rows, found, files)
    assert {seq: shot.paths[0] for seq, shot in result.matched.items()} == {n: file(n, 0).path for n in (2, 3, 5)}
    assert not result.unclaimed


def put(seq: int) -> float:
    """The rig's clock was put forward by an hour after slot 20; the camera's was not."""
    return seq * 10.0 + (3600.0 if seq > 20 else 0.0)


def test_a_clock_that_was_put_in_the_shoot_leaves_each_file_at_its_slot():
    named = [n for n in range(1, 31) if n not in (15, 16, 26)]
    rows = [frame(n, put(n), released=put(n), camera_file=file(n, 0).path) for n in named]
    slots = [frame(n, put(n), released=put(n)) for n in (15, 16, 26)]
    files = [file(n, n * 10 + 2) for n in range(1, 31) if n != 15]  # of 15 nothing came
    found = shots(files, {row.camera_file for row in rows}, None)
    result = match_between(slots, rows, found, files)
    assert {seq: shot.paths for seq, shot in result.matched.items()} == {n: [file(n, 0).path] for n in (16, 26)}
    assert result.unclaimed == [15]
    assert not result.unknown


def test_where_a_clock_was_put_beside_a_slot_its_neighbours_alone_decide():
    rows = [frame(n, put(n), released=put(n), camera_file=file(n, 0).path) for n in range(1, 31) if n != 21]
    files = [file(n, n * 10 + 2) for n in range(1, 31)]
    found = shots(files, {row.camera_file for row in rows}, None)
    result = match_between([frame(21, put(21), released=put(21))], rows, found, files)
    assert [shot.paths for shot in result.matched.values()] == [[file(21, 0).path]]


def test_slots_that_passed_go_by_many_neighbours_or_by_a_clock_that_was_put_as_it_is_now():
    """One file's time is true to a second or two, which is as long as an interval."""

    def rows(put_s: float) -> list[Frame]:
        due = [(n, n * 2.0 + (put_s if n > 9 else 0.0)) for n in range(1, 12)]
        return [
            frame(n, at, released=at, camera_file=file(n, 0).path) if n not in (8, 9, 10)
            else frame(n, at, state=FrameState.MISSED)
            for n, at in due
        ]  # fmt: skip

    files = [file(n, n * 2.0 + (1.0 if n == 11 else 2.0)) for n in range(1, 12)]  # one floored, after those of no slot
    assert clock_of_passed_s((8, 10), rows(0.0), files) == 0.0
    assert clock_of_passed_s((8, 10), rows(3600.0), files) == -3601.0
