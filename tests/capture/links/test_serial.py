from __future__ import annotations

import asyncio
import contextlib
import itertools
import os
import socket
import sys
import threading
import time
from pathlib import Path

import pytest
import serial

from capture.links.serial import _BACKLOG, serial_link
from capture.links.serial_trouble import fault_of

pytestmark = [
    pytest.mark.usefixtures("nothing_left_open"),
    # pyserial 3.5 itself calls Thread.setDaemon and setName in its RFC 2217 client.
    pytest.mark.filterwarnings("ignore:set(Daemon|Name).. is deprecated:DeprecationWarning"),
]


def test_bytes_go_both_ways_and_bear_their_times(plug, hears):
    async def session():
        async with serial_link(str(plug.path))() as link:
            plug.say(b"+1.250\r\n")

            assert await hears(link.chunks(), 8) == b"+1.250\r\n"
            assert link.detail == str(plug.path)

            await link.send(b"?\r")

            assert os.read(plug.gauge, 10) == b"?\r"

    asyncio.run(session())


def test_a_pulled_plug_is_said_and_the_port_opens_again_when_it_is_back(plug, hears):
    async def session():
        opens = serial_link(str(plug.path), baud=19200)
        for _ in range(3):
            async with opens() as link:
                plug.say(b"+1\r")
                await hears(link.chunks(), 3)
                plug.unplug()
                with pytest.raises(OSError, match="lost: unplugged"):
                    await hears(link.chunks(), 1)
                with pytest.raises(OSError, match="lost: unplugged"):
                    await hears(link.chunks(), 1)
            with pytest.raises(OSError, match="no such port"):
                async with opens():
                    pass
            plug.plug()

    asyncio.run(session())


@contextlib.contextmanager
def streaming(plug):
    """The gauge says ``+55.012`` without end, a byte each millisecond, as at 9600 baud."""
    over = threading.Event()

    def stream() -> None:
        for byte in itertools.cycle(b"+55.012\r\n"):
            if over.wait(0.001):
                return
            plug.say(bytes([byte]))

    thread = threading.Thread(target=stream)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


@pytest.mark.parametrize("loop_waits", [True, False])
def test_bytes_that_are_on_their_way_when_a_port_opens_are_told_of(plug, loop_waits, hears, monkeypatch):
    monkeypatch.setattr("capture.links.serial._LOOP_WAITS", loop_waits and sys.platform == "linux")

    async def session():
        opens = serial_link(f"{plug.path}")
        with streaming(plug):
            async with opens() as link:
                assert link.midway
                await hears(link.chunks(), 9)
        plug.unplug()
        plug.plug()
        async with opens() as link:
            plug.say(b"+55.012\r\n")

            assert not link.midway
            assert await hears(link.chunks(), 9) == b"+55.012\r\n"

    asyncio.run(session())


def test_a_link_that_is_listened_to_hands_over_what_it_hears_in_order(plug):
    async def session():
        heard, enough = [], asyncio.Event()

        def push(data, stamp):
            assert stamp <= time.monotonic_ns()
            heard.append(data)
            if sum(map(len, heard)) == 27:
                enough.set()

        async def listen(link):
            link.push = push
            async for data, stamp in link.chunks():
                push(data, stamp)

        async with serial_link(str(plug.path))() as link:
            plug.say(b"+55.012\r\n")
            await asyncio.sleep(0.05)
            plug.say(b"+55.013\r\n")
            listening = asyncio.create_task(listen(link))
            await asyncio.sleep(0.05)
            plug.say(b"+55.014\r\n")
            async with asyncio.timeout(20):
                await enough.wait()

            assert b"".join(heard) == b"+55.012\r\n+55.013\r\n+55.014\r\n"
            plug.unplug()
            with pytest.raises(OSError, match="lost: unplugged"):
                await listening

    asyncio.run(session())


def test_an_error_where_bytes_are_handed_over_is_raised_where_they_are_waited_for(plug):
    def push(data, stamp):
        raise ZeroDivisionError(data)

    async def session():
        async with serial_link(str(plug.path))() as link:
            link.push = push
            plug.say(b"+1\r")
            with pytest.raises(ZeroDivisionError):
                async with asyncio.timeout(20):
                    await anext(link.chunks())

    asyncio.run(session())


class Scripted(serial.SerialBase):
    """A port without a system behind it."""

    in_waiting = 0

    def open(self):
        self.is_open = True

    def close(self):
        self.is_open = False

    def _reconfigure_port(self):
        pass


class TornOut(Scripted):
    """Its plug is pulled right behind the first byte."""

    said = b""

    def read(self, _=1):
        self.said = b"+"
        return self.said

    @property
    def in_waiting(self):
        if self.said:
            raise serial.SerialException("device disconnected")
        return 0


class Chatterbox(Scripted):
    """It always has one byte more."""

    reads = 0

    def read(self, _=1):
        self.reads += 1
        return b"+"


def test_what_was_said_before_the_plug_was_pulled_is_heard(monkeypatch, hears):
    monkeypatch.setattr(serial, "serial_for_url", lambda _, **_settings: TornOut())

    async def session():
        async with serial_link("/dev/ttyGauge")() as link:
            chunks = link.chunks()

            assert await hears(chunks, 1) == b"+"

            with pytest.raises(OSError, match="lost: unplugged"):
                await hears(chunks, 1)

    asyncio.run(session())


def test_nothing_can_be_sent_once_the_plug_is_pulled(plug, hears):
    async def session():
        async with serial_link(str(plug.path))() as link:
            plug.unplug()
            with pytest.raises(OSError, match="lost: unplugged"):
                await hears(link.chunks(), 1)
            with pytest.raises(OSError, match="lost: unplugged"):
                await link.send(b"?")

    asyncio.run(session())


def test_a_port_that_is_open_already_is_busy(plug):
    async def session():
        opens = serial_link(str(plug.path))
        async with opens():
            with pytest.raises(OSError, match="busy: another program"):
                async with opens():
                    pass
        async with opens() as link:
            assert link.detail == str(plug.path)

    asyncio.run(session())


@pytest.mark.parametrize(
    ("spec", "sentence"),
    [
        ("/dev/no-such-port", "no such port"),
        ("usb:FFFF:FFFE:none", "not plugged in; there is"),
        ("usb:quux", "no USB identity"),
        ("nonsense://here", "nonsense"),
        ("socket://127.0.0.1", "127.0.0.1"),
        ("socket://127.0.0.1:99999", "99999"),
        ("rfc2217://127.0.0.1:1", "nothing listens there"),
        ("/dev/null", "no serial port"),
    ],
)
def test_a_port_that_cannot_be_opened_says_which_and_why(spec, sentence):
    async def session():
        with pytest.raises(OSError, match=sentence) as caught:
            async with serial_link(spec)():
                pass

        assert spec in str(caught.value)
        assert "Errno" not in str(caught.value)

    asyncio.run(session())


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("could not open port 'COM3': FileNotFoundError(2, 'Das System kann …', None, 2)", "no such port"),
        ("could not open port 'COM3': PermissionError(13, 'Zugriff verweigert', None, 5)", "busy"),
        ("ClearCommError failed (PermissionError(13, '…', None, 22))", "unplugged"),
        ("GetOverlappedResult failed (OSError(22, '…', None, 433))", "unplugged"),
        ("Cannot configure port, something went wrong. Original message: …", "can't do these settings"),
    ],
)
def test_what_pyserial_says_on_windows_is_understood_in_any_language(words, sentence):
    """The wording is that of pyserial 3.5, serialwin32.py, with the system's own message inside."""
    assert sentence in str(fault_of("COM3", serial.SerialException(words)))


@pytest.mark.parametrize("options", [{"bytesize": 9}, {"parity": "X"}, {"baud": -1}, {"stopbits": 7}])
def test_settings_that_no_port_has_are_said(plug, options):
    async def session():
        with pytest.raises(OSError, match="ttyGauge"):
            async with serial_link(str(plug.path), **options)():
                pass

    asyncio.run(session())


def test_settings_that_a_port_refuses_are_said(plug):
    """A pseudo-terminal refuses 7 bits at the second opening, with an error that is no OSError."""

    async def session():
        seven_even = serial_link(str(plug.path), bytesize=7, parity="E")
        async with seven_even():
            pass
        with pytest.raises(OSError, match="can't do these settings"):
            async with seven_even():
                pass

    asyncio.run(session())


def test_a_port_that_others_own_says_what_to_do(plug):
    """As root everything is permitted, so the refusal is then provoked in a child without root."""
    device = Path(os.path.realpath(plug.path))
    device.chmod(0)
    child = os.fork() if os.geteuid() == 0 else None
    if child == 0:
        with contextlib.suppress(BaseException):
            os.setuid(65534)
            os._exit(0 if _refused(str(device)) else 1)
        os._exit(2)
    if child is not None:
        _, status = os.waitpid(child, 0)

        assert os.waitstatus_to_exitcode(status) == 0
    else:
        assert _refused(str(device))


def _refused(path: str) -> bool:
    async def session():
        async with serial_link(path)():
            pass

    try:
        asyncio.run(session())
    except OSError as error:
        return "not permitted" in str(error) and "dialout" in str(error)
    return False


def test_a_cancelled_reader_closes_its_port(plug, hears):
    async def session():
        listening = asyncio.Event()

        async def listen():
            async with serial_link(str(plug.path))() as link:
                listening.set()
                await hears(link.chunks(), 1)

        task = asyncio.create_task(listen())
        await listening.wait()
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        async with serial_link(str(plug.path))():  # would be busy if it were still open
            pass

    asyncio.run(session())


@pytest.fixture
def mute(nothing_left_open):
    """The address of a server that accepts and says nothing: RFC 2217 is then negotiated for seconds."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield f"rfc2217://127.0.0.1:{server.getsockname()[1]}"
        while any(thread.name.startswith("port ") for thread in threading.enumerate()):
            time.sleep(0.01)


def test_cancelled_while_opening_leaves_nothing_behind(mute):
    async def session():
        task = asyncio.create_task(serial_link(mute)().__aenter__())
        await asyncio.sleep(0.05)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    asyncio.run(session())


def test_a_server_that_speaks_no_rfc2217_is_named(mute):
    async def session():
        with pytest.raises(OSError, match="socket:// was due"):
            async with serial_link(mute)():
                pass

    asyncio.run(session())


def test_a_socket_carries_serial_and_its_end_is_a_lost_link(hears):
    async def session():
        writers, joined = [], asyncio.Semaphore(0)

        def join(_, writer):
            writers.append(writer)
            joined.release()

        server = await asyncio.start_server(join, "127.0.0.1", 0)
        opens = serial_link(f"socket://127.0.0.1:{server.sockets[0].getsockname()[1]}")
        for _ in range(2):
            async with opens() as link:
                chunks = link.chunks()
                await joined.acquire()
                writers[-1].write(b"+1.000\r\n" * 50)

                assert await hears(chunks, 400) == b"+1.000\r\n" * 50

                writers[-1].close()
                with pytest.raises(OSError, match="connection was lost"):
                    await hears(chunks, 1)
        server.close()
        with pytest.raises(OSError, match="nothing listens there"):
            async with opens():
                pass

    asyncio.run(session())


def test_a_device_server_gets_the_settings_and_carries_every_byte(plug, device_server, hears):
    async def session():
        opens = serial_link(device_server.url, baud=4800, stopbits=2)
        async with opens() as link:
            assert (device_server.port.baudrate, device_server.port.stopbits) == (4800, 2)

            plug.say(bytes(range(256)))

            assert await hears(link.chunks(), 256) == bytes(range(256))

            await link.send(b"?\xff\r")
            got = b""
            while len(got) < 3:
                got += await asyncio.to_thread(os.read, plug.gauge, 10)

            assert got == b"?\xff\r"

            device_server.drop()
            with pytest.raises(OSError, match="connection was lost"):
                await hears(link.chunks(), 1)

    asyncio.run(session())


@pytest.mark.parametrize("how", ["spy://{}?file={}", "loop://"])
def test_an_address_that_another_handler_of_pyserial_would_open_is_refused_and_writes_nothing(
    plug, tmp_path, how
):
    victim = tmp_path / "victim"
    victim.write_text("mine")

    async def session():
        async with serial_link(how.format(plug.path, victim))():
            pass

    with pytest.raises(OSError, match="is no address of a port"):
        asyncio.run(session())
    assert victim.read_text() == "mine"


def test_a_program_that_does_not_keep_up_makes_the_instrument_wait(monkeypatch, hears):
    """Memory stays bounded: what isn't taken stays with the system, and with the instrument."""
    port = Chatterbox()
    monkeypatch.setattr(serial, "serial_for_url", lambda _, **_settings: port)

    async def session():
        async with serial_link("/dev/ttyGauge")() as link:
            while port.reads <= _BACKLOG:  # noqa: ASYNC110 - it is the reader's thread that counts
                await asyncio.sleep(0.01)
            await asyncio.sleep(0.3)

            assert port.reads == _BACKLOG + 1

            await hears(link.chunks(), 2 * _BACKLOG)

            assert port.reads > 2 * _BACKLOG

    asyncio.run(session())
