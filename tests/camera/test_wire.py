"""Messages survive the wire in any pieces; what is no message is refused."""

from __future__ import annotations

import struct
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.camera.messages import Command, Gone, Hello, Preview, Report
from controller.camera.wire import Decoder, Message, WireError, encode

st.register_type_strategy(float, st.floats(allow_nan=False, allow_infinity=False))
KINDS = [kind for kind in (*get_args(Command), *get_args(Report), Hello) if kind is not Gone]
messages = st.one_of([st.builds(kind) for kind in KINDS])


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_kind_comes_back_as_it_went(kind: type[Message]) -> None:
    @given(st.builds(kind))
    def holds(message: Message) -> None:
        assert list(Decoder().feed(encode(message))) == [message]

    holds()


@given(st.lists(messages, max_size=6), st.data())
def test_pieces_of_any_size(sent: list[Message], data: st.DataObject) -> None:
    stream = b"".join(map(encode, sent))
    decoder, heard = Decoder(), []
    while stream:
        size = data.draw(st.integers(1, len(stream)))
        heard += decoder.feed(stream[:size])
        stream = stream[size:]
    assert heard == sent


def test_a_picture_travels_as_it_is() -> None:
    jpeg = bytes(range(256)) * 4000
    data = encode(Preview(7, jpeg))
    assert list(Decoder().feed(data)) == [Preview(7, jpeg)]
    assert len(data) < len(jpeg) + 100


def framed(header: bytes) -> bytes:
    return struct.pack("<II", len(header), 0) + header


@pytest.mark.parametrize(
    "data",
    [
        framed(b"no json"),
        framed(b"[1]"),
        framed(b'{"seq": 1}'),
        framed(b'{"kind": "Stranger"}'),
        framed(b'{"kind": "Cancel"}'),
        framed(b'{"kind": "Cancel", "seq": 1, "more": 2}'),
        framed(b'{"kind": "Files", "request": 1, "files": [1]}'),
        struct.pack("<II", 1 << 31, 0),
    ],
)
def test_what_is_no_message_is_refused(data: bytes) -> None:
    with pytest.raises(WireError):
        list(Decoder().feed(data))
