"""Whose file is it? Held against an invented camera that knows the truth."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.camera.messages import Release
from controller.camera.worker.names import number
from controller.camera.worker.roll import CardEntry, Roll, Shot, stem

FOLDER = "/store_00010001/DCIM/100DUSKH"


def order(seq: int, shutter_s: float = 0.2, rate: float = 1.0) -> Release:
    return Release(seq, 0.0, 0.0, shutter_s, 2.8, 100.0, shutter_s / rate, "all", "", "")


def path(n: int, suffix: str = "JPG") -> str:
    return f"{FOLDER}/DUSK{n:04d}.{suffix}"


def test_names_are_read_by_the_standard() -> None:
    # DCF (CIPA DC-009), section 3: four free characters and a number from 0001 to 9999.
    assert number("/store_00010001/DCIM/100CANON/IMG_0042.JPG") == 42
    assert number("/store_00010001/DCIM/999_0101/_DSC9999.NEF") == 9999
    assert number("/store_00010001/MISC/AUTPRINT.MRK") is None
    assert stem("/a/IMG_0001.JPG") == stem("/a/IMG_0001.CR3")


def test_a_file_before_the_exposure_ends_is_nobodys() -> None:
    roll = Roll()
    roll.released(order(1, shutter_s=8.0), 100.0)
    assert roll.added(CardEntry(path(1), 1000.0, 101.0)) is None
    assert roll.added(CardEntry(path(2), 1001.0, 108.2)) is not None


def test_numbers_go_round_into_a_new_folder() -> None:
    roll = Roll([path(9998)])
    shots = [roll.released(order(n), 10.0 * n) for n in (1, 2)]
    second = roll.added(CardEntry("/store_00010001/DCIM/101DUSKH/DUSK0001.JPG", None, 21.0))
    first = roll.added(CardEntry(path(9999), None, 21.5))
    assert [second, first] == [shots[1], shots[0]]


def test_where_nothing_tells_the_card_is_asked() -> None:
    roll = Roll()
    shots = [roll.released(order(n), 0.5 * n) for n in (1, 2)]
    assert roll.added(CardEntry(path(2), None, 1.5)) is None
    assert roll.unsure
    listing = [CardEntry(path(n, suffix), None, 3.0) for n in (1, 2) for suffix in ("JPG", "DNG")]
    assert roll.found(listing) == shots
    assert not roll.unsure
    assert [shot.paths for shot in shots] == [[path(n), path(n, "DNG")] for n in (1, 2)]


def test_a_frame_shot_by_hand_counts_in_the_numbers() -> None:
    roll = Roll([path(7)])
    assert roll.added(CardEntry(path(8), None, 1.0)) is None
    shots = [roll.released(order(n), 10.0 + n) for n in (1, 2)]
    assert roll.added(CardEntry(path(10), None, 12.5)) is shots[1]


def test_a_body_that_slept_at_the_release_shifts_nothing() -> None:
    """It answers when it is awake and exposes then; the next frame follows at once, and its file comes right behind."""
    roll = Roll([path(7)], 1000.0, 0.0)
    first = roll.released(order(1, shutter_s=0.02), 10.0, 10.01)
    assert roll.added(CardEntry(path(8), 1010.0, 10.2)) is first
    shots = [roll.released(order(2, shutter_s=0.02), 20.0, 23.0), roll.released(order(3, shutter_s=0.02), 23.05, 23.06)]
    assert roll.added(CardEntry(path(9), 1023.0, 23.08)) is shots[0]
    assert roll.added(CardEntry(path(10), 1023.0, 23.2)) is shots[1]


def test_a_clock_that_was_set_by_a_whole_interval_shifts_nothing() -> None:
    """By the clock before, each file's time is that of the frame after it."""
    roll = Roll([], 1000.0, 0.0)
    assert roll.added(CardEntry("/a/ONE.JPG", 1010.2, 10.4)) is None  # shot by hand, and no number
    roll.clock_set(1020.0 + 60.0, 20.0)
    shots = [roll.released(order(n), 60.0 * n) for n in (1, 2)]
    assert roll.added(CardEntry("/a/TWO.JPG", 1060.0 + 60.0, 121.0)) is shots[0]


def test_a_file_of_a_session_before_is_no_frame_s_of_this_one() -> None:
    """It was not on the card yet when this session began, and the body told nobody of it."""
    roll = Roll([path(7)])
    shots = [roll.released(order(n), 10.0 * n) for n in (1, 2, 3)]
    assert roll.added(CardEntry(path(9), None, 11.0)) is shots[0]
    listing = [CardEntry(path(n), None, 21.0) for n in (7, 8, 9)]
    assert roll.found(listing) == []
    assert roll.added(CardEntry(path(10), None, 22.0)) is shots[1]
    assert roll.found([CardEntry(path(n), None, 40.0) for n in (7, 8, 9, 10, 11)]) == [shots[2]]


def test_a_file_of_a_session_before_is_not_given_to_a_frame_that_the_card_did_not_take() -> None:
    """Frame 3 found the card full and waits in vain for a file; that of the session before stands below those of frames
    1 and 2 (numbers count upwards: DCF, CIPA DC-009, section 3)."""
    roll = Roll([path(7)])
    shots = []
    for seq, told in ((1, 9), (2, 10), (3, None), (4, 12)):
        shots.append(roll.released(order(seq), 10.0 * seq))
        assert told is None or roll.added(CardEntry(path(told), None, 10.0 * seq + 1)) is shots[-1]
    assert roll.found([CardEntry(path(n), None, 70.0) for n in (7, 8, 9, 10, 12)]) == []
    assert roll.pending == [shots[2]]
    assert roll.found([CardEntry(path(11), None, 71.0)]) == [shots[2]]


def test_a_file_whose_time_is_before_the_session_is_of_the_one_that_was_lost() -> None:
    """The camera wrote it after its process was gone and the card had been listed anew."""
    roll = Roll([path(6)], 1000.0, 50.0)
    shots = [roll.released(order(n), 51.0 + 6.0 * n) for n in (1, 2)]  # at 1007 and 1013 by the camera
    assert roll.added(CardEntry(path(7), 1001.0, 57.5)) is None
    assert roll.added(CardEntry(path(8), 1007.0, 57.6)) is shots[0]
    assert roll.added(CardEntry(path(9), 1012.0, 63.6)) is shots[1]


def test_a_clock_that_files_do_not_go_by_takes_no_frame_its_file() -> None:
    """File times in another zone than the clock's."""
    roll = Roll([path(6)], 1000.0, 50.0)
    shot = roll.released(order(1), 51.0)
    assert roll.added(CardEntry(path(7), 1000.0 - 3600.0, 51.5)) is shot


def test_a_file_that_is_listed_and_told_of_while_a_session_is_opened_is_one_file() -> None:
    roll = Roll()
    shot = roll.released(order(1), 1.0)
    twice = [CardEntry(path(1), None, 2.0), CardEntry(path(1, "DNG"), None, 2.0), CardEntry(path(1), None, 2.0)]
    assert roll.found(twice) == [shot]
    assert shot.paths == [path(1), path(1, "DNG")]


def test_the_second_file_of_a_pair_that_is_nobodys_is_nobodys() -> None:
    """The first one was there when the session began, or came soon after: both are of the session before."""
    for roll, first in ((Roll([path(7)]), None), (Roll([path(6)]), path(7))):
        assert first is None or roll.added(CardEntry(first, None, 1.0)) is None
        shot = roll.released(order(1), 2.0)
        assert roll.added(CardEntry(path(7, "DNG"), None, 3.0)) is None
        assert roll.added(CardEntry(path(8), None, 3.0)) is shot


def known_first(count: int) -> tuple[Roll, list[Shot]]:
    """A roll of `count` frames 10 s apart, of which the first one's file is known: number 1, at 1000 s by its clock."""
    roll = Roll()
    shots = [roll.released(order(n), 10.0 * n) for n in range(1, count + 1)]
    assert roll.added(CardEntry(path(1), 1000.0, 10.5)) is shots[0]
    return roll, shots


def test_a_time_that_fits_no_frame_leaves_it_to_the_number() -> None:
    """The body's clock was put forward by five minutes: the file is nearer to the later frame, and of neither."""
    roll, shots = known_first(3)
    assert roll.added(CardEntry(path(2), 1300.0, 31.0)) is shots[1]


def test_a_release_that_was_perhaps_in_vain_takes_no_number() -> None:
    roll, shots = known_first(3)
    shots[1].doubtful = True
    assert roll.added(CardEntry(path(2), None, 31.0)) is shots[2]


def test_files_that_nothing_tells_of_go_to_frames_in_their_order() -> None:
    """No numbers and no times, and fewer files than frames that wait."""
    roll = Roll()
    shots = [roll.released(order(n), 10.0 * n) for n in (1, 2, 3)]
    entries = [CardEntry(f"{FOLDER}/{name}.JPG", None, 40.0) for name in ("ONE", "TWO")]
    assert roll.found(entries) == shots[:2]
    assert [shot.paths for shot in shots] == [[entries[0].path], [entries[1].path], []]
    assert not roll.unsure


def test_a_frame_is_passed_once_a_later_one_has_its_file() -> None:
    roll, shots = known_first(3)
    assert not roll.passed(shots[1])
    assert roll.added(CardEntry(path(3), 1020.0, 31.0)) is shots[2]
    assert roll.passed(shots[1])


def test_a_frame_that_waits_for_its_second_file_is_kept_however_many_come_after_it() -> None:
    roll, shots = known_first(100)
    for n, shot in enumerate(shots[1:], 2):
        assert roll.added(CardEntry(path(n), 990.0 + 10.0 * n, 2000.0)) is shot
        shot.complete = True
    assert roll.unfinished == shots[:1]
    assert roll.added(CardEntry(path(1, "DNG"), 1000.0, 2000.0)) is shots[0]
    shots[0].complete = True
    last = roll.released(order(101), 3000.0)
    roll.added(CardEntry(path(101), 2990.0, 3001.0))
    assert roll.unfinished == [last]
    assert len(roll._known) == 32


def test_a_body_opens_its_shutter_at_the_latest_an_exposure_before_it_answers() -> None:
    shot = Shot(order(1, shutter_s=8.0), 0, 100.0, answered_mono=108.1)
    assert abs(shot.latest_mono - 100.1) < 1e-9
    assert Shot(order(1, shutter_s=8.0), 0, 100.0, answered_mono=100.1).latest_mono == 100.0


def test_what_a_session_finds_too_much_at_first_is_of_the_session_before() -> None:
    """Of a body that tells of no file: the frame that was in hand when the connection broke is older than ours."""
    roll = Roll([path(6)])
    shots = [roll.released(order(n), 10.0 * n) for n in (1, 2)]
    listing = [CardEntry(path(n, suffix), None, 25.0) for n in (6, 7, 8, 9) for suffix in ("JPG", "DNG")]
    assert roll.found(listing) == shots
    assert [shot.paths for shot in shots] == [[path(n), path(n, "DNG")] for n in (8, 9)]


@st.composite
def evenings(draw: st.DrawFn) -> dict[str, object]:
    count = draw(st.integers(2, 25))
    return {
        "interval_s": draw(st.sampled_from([0.5, 1.0, 3.0, 9.0, 22.0])),
        "rate": draw(st.sampled_from([1.0, 40.0])),
        "first": draw(st.integers(1, 9998)),
        "old": draw(st.booleans()),
        "stamps_end": draw(st.booleans()),
        # what becomes of each frame: told once, twice, not at all
        "fates": draw(
            st.lists(st.sampled_from(["once", "once", "once", "twice", "untold"]), min_size=count, max_size=count)
        ),
    }


@given(evenings())
def test_missing_and_double_events_shift_nothing(evening: dict[str, object]) -> None:
    check(evening, unwritten_counts=True)


@st.composite
def lossy_evenings(draw: st.DrawFn) -> dict[str, object]:
    evening = draw(evenings())
    evening["interval_s"] = draw(st.sampled_from([3.0, 9.0, 22.0]))
    fates = ["once", "once", "twice", "untold", "unwritten"]
    count = len(evening["fates"])  # type: ignore[arg-type]
    evening["fates"] = draw(st.lists(st.sampled_from(fates), min_size=count, max_size=count))
    return evening


@given(lossy_evenings(), st.booleans())
def test_frames_that_are_never_written_shift_nothing(evening: dict[str, object], unwritten_counts: bool) -> None:
    """Whether or not a camera that loses a frame uses up a number for it, where intervals are longer than the
    resolution of file times."""
    check(evening, unwritten_counts)


def check(evening: dict[str, object], unwritten_counts: bool) -> None:
    interval_s, rate = float(evening["interval_s"]), float(evening["rate"])  # type: ignore[arg-type]
    shutter_s = interval_s * rate / 3
    clock = 1_000_000.0
    n = int(evening["first"])  # type: ignore[call-overload]
    old = [path(n)] if evening["old"] else []
    roll = Roll(old, clock, 0.0)
    truth: dict[str, Shot] = {}
    taken: dict[str, Shot] = {}
    told: list[CardEntry] = []
    all_files: list[CardEntry] = []
    for seq, fate in enumerate(evening["fates"], 1):  # type: ignore[arg-type]
        at = seq * interval_s
        for entry in told:
            shot = roll.added(entry)
            if shot is not None:
                taken[entry.path] = shot
        told = []
        shot = roll.released(order(seq, shutter_s, rate), at)
        if fate != "unwritten" or unwritten_counts:
            n = n % 9999 + 1
        if fate == "unwritten":
            continue
        stamp = at * rate + (shutter_s if evening["stamps_end"] else 0.0)
        folder = FOLDER if n >= int(evening["first"]) else FOLDER.replace("100", "101")  # type: ignore[call-overload]
        name = f"{folder}/DUSK{n:04d}.JPG"
        entry = CardEntry(name, float(int(clock + stamp)), at + shutter_s / rate + 0.1)
        truth[name] = shot
        all_files.append(entry)
        told = {"once": [entry], "twice": [entry, entry], "untold": []}[fate]
    for entry in told:
        shot = roll.added(entry)
        if shot is not None:
            taken[entry.path] = shot
    assert all(truth[name] is shot for name, shot in taken.items())
    later = (len(evening["fates"]) + 5) * interval_s  # type: ignore[arg-type]
    roll.found([CardEntry(e.path, e.mtime_s, later) for e in all_files])
    assert {name: shot.files for name, shot in truth.items()} == {name: [name] for name in truth}
    assert len(roll.pending) == len(evening["fates"]) - len(truth)  # type: ignore[arg-type]
