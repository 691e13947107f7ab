from __future__ import annotations

import asyncio
import math

import pytest

from capture.links.playback import AwaitQuestion, playback


async def _all(link):
    return [data async for data, _ in link.chunks()]


def test_a_script_is_played_in_order_and_its_end_closes_the_link(hears):
    async def session():
        async with playback([b"+1.250\r\n", 0.01, b"+1.251\r\n"])() as link:
            assert await _all(link) == [b"+1.250\r\n", b"+1.251\r\n"]

    asyncio.run(session())


def test_each_opening_plays_the_next_script():
    async def session():
        opens = playback([b"first"], [OSError("busy")], [b"second", OSError("unplugged")])
        async with opens() as link:
            assert await _all(link) == [b"first"]
        with pytest.raises(OSError, match="busy"):
            async with opens():
                pass
        async with opens() as link:
            chunks = link.chunks()

            assert (await anext(chunks))[0] == b"second"

            with pytest.raises(OSError, match="unplugged"):
                await anext(chunks)
        with pytest.raises(OSError, match="come to its end"):
            async with opens():
                pass

    asyncio.run(session())


def test_an_endless_pause_holds_the_link_open_until_it_is_cancelled():
    async def session():
        async with playback([math.inf])() as link:
            with pytest.raises(TimeoutError):
                async with asyncio.timeout(0.01):
                    await _all(link)

    asyncio.run(session())


def test_an_answer_comes_after_the_question():
    async def session():
        async with playback([AwaitQuestion(b"?\r"), b"+1.250\r"])() as link:
            answer = asyncio.create_task(_all(link))
            await link.send(b"?")
            await asyncio.sleep(0)

            assert not answer.done()

            await link.send(b"\r")

            assert await answer == [b"+1.250\r"]

    asyncio.run(session())


def test_a_question_that_is_not_in_the_script_is_named():
    async def session():
        async with playback([AwaitQuestion(b"?\r"), b"+1.250\r"])() as link:
            await link.send(b"!")
            with pytest.raises(OSError, match=r"b'!' was sent, b'\?\\r' was due"):
                await _all(link)

    asyncio.run(session())
