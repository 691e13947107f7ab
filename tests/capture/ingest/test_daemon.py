"""The daemon: every instrument heard, no matter what the others, the disk or people do."""

from __future__ import annotations

import asyncio
import errno
import os
import signal
import threading
import time
from contextlib import asynccontextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Dialect
from capture.events import Battery, Beat, Down, Event, Flag, Garbled, Instant, Note, Reading, Up
from capture.host.clock import Clock
from capture.ingest.daemon import capture
from capture.ingest.gauge_reader import Instrument
from capture.ingest.sequencer import DecisionEngine
from capture.ingest.writer_thread import NotWritten
from capture.links.inbox.client import say
from capture.links.inbox.server import AlreadyRunning
from capture.links.serial import serial_link
from capture.recording.opening import create, resume
from capture.recording.reader import follow, read
from capture.recording.repair import check
from capture.state.words.commands import CommandRejected

JOB = {"job": {"name": "Jig-borer spindle sleeve"}}


def hear_line(raw: str):
    try:
        return Reading(float(raw), "mm", 3, raw)
    except ValueError:
        return Garbled("no number", raw)


LINES = Dialect("lines", lambda data: data.find(b"\n") + 1, hear_line, 64)


def step(state: Any, event: Event):
    return (*state, event)


def settled(state: Any, at: Instant):
    """Remarks on every reading above 56."""
    newest = state[-1].fact
    if not isinstance(newest, Reading) or newest.value < 56:
        return state, []
    own = Event(state[-1].seq + 1, at, "desk", Note("large"))
    return step(state, own), [own]


def mark(words: Any, state: Any):
    if words[0] != "note":
        raise CommandRejected(f"came {words[0]!r}, due note")
    return Note(" ".join(words[1:]))


PROGRAM = DecisionEngine((), step, settled, mark, lambda fact: f"noted {fact.text}")


class ScriptedLink:
    """A link that says what a script says: bytes, a pause in seconds, an error, or silence at the end."""

    detail = "a script"

    def __init__(self, script: Any) -> None:
        self.script = iter(script)
        self.sent = []

    async def chunks(self):
        for part in self.script:
            if isinstance(part, OSError):
                raise part
            if isinstance(part, float):
                await asyncio.sleep(part)
            elif part is None:
                return
            else:
                yield part, time.monotonic_ns()
        await asyncio.sleep(3600)

    async def send(self, data: Any):
        self.sent.append(data)
        if isinstance(data, OSError):
            raise data


def scripted(*scripts: Any):
    """Each opening takes the next script; an OSError in its place fails to open."""
    left = list(scripts)

    @asynccontextmanager
    async def opening():
        script = left.pop(0) if len(left) > 1 else left[0]
        if isinstance(script, OSError):
            raise script
        yield ScriptedLink(script)

    return opening


class Session:
    """A capture in the test's own loop, looked at through its recording."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
        self.folder = folder
        self.path = folder / "session.jsonl"
        self.troubles = []
        self.inbox = None
        self.ready = None
        self.stop = None

    async def run(
        self, instruments: Any, work: Any, *, desk: Any = PROGRAM, go_on: bool = False, **options: Any
    ):
        clock = Clock.start()
        if go_on:
            recorder, clock = resume(self.path, JOB, clock)
        else:
            recorder = create(self.path, JOB, clock)
        self.stop, self.ready = asyncio.Event(), asyncio.Event()

        def on_ready(path: Path, inbox: Path):
            assert path == self.path
            self.inbox = inbox
            self.ready.set()

        async with asyncio.TaskGroup() as group:
            running = group.create_task(
                capture(
                    instruments,
                    recorder,
                    clock,
                    desk,
                    folder=self.folder,
                    on_ready=on_ready,
                    on_trouble=self.troubles.append,
                    stop=self.stop,
                    signals=False,
                    **options,
                )
            )
            try:
                await self.ready.wait()
                await work(self)
            finally:
                self.stop.set()
                await asyncio.wait([running])
        assert len(asyncio.all_tasks()) == 1, "a task was left running"
        return list(read(self.path))

    async def until(self, seen: Any):
        """Waits until the recording says so."""
        follower = follow(self.path)
        events = []
        try:
            async with asyncio.timeout(20):
                while not seen(events):
                    events += follower.poll()
                    await asyncio.sleep(0.01)
        finally:
            follower.close()

    async def say(self, *words: Any):
        return await asyncio.to_thread(say, list(words), inbox=self.inbox)


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    return Session(tmp_path, monkeypatch)


def of(events: Any, kind: str, source: Any = None):
    return [e.fact for e in events if isinstance(e.fact, kind) and source in {None, e.source}]


def test_what_an_instrument_says_is_recorded_with_the_desk_s_word_beside_it(session: Session) -> None:
    async def work(session: Session) -> None:
        await session.until(lambda events: len(of(events, Reading)) == 2)

    mike = Instrument("mike", scripted([b"55.0", b"01\r\n57.5\r\nx\r\n"]), LINES)
    events = asyncio.run(session.run([mike], work))

    kinds = [(e.source, type(e.fact).__name__) for e in events if e.source != "daemon"]
    assert kinds == [
        ("mike", "Up"),
        ("mike", "Reading"),
        ("mike", "Reading"),
        ("desk", "Note"),
        ("mike", "Garbled"),
        ("mike", "Down"),
    ]
    assert of(events, Reading)[0] == Reading(55.001, "mm", 3, "55.001\r\n")
    assert of(events, Down) == [Down("the capture was stopped")]
    assert check(session.path) == []
    assert session.troubles == []


def test_one_lost_link_silences_no_other(session: Session) -> None:
    async def work(session: Session) -> None:
        await session.until(lambda events: len(of(events, Reading, "good")) >= 15)

    instruments = [
        Instrument("missing", scripted(OSError(errno.ENOENT, "there is no such port: plug it in")), LINES),
        Instrument("lost", scripted([b"1.0\n2.", OSError("unplugged")], [b"3.0\n"]), LINES),
        Instrument("closing", scripted([b"5.0\n", None]), LINES),
        Instrument("good", scripted([part for n in range(99) for part in (b"55.0\n", 0.05)]), LINES),
    ]
    events = asyncio.run(session.run(instruments, work))

    assert of(events, Down, "missing") == [Down("there is no such port: plug it in")]
    assert [type(fact).__name__ for fact in of(events, object, "lost")] == (
        ["Up", "Reading", "Garbled", "Down", "Up", "Reading", "Down"]
    )
    assert of(events, Garbled, "lost") == [Garbled("the link closed in the middle of a piece", "2.")]
    assert of(events, Down, "lost")[0] == Down("unplugged")
    assert Down("the instrument closed the link") in of(events, Down, "closing")
    assert len(of(events, Up, "closing")) >= 2


def test_a_person_s_word_is_answered_when_it_is_on_disk(session: Session) -> None:
    async def work(session: Session) -> None:
        reply = await session.say("note", "chatter", "at", "80")
        assert (reply.ok, reply.said) == (True, "noted chatter at 80")
        noted = [e for e in read(session.path) if e.source == "person"]
        assert [(e.seq, e.fact) for e in noted] == [(reply.seq, Note("chatter at 80"))]
        assert (await session.say("sing")).refused == "came 'sing', due note"

    asyncio.run(session.run([], work))


def test_a_word_is_not_answered_before_the_disk_has_it(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def work(session: Session) -> None:
        sync, held = os.fdatasync, threading.Event()
        monkeypatch.setattr(os, "fdatasync", lambda file: (held.wait(20), sync(file)))
        saying = asyncio.create_task(session.say("note", "now"))
        done, _ = await asyncio.wait([saying], timeout=0.3)
        assert not done
        held.set()
        assert (await saying).ok

    asyncio.run(session.run([], work))


def test_readings_go_on_while_the_disk_is_busy_and_go_out_together(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Up))
        sync, held, writes = os.fdatasync, threading.Event(), []
        monkeypatch.setattr(os, "fdatasync", lambda file: (writes.append(file), held.wait(20), sync(file)))
        await asyncio.sleep(0.6)
        written = len(writes)
        held.set()
        monkeypatch.undo()
        assert written == 1
        await session.until(lambda events: len(of(events, Reading)) >= 20)

    mike = Instrument("mike", scripted([part for n in range(999) for part in (b"55.0\n", 0.01)]), LINES)
    events = asyncio.run(session.run([mike], work))

    stamps = [e.at.mono for e in events if isinstance(e.fact, Reading)]
    assert max(b - a for a, b in pairwise(stamps)) < 0.5e9


def test_a_beat_comes_every_second(session: Session) -> None:
    async def work(session: Session) -> None:
        await session.until(lambda events: len(of(events, Beat)) == 2)

    events = asyncio.run(session.run([], work))
    first, second = [e.at.mono for e in events if isinstance(e.fact, Beat)][:2]

    assert second - first > 0.9e9


class FullDisk:
    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        write = os.write
        self.full = False

        def limited(file: int, data: Any):
            if self.full:
                raise OSError(errno.ENOSPC, "No space left on device")
            return write(file, data)

        monkeypatch.setattr(os, "write", limited)


def test_a_full_disk_is_said_at_once_and_nothing_is_lost_when_it_is_back(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = FullDisk(monkeypatch)

    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Reading))
        disk.full = True
        async with asyncio.timeout(10):
            while not session.troubles:  # noqa: ASYNC110 - a callback tells, not an event
                await asyncio.sleep(0.01)
        assert "say it again when the disk is back" in (await session.say("note", "x")).refused
        await asyncio.sleep(1.0)
        disk.full = False
        await session.until(lambda events: of(events, Flag, "daemon"))
        assert (await session.say("note", "y")).ok

    script = [part for n in range(999) for part in (f"{n / 1000:.3f}\n".encode(), 0.02)]
    events = asyncio.run(session.run([Instrument("mike", scripted(script), LINES)], work))

    assert "not on disk: " in session.troubles[0]
    assert "No space left on device" in session.troubles[0]
    assert session.troubles[-1] == ""
    values = [fact.value for fact in of(events, Reading)]
    assert values == [n / 1000 for n in range(len(values))]
    flag = of(events, Flag, "daemon")[0]
    assert flag.what == "disk"
    assert flag.figures["lost"] == 0
    assert flag.figures["late"] > 0
    assert check(session.path) == []


def test_memory_is_bounded_and_what_is_lost_is_counted(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = FullDisk(monkeypatch)

    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Reading))
        disk.full = True
        await asyncio.sleep(3.0)
        disk.full = False
        await session.until(lambda events: of(events, Flag, "daemon"))

    script = [part for n in range(999) for part in (b"55.0\n" * 10, 0.02)]
    events = asyncio.run(session.run([Instrument("mike", scripted(script), LINES)], work, bound=30_000))

    figures = of(events, Flag, "daemon")[0].figures
    assert figures["lost"] > 0
    assert figures["late"] < 30_000 / 100, "no line has less than 100 bytes, so no more can have been kept"
    assert any("more are lost, memory is full" in trouble for trouble in session.troubles)
    assert check(session.path) == []


def test_stopping_with_a_dead_disk_says_how_much_is_lost(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = FullDisk(monkeypatch)
    monkeypatch.setattr("capture.ingest.writer_thread._LAST_TRIES", 0.5)

    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Reading))
        disk.full = True
        await asyncio.sleep(0.2)

    script = [part for n in range(999) for part in (b"55.0\n", 0.02)]
    with pytest.raises(ExceptionGroup) as failed:
        asyncio.run(session.run([Instrument("mike", scripted(script), LINES)], work))

    assert failed.group_contains(
        NotWritten, match=r"not on disk: \d+ lines \(\d+ of them readings\), and now lost"
    )


def test_a_recording_removed_meanwhile_is_written_again_and_said(session: Session) -> None:
    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Reading))
        session.path.unlink()
        await session.until(lambda events: any("removed" in note.text for note in of(events, Note, "daemon")))

    events = asyncio.run(session.run([Instrument("mike", scripted([b"55.0\n"]), LINES)], work))

    assert of(events, Reading) == [Reading(55.0, "mm", 3, "55.0\n")]
    assert any("removed or moved" in trouble for trouble in session.troubles)


def test_a_capture_goes_on_with_its_recording(session: Session) -> None:
    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Reading))

    mike = [Instrument("mike", scripted([b"55.0\n"]), LINES)]
    asyncio.run(session.run(mike, work))
    with session.path.open("ab") as file:
        file.write(b'{"seq":')

    async def again(session: Session) -> None:
        await session.until(lambda events: len(of(events, Reading)) == 2)

    events = asyncio.run(session.run(mike, again, go_on=True))

    assert [e.seq for e in events] == list(range(len(events)))
    notes = [note.text for note in of(events, Note, "daemon")]
    assert len(notes) == 1
    assert "the recording goes on; 7 bytes that a crash had cut short are in" in notes[0]


def test_a_second_capture_on_the_folder_is_refused(session: Session) -> None:
    async def work(session: Session) -> None:
        clock = Clock.start()
        other = create(session.folder / "other.jsonl", JOB, clock)
        with pytest.raises(AlreadyRunning, match="a capture runs here already"):
            await capture(
                [],
                other,
                clock,
                PROGRAM,
                folder=session.folder,
                on_ready=print,
                on_trouble=print,
                signals=False,
            )

    asyncio.run(session.run([], work))


def test_a_pedals_lines_are_a_persons_words_and_a_refused_one_is_recorded(session: Session) -> None:
    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Note) and of(events, Garbled))

    pedal = Instrument("pedal", scripted([b"note from the floor\rjump\r"]), LINES, words=True)
    events = asyncio.run(session.run([pedal], work))

    (note,) = [event for event in events if isinstance(event.fact, Note)]
    assert (note.source, note.fact.text) == ("person", "from the floor")
    (refused,) = [event for event in events if isinstance(event.fact, Garbled)]
    assert (refused.source, refused.fact.raw) == ("pedal", "jump")
    assert "due note" in refused.fact.why


def test_silence_ends_a_piece_where_the_dialect_says_so(session: Session) -> None:
    def whole(raw: str):
        return Reading(float(raw), "mm", 3, raw)

    async def work(session: Session) -> None:
        await session.until(lambda events: len(of(events, Reading)) == 2)

    dialect = Dialect("gaps", lambda _: 0, whole, 64, gap=0.05)
    script = [b"55", b".001", 0.3, b"55.002"]
    events = asyncio.run(session.run([Instrument("mike", scripted(script), dialect)], work))

    assert [fact.raw for fact in of(events, Reading)] == ["55.001", "55.002"]


def test_a_cancelled_capture_has_written_what_it_heard(session: Session) -> None:
    async def run():
        clock = Clock.start()
        recorder = create(session.path, JOB, clock)
        ready = asyncio.Event()
        mike = Instrument("mike", scripted([b"55.0\n" * 50]), LINES)
        task = asyncio.create_task(
            capture(
                [mike],
                recorder,
                clock,
                PROGRAM,
                folder=session.folder,
                on_ready=lambda *_: ready.set(),
                on_trouble=print,
                signals=False,
            )
        )
        await ready.wait()
        await asyncio.sleep(0.05)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)

    asyncio.run(run())
    events = list(read(session.path))

    assert len(of(events, Reading)) == 50
    assert check(session.path) == []


@pytest.mark.parametrize("name", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_stops_it_cleanly_and_handlers_are_given_back(
    session: Session, name: signal.Signals
) -> None:
    async def run():
        clock = Clock.start()
        mike = Instrument("mike", scripted([b"55.0\n"]), LINES)

        def on_ready(path: Path, inbox: Path):
            asyncio.get_running_loop().call_later(0.2, os.kill, os.getpid(), name)

        await capture(
            [mike],
            create(session.path, JOB, clock),
            clock,
            PROGRAM,
            folder=session.folder,
            on_ready=on_ready,
            on_trouble=print,
        )

    before = signal.getsignal(signal.SIGTERM)
    asyncio.run(run())

    assert signal.getsignal(signal.SIGTERM) == before
    events = list(read(session.path))
    assert of(events, Reading) == [Reading(55.0, "mm", 3, "55.0\n")]
    assert of(events, Down) == [Down("the capture was stopped")]


def test_a_real_serial_port_is_heard_through_unplugging_and_plugging_in(session: Session, plug: Any) -> None:
    """A pseudo-terminal and real pyserial; `plug` is the far end of the cable."""

    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Up))
        plug.say(b"55.012\r\n")
        await session.until(lambda events: len(of(events, Reading)) == 1)
        plug.unplug()
        await session.until(lambda events: of(events, Down))
        plug.plug()
        await session.until(lambda events: len(of(events, Up)) == 2)
        plug.say(b"55.013\r\n")
        await session.until(lambda events: len(of(events, Reading)) == 2)

    events = asyncio.run(session.run([Instrument("mike", serial_link(str(plug.path)), LINES)], work))

    assert [fact.value for fact in of(events, Reading)] == [55.012, 55.013]


@pytest.mark.timeout(60)
def test_a_gauge_in_the_middle_of_a_line_is_not_misread(session: Session, plug: Any) -> None:
    """Opened in the middle of ``+55.012`` a port gives ``5.012``, which would be a reading like any other."""
    over, said = threading.Event(), bytearray()

    def stream() -> None:
        while not over.wait(0.001):
            plug.say(b"+55.012\r\n"[len(said) % 9 :][:1])
            said.append(0)

    async def work(session: Session) -> None:
        await session.until(lambda events: len(of(events, Reading)) >= 3)
        over.set()

    thread = threading.Thread(target=stream)
    thread.start()
    try:
        mike = Instrument("mike", serial_link(str(plug.path)), decimal_line())
        events = asyncio.run(session.run([mike], work))
    finally:
        over.set()
        thread.join()

    first, *_ = of(events, Garbled)
    assert "its head may be cut off" in first.why
    assert b"+55.012\r\n".endswith(first.raw.encode())
    assert {fact.value for fact in of(events, Reading)} == {55.012}


def test_a_gauge_that_speaks_when_its_button_is_pressed_is_heard_from_its_first_line(
    session: Session, plug: Any
) -> None:
    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Up))
        plug.say(b"+55.012\r\n")
        await session.until(lambda events: of(events, Reading))

    mike = Instrument("mike", serial_link(str(plug.path)), decimal_line())
    events = asyncio.run(session.run([mike], work))

    assert [fact.value for fact in of(events, Reading)] == [55.012]


class TellingLink(ScriptedLink):
    """A link that also hears how full the battery is."""

    tell = None

    async def chunks(self):
        self.tell(Battery(81.0))
        async for chunk in super().chunks():
            yield chunk


def test_what_a_link_hears_beside_the_readings_is_recorded_as_the_gauges(session: Session) -> None:
    @asynccontextmanager
    async def opening():
        yield TellingLink([b"55.001\n"])

    async def work(session: Session) -> None:
        await session.until(lambda events: of(events, Battery))

    events = asyncio.run(session.run([Instrument("air", opening, LINES)], work))

    (event,) = [event for event in events if isinstance(event.fact, Battery)]
    assert event.source == "air"
    assert event.fact.level == 81.0
