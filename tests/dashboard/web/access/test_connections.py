"""Connections that ask for nothing: bounded in number and time, and none keeps the owner out."""

from __future__ import annotations

import asyncio
import socket
from contextlib import asynccontextmanager, nullcontext

import pytest
import uvicorn

from dashboard.web.access import connections
from dashboard.web.access.connections import BACKLOG, bounded, is_here


async def app(scope, receive, send):
    if scope["type"] == "http":
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
        if scope["path"] == "/slow":
            await asyncio.sleep(3600)
        await send({"type": "http.response.body", "body": b"ok"})


@asynccontextmanager
async def serving():
    """A server on a free port of this machine."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.bind(("127.0.0.1", 0))
    config = uvicorn.Config(app, log_level="warning", http=bounded(), backlog=BACKLOG, lifespan="off")
    config.timeout_graceful_shutdown = 0
    server = uvicorn.Server(config)
    server.capture_signals = nullcontext  # the signals stay those of pytest
    running = asyncio.create_task(server.serve([listening]))
    while not server.started:  # noqa: ASYNC110 - uvicorn has no event for it
        await asyncio.sleep(0.01)
    try:
        yield listening.getsockname()[1]
    finally:
        server.should_exit = True
        await running


async def asked(port: int, path: str = "/", size: int = -1) -> bytes:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(f"GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n".encode())
    try:
        return await reader.read(size)
    finally:
        writer.close()


def test_three_hundred_silent_connections_keep_nobody_out(capfd):
    async def session():
        async with serving() as port:
            silent = [await asyncio.open_connection("127.0.0.1", port) for _ in range(300)]
            answer = await asked(port)
            ended = [reader for reader, _ in silent if reader.at_eof() or reader.exception()]
            for _, writer in silent:
                writer.close()
            return answer, len(ended)

    answer, ended = asyncio.run(session())

    assert answer.endswith(b"ok")
    assert ended >= 300 - connections.MOST_HERE
    assert capfd.readouterr().err.count("too many connections") == 1


@pytest.mark.parametrize("said", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: x\r\nX: "])
def test_a_head_that_never_ends_is_given_up(said, monkeypatch):
    monkeypatch.setattr(connections, "PATIENCE", 0.05)

    async def session():
        async with serving() as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(said)
            try:
                return await reader.read()
            except ConnectionResetError:
                return b""
            finally:
                writer.close()

    assert asyncio.run(session()) == b""


def test_who_waits_for_an_answer_is_not_closed_for_those_who_ask_for_nothing(monkeypatch):
    monkeypatch.setattr(connections, "MOST_HERE", 4)

    async def session():
        async with serving() as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(b"GET /slow HTTP/1.1\r\nHost: x\r\n\r\n")
            await reader.readuntil(b"\r\n\r\n")
            silent = [await asyncio.open_connection("127.0.0.1", port) for _ in range(20)]
            answer = await asked(port)
            for _, one in silent:
                one.close()
            lost = reader.at_eof()
            writer.close()
            return answer, lost

    answer, lost = asyncio.run(session())

    assert answer.endswith(b"ok")
    assert not lost


class Quiet:
    """A connection that asks for nothing, or waits for an answer; written down when it is closed."""

    def __init__(self, *, busy: bool = False) -> None:
        self.busy, self.closed = busy, False
        self.transport = self

    def abort(self) -> None:
        self.closed = True


def test_other_machines_never_take_the_places_of_this_one():
    register = connections.ConnectionRegister()
    others = [Quiet() for _ in range(1000)]
    for n, one in enumerate(others):
        register.add(one, f"192.0.2.{n % 250}")
    own = [Quiet(busy=True) for _ in range(connections.MOST_HERE)]
    for one in own:
        register.add(one, "127.0.0.1")

    assert not any(one.closed for one in own)
    assert sum(not one.closed for one in others) == connections.MOST_OTHERS


def test_one_address_takes_no_more_than_its_share():
    register = connections.ConnectionRegister()
    crowd = [Quiet(busy=n % 2 == 0) for n in range(200)]
    for one in crowd:
        register.add(one, "192.0.2.1")

    assert sum(not one.closed for one in crowd) == connections.MOST_EACH


@pytest.mark.parametrize(("address", "here"), [("127.0.0.1", True), ("::1", True), ("192.0.2.1", False)])
def test_what_is_this_machine(address, here):
    assert is_here(address) is here


RUBBISH = {
    "a head of fields without end": (b"GET / HTTP/1.1\r\nHost: x\r\n", b"X-a: bcdefg\r\n" * 5000),
    "a field without end": (b"GET / HTTP/1.1\r\nHost: x\r\nX: ", b"x" * 65536),
    "an address without end": (b"GET /", b"x" * 65536),
    "requests that wait for no answer": (
        b"GET /slow HTTP/1.1\r\nHost: x\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: x\r\n\r\n" * 2000,
    ),
}


@pytest.mark.parametrize("kind", RUBBISH)
def test_what_has_no_end_is_cut_off_long_before_the_time_is_over(kind, monkeypatch):
    monkeypatch.setattr(connections, "PATIENCE", 3600.0)
    begin, more = RUBBISH[kind]

    async def session():
        async with serving() as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(begin)
            try:
                for _ in range(1000):  # 65 MB
                    writer.write(more)
                    await writer.drain()
                    if reader.at_eof():
                        return "cut off"
            except ConnectionError:
                return "cut off"
            finally:
                writer.close()
            return "all was taken"

    assert asyncio.run(session()) == "cut off"


def test_a_large_head_of_a_browser_is_answered_and_so_are_a_few_requests_at_once():
    async def session():
        async with serving() as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            field = b"X: " + b"y" * 30_000 + b"\r\n"
            writer.write(b"GET / HTTP/1.1\r\nHost: x\r\n" + field + b"\r\n")
            writer.write(
                b"GET / HTTP/1.1\r\nHost: x\r\n\r\n" * 3
                + b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
            )
            answer = await reader.read()
            writer.close()
            return answer.count(b"200 OK")

    assert asyncio.run(session()) == 5
