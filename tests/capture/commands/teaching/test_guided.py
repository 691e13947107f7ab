"""A lesson for another program ends when that program is no longer there."""

from __future__ import annotations

import asyncio
import json
import time
from contextlib import asynccontextmanager

import pytest

from capture.commands.teaching import guided
from capture.teaching.guide import Guide


class Deaf:
    """A link on which nothing comes."""

    detail = "a gauge that says nothing"

    async def chunks(self):
        await asyncio.sleep(3600)
        yield b"", 0

    async def send(self, _data):
        raise OSError("deaf")


@asynccontextmanager
async def deaf():
    yield Deaf()


@pytest.fixture
def said(capsysbinary):
    """What is said on standard output."""
    return lambda: [json.loads(line) for line in capsysbinary.readouterr().out.splitlines()]


def test_when_nobody_is_there_any_more_it_ends(said, monkeypatch):
    class Silent:
        def readline(self, _most):
            time.sleep(2)  # longer than who teaches may stay away
            return ""

    monkeypatch.setattr("sys.stdin", Silent())
    status = asyncio.run(guided.guided(lambda _: deaf, Guide(), away=0.3))

    assert status == 0
    assert said()[-1] == {"kind": "ended", "why": "nobody has been there for 0 s"}


def test_a_lesson_takes_no_longer_than_it_may(said, monkeypatch):
    class Patient:
        def readline(self, _most):
            time.sleep(0.05)
            return '{"do":"here"}\n'

    monkeypatch.setattr("sys.stdin", Patient())
    monkeypatch.setattr(guided, "LONGEST", 0.5)
    asyncio.run(guided.guided(lambda _: deaf, Guide()))

    assert "a lesson may take" in said()[-1]["why"]


def test_the_same_nonsense_twice_is_answered_twice(said, monkeypatch):
    lines = iter(['{"do":"sing"}\n', '{"do":"sing"}\n', ""])

    class Stubborn:
        def readline(self, _most):
            return next(lines)

    monkeypatch.setattr("sys.stdin", Stubborn())
    asyncio.run(guided.guided(lambda _: deaf, Guide()))

    answers = [one["why"] for one in said() if one["kind"] == "answered"]
    assert len(answers) == 2
    assert all("not understood" in why for why in answers)
