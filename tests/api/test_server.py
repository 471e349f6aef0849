import socket

import httpx
import pytest

from api.server import Server
from controller.daemon import Rig
from controller.words.errors import BadInput
from tests.support.serving import serving


async def test_answers_are_not_held_back_for_the_kernel_to_fill_packets(rig: Rig) -> None:
    """RFC 896 (Nagle) with RFC 1122's delayed acknowledgements adds 40 ms to each answer of two segments."""
    async with serving(rig) as (url, server), httpx.AsyncClient() as client:
        await client.get(f"{url}/api/v1/now")
        (connection,) = server.server_state.connections
        accepted = connection.transport.get_extra_info("socket")
        assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)


async def test_a_port_that_is_taken_is_said_before_anything_starts(rig: Rig) -> None:
    async with serving(rig) as (_, server):
        port = server._socket.getsockname()[1]
        with pytest.raises(BadInput, match="--port") as refused:
            Server(rig, "127.0.0.1", port).bind()
        assert refused.value.code == "port-taken"
        assert str(port) in refused.value.where
