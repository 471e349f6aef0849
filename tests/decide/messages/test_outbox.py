"""How often people are told, and in which order."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import example, given
from hypothesis import strategies as st

from controller.decide.messages.outbox import Message, Outbox, Parcel

# docs/watching.md, "Messages"
AN_HOUR_S, KEPT_BACK, AS_ONE, WAIT_AT_MOST = 3600.0, 2, 3, 100


def raised(key: str = "battery", utc: float = 0.0, **facts: object) -> Message:
    return Message("raised", key, f"{key} is low", utc, **facts)


def cleared(key: str = "battery", utc: float = 0.0) -> Message:
    return Message("cleared", key, f"{key} is well", utc)


def at(utc: float) -> str:
    return f"at {utc:.0f}"


def send(box: Outbox, mono: float) -> tuple[Outbox, Parcel | None]:
    parcel = box.next(mono, at)
    return (box, None) if parcel is None else (box.sending(parcel).sent(parcel, mono), parcel)


def through(box: Outbox, *messages: Message) -> Outbox:
    for message in messages:
        box = box.put(message)
    return box


def test_a_finding_is_told_when_it_is_raised_and_when_it_is_over():
    box, parcel = send(Outbox().put(raised()), 0.0)
    assert parcel is not None
    assert (parcel.title, parcel.body) == ("battery", "battery is low\nat 0")
    box, parcel = send(box.put(cleared(utc=60.0)), 60.0)
    assert parcel is not None
    assert parcel.title == "over: battery"
    assert (box.waiting, box.told) == ((), frozenset())


def test_what_is_known_is_not_told_again():
    box, _ = send(Outbox().put(raised()), 0.0)
    assert box.put(raised(utc=9.0)) == box


def test_nobody_is_told_that_something_is_over_of_which_nobody_was_told():
    assert Outbox().put(cleared()).waiting == ()
    box = through(Outbox(), raised(), cleared())
    assert (box.waiting, box.unsaid) == ((), 1)


def test_what_comes_and_goes_while_it_waits_is_one_message():
    box = through(Outbox(), raised(utc=1.0), raised(utc=2.0), raised(utc=3.0))
    _, parcel = send(box, 0.0)
    assert parcel is not None
    assert parcel.body == "battery is low (3 times)\nat 1"
    _, parcel = send(through(Outbox(), raised(utc=1.0), raised(utc=2.0)), 0.0)
    assert parcel is not None
    assert parcel.body == "battery is low (2 times)\nat 1"


def test_back_before_it_could_be_told_to_be_over():
    box, _ = send(Outbox().put(raised()), 0.0)
    box = through(box, cleared(), raised())
    assert (box.waiting, box.told) == ((), {"battery"})


def test_urgent_ones_come_first_and_have_messages_kept_back_for_them():
    box = through(Outbox(per_hour=3), raised("disk"), raised("camera", urgent=True))
    box, first = send(box, 0.0)
    box, second = send(box, 1.0)
    box, third = send(box.put(raised("battery")), 2.0)
    assert [p and p.title for p in (first, second, third)] == ["now: camera", "disk", None]
    box, fourth = send(box.put(raised("supply", urgent=True)), 3.0)
    assert fourth is not None
    assert fourth.title == "now: supply"
    _, fifth = send(box, 3.0 + AN_HOUR_S)
    assert fifth is not None
    assert fifth.title == "battery"


def test_after_an_outage_all_that_waited_is_one_message():
    box = Outbox()
    for number in range(9):
        box = box.put(raised(f"finding {number}", utc=number))
        parcel = box.next(1e9 if number == 0 else box.not_before_mono, at)
        if parcel is not None:
            box = box.sending(parcel).failed(number * 100.0)
    box, parcel = send(box, 1e6)
    assert parcel is not None
    assert parcel.title == "9 messages"
    assert parcel.body.splitlines()[3] == "at 3: finding 3 is low"
    assert send(box, 2e6) == (box, None)


def test_tries_come_apart_and_never_end():
    box, mono, gaps = Outbox().put(raised()), 0.0, []
    for _ in range(12):
        parcel = box.next(mono, at)
        assert parcel is not None
        box = box.sending(parcel).failed(mono)
        assert box.next(box.not_before_mono - 0.1, at) is None
        gaps.append(box.not_before_mono - mono)
        mono = box.not_before_mono
    assert gaps[:4] == [30, 60, 120, 240]
    assert set(gaps[7:]) == {1800}


def test_what_ends_while_it_is_on_its_way():
    first = Outbox().put(raised())
    parcel = first.next(0.0, at)
    assert parcel is not None
    box = first.sending(parcel).put(cleared(utc=5.0))
    assert [m.kind for m in box.sent(parcel, 1.0).waiting] == ["cleared"]
    failed = box.failed(1.0)
    assert (failed.waiting, failed.unsaid) == ((), 1), "it need not be told any more"
    again = box.put(raised(utc=6.0))
    assert [m.kind for m in again.waiting] == ["raised"]


def test_a_digest_takes_the_place_of_one_that_waits():
    box = through(Outbox(), Message("digest", "digest", "Monday", 0.0, picture="a.jpg"))
    box = box.put(Message("digest", "digest", "Tuesday", 1.0, picture="b.jpg"))
    _, parcel = send(box, 0.0)
    assert parcel is not None
    assert (parcel.title, parcel.picture, parcel.body) == ("the day", "b.jpg", "Tuesday\nat 1")


def test_what_waits_is_bounded_and_urgent_ones_stay():
    box = Outbox().put(raised("camera", urgent=True))
    for number in range(WAIT_AT_MOST + 20):
        box = box.put(raised(f"finding {number}"))
    assert len(box.waiting) == WAIT_AT_MOST
    assert box.waiting[0].key == "camera"
    assert box.dropped == 21
    urgent = through(Outbox(), *(raised(f"camera {n}", urgent=True) for n in range(WAIT_AT_MOST + 1)))
    assert [urgent.waiting[k].key for k in (0, -1)] == ["camera 1", f"camera {WAIT_AT_MOST}"], "the oldest goes"


STORY = st.lists(
    st.tuples(
        st.sampled_from(["raised", "cleared", "digest", "look", "fails"]), st.integers(0, 4), st.integers(0, 2000)
    ),
    max_size=150,
)


@example([*(("raised", n, 0) for n in (0, 1)), ("look", 0, 0), *[("cleared", 0, 0)] * 2, ("look", 0, 0)], 2)
@given(STORY, st.integers(1, 12))
def test_any_story(story: list[tuple[str, int, int]], per_hour: int):
    """Never more than so many an hour, and people's knowledge of a finding alternates."""
    box, mono, sent, known = Outbox(per_hour=per_hour), 0.0, [], dict.fromkeys(map(str, range(5)), False)
    for what, number, after_s in story:
        mono += after_s
        if what in ("raised", "cleared", "digest"):
            key = "digest" if what == "digest" else str(number)
            box = box.put(Message(what, key, "text", mono, urgent=number == 0))
            continue
        parcel = box.next(mono, at)
        if parcel is None:
            continue
        if what == "fails":
            box = box.sending(parcel).failed(mono)
            continue
        box = box.sending(parcel).sent(parcel, mono)
        sent.append(mono)
        for message in sorted(parcel.messages, key=lambda m: m.utc):
            if message.kind != "digest":
                assert known[message.key] is (message.kind == "cleared")
                known[message.key] = message.kind == "raised"
    assert all(sum(a <= b < a + AN_HOUR_S for b in sent) <= per_hour for a in sent)
    assert box.told == {key for key, told in known.items() if told}


BUSY_STORY = st.lists(
    st.tuples(
        st.sampled_from(["raised", "raised", "cleared", "cleared", "digest", "look", "arrives", "fails"]),
        st.integers(0, 3),
        st.integers(0, 2000),
    ),
    max_size=100,
)


@example([("raised", 1, 0), ("look", 0, 0), ("arrives", 0, 0), ("cleared", 1, 0), ("look", 0, 0), ("raised", 1, 0)])
@example([("raised", 1, 0), ("look", 0, 0), ("arrives", 0, 0), ("cleared", 1, 0), ("look", 0, 0), ("fails", 0, 0)])
@example([("raised", 1, 0), ("digest", 0, 0), ("digest", 0, 0)])
@given(BUSY_STORY)
def test_in_the_end_people_know_what_stands(story: list[tuple[str, int, int]]):
    """Whatever comes while something is on its way: once all is told, what they know is what is so."""
    box, mono, on_way, stands, known, digests = Outbox(), 0.0, None, set(), set(), [0, 0]
    quiet = [*[("arrives", 0, 0), ("look", 0, 4000)] * 12, ("arrives", 0, 0)]
    for what, number, after_s in [*story, *quiet]:
        mono += after_s
        if what == "look" and on_way is None:
            on_way = box.next(mono, at)
            box = box if on_way is None else box.sending(on_way)
        elif what == "arrives" and on_way is not None:
            for message in sorted(on_way.messages, key=lambda m: m.utc):
                {"raised": known.add, "cleared": known.discard}.get(message.kind, lambda key: None)(message.key)
                digests[1] = max(digests[1], message.utc) if message.kind == "digest" else digests[1]
            box, on_way = box.sent(on_way, mono), None
        elif what == "fails" and on_way is not None:
            box, on_way = box.failed(mono), None
        elif what in ("raised", "cleared", "digest"):
            key = "digest" if what == "digest" else str(number)
            {"raised": stands.add, "cleared": stands.discard}.get(what, lambda key: None)(key)
            digests[0] = mono if what == "digest" else digests[0]
            box = box.put(Message(what, key, "text", mono, urgent=number == 0))
    assert (box.waiting, box.on_way, on_way) == ((), (), None)
    assert known == stands
    assert digests[1] == digests[0]


def test_two_messages_of_an_hour_are_for_what_is_urgent():
    box, sent = Outbox(per_hour=12), 0
    for number in range(20):
        box, parcel = send(box.put(raised(f"finding {number}")), float(number))
        sent += parcel is not None
    assert sent == 12 - KEPT_BACK
    box, parcel = send(box.put(raised("camera", urgent=True)), 30.0)
    assert parcel is not None


def test_three_that_wait_go_as_one_and_two_do_not():
    box = through(Outbox(), raised("disk"), raised("battery"))
    assert box.next(0.0, at).title == "disk"
    assert box.put(raised("focus")).next(0.0, at).title == f"{AS_ONE} messages"
    box = through(box, raised("camera", urgent=True), raised("supply", urgent=True))
    assert box.next(0.0, at).title == "4 messages, 2 urgent"


def test_after_one_that_arrived_the_next_failure_waits_as_the_first_did():
    box = Outbox().put(raised())
    box = box.sending(box.next(0.0, at)).failed(0.0)
    box = box.sending(box.next(30.0, at)).failed(30.0)
    box, parcel = send(box, 90.0)
    assert parcel is not None
    box = box.put(raised("disk"))
    assert box.sending(box.next(100.0, at)).failed(100.0).not_before_mono == 130.0


def test_a_box_of_another_size_is_the_same_box():
    assert replace(Outbox(), per_hour=1).put(raised()).next(0.0, at) is not None
