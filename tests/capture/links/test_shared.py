from __future__ import annotations

import asyncio
import math
from contextlib import asynccontextmanager

import pytest

from capture.links.playback import AwaitQuestion, playback
from capture.links.serial import serial_link
from capture.links.shared import shared

pytestmark = pytest.mark.usefixtures("nothing_left_open")


def test_all_hear_all_bytes_of_one_port(plug, hears):
    async def session():
        opens = shared(serial_link(str(plug.path)))
        async with opens() as one, opens() as other:
            plug.say(b"1:+1.250\r")

            assert await hears(one.chunks(), 9) == await hears(other.chunks(), 9) == b"1:+1.250\r"
            assert one.detail == str(plug.path)

    asyncio.run(session())


def test_the_port_stays_open_until_the_last_has_left_and_opens_again(plug, hears):
    async def session():
        opens = shared(serial_link(str(plug.path)))
        for _ in range(2):
            async with opens() as one:
                async with opens():
                    pass
                plug.say(b"+1\r")

                assert await hears(one.chunks(), 3) == b"+1\r"
            async with serial_link(str(plug.path))():  # would be busy if it were still open
                pass

    asyncio.run(session())


def test_who_comes_late_may_hear_the_rest_of_a_line(plug, hears):
    async def session():
        opens = shared(serial_link(str(plug.path)))
        async with opens() as one, opens() as other:
            plug.say(b"+1.2")
            await hears(one.chunks(), 4)
            async with opens() as late:
                assert (one.midway, other.midway, late.midway) == (False, False, True)

    asyncio.run(session())


def test_a_port_that_cannot_be_opened_refuses_all(hears):
    async def session():
        opens = shared(playback([OSError("busy")], [OSError("busy")], [b"+1\r", math.inf]))
        for _ in range(2):
            with pytest.raises(OSError, match="busy"):
                async with opens():
                    pass
        async with opens() as link:
            assert await hears(link.chunks(), 3) == b"+1\r"

    asyncio.run(session())


def test_a_lost_link_is_lost_for_all_and_comes_back_for_all(hears):
    async def session():
        opens = shared(
            playback([AwaitQuestion(b"?"), OSError("unplugged")], [AwaitQuestion(b"?"), b"+1\r", math.inf])
        )
        async with opens() as one, opens() as other:
            await one.send(b"?")
            for link in (one, other):
                with pytest.raises(OSError, match="unplugged"):
                    await hears(link.chunks(), 1)
            async with opens() as again, opens() as too:  # while the others are still about to leave
                await too.send(b"?")

                assert await hears(again.chunks(), 3) == await hears(too.chunks(), 3) == b"+1\r"

    asyncio.run(session())


def test_one_who_gives_up_while_the_port_opens_takes_nobody_with_him():
    async def session():
        ready = asyncio.Event()

        @asynccontextmanager
        async def slow():
            await ready.wait()
            async with playback([math.inf], detail="slow port")() as link:
                yield link

        opens = shared(slow)
        impatient = asyncio.create_task(opens().__aenter__())
        patient = opens()
        waiting = asyncio.create_task(patient.__aenter__())
        await asyncio.sleep(0)
        impatient.cancel()
        with pytest.raises(asyncio.CancelledError):
            await impatient
        ready.set()

        assert (await waiting).detail == "slow port"

        await patient.__aexit__(None, None, None)

    asyncio.run(session())
