"""The player: a recording read to its end, and shown at any place of it, at any speed."""

from __future__ import annotations

import threading
import time
from array import array
from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from msgspec.structs import replace

from capture.events import Event, Flag, Note, Pass, Reject, Stage
from capture.recording.reader import BadRecording, read
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.state import session
from capture.state.replay import Trail, again
from capture.state.session import State
from capture.text.flag_sentences import flag_text
from dashboard.sources.event_file import EventFile
from dashboard.sources.feed import said, with_settings
from dashboard.sources.raw_traces import RawTraces
from dashboard.sources.scene import Mark, Scene, Transport
from dashboard.sources.scene_store import SceneStore
from dashboard.text.screen import WORDS, word

EVERY = 500
"""Events between two states that are kept to start again from."""
TICK = 0.03
PATIENCE = 0.8
"""Seconds of folding after which a scene is shown, however far it has come."""
SPEEDS = (1.0, 5.0, 20.0, 100.0, 500.0)
FASTEST = 10000.0
MOST_MARKS = 400

MARKED = frozenset({Flag, Note, Stage, Reject, Pass})
"""Facts that make a mark."""

Step = Callable[[State, Event], State]


class Track:
    """States of one way of deciding; some are kept, to get anywhere quickly."""

    def __init__(self, job: Job, step: Step, events: Sequence[Event]) -> None:
        self._events, self._step = events, step
        self._kept: list[tuple[int, State]] = [(-1, session.start(job))]
        self._now: tuple[int, State] = self._kept[0]

    def towards(self, index: int, more: Callable[[], bool]) -> tuple[int, State]:
        """The state after the event at *index* (-1: before the first), or as near it as *more* allows."""
        at, state = self._kept[bisect_right(self._kept, index, key=lambda kept: kept[0]) - 1]
        if at <= self._now[0] <= index:
            at, state = self._now
        while at < index:
            at += 1
            state = self._step(state, self._events[at])
            self._keep(at, state)
            if not more():
                break
        self._now = (at, state)
        return self._now

    def _keep(self, at: int, state: State) -> None:
        newest = self._kept[-1][0]
        if at - newest >= EVERY or (at > newest and isinstance(self._events[at].fact, Pass)):
            self._kept.append((at, state))


class Player:
    """One thread that plays; every browser sees the same place. Wishes may come from any thread."""

    def __init__(
        self,
        path: Path,
        store: SceneStore,
        settings: Mapping[str, str],
        speed: float,
        *,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self.store, self.path = store, path
        self._settings = settings
        self._monotonic = monotonic
        self._stop = threading.Event()
        self._wishes: list[tuple[str, float]] = []
        self._recording = read(path)
        self._events = EventFile(path)
        self._times = array("d")
        self._tracks: dict[bool, Track] = {}
        self._trail = Trail()
        self._marks: tuple[Mark, ...] = ()
        self.traces = RawTraces()
        self._passes: list[float] = []
        self._speed, self._playing, self._redecided = speed, True, bool(settings)
        self._position = 0.0
        self._behind = False
        self._shown: tuple[object, ...] = ()
        self._last = 0.0
        store.publish(Scene("loading", path.name, closed=word("ask.replay")))

    @property
    def folder(self) -> Path:
        """The folder in which the recording lies."""
        return self.path.parent

    def run(self) -> None:
        """Reads the recording, then plays until stopped."""
        trouble = word("notice.broken")
        try:
            self.load()
            while not self._stop.is_set():
                self.turn()
                self._stop.wait(0.0 if self._behind else TICK)
        except BadRecording as error:
            trouble = str(error)
        finally:
            if not self._stop.is_set():
                self.store.publish(replace(self.store.scene, trouble=trouble))

    def stop(self) -> None:
        """Ends `run`, from any thread."""
        self._stop.set()

    def wish(self, do: str, to: float = 0.0) -> None:
        """Asks for play, pause, toggle, seek (share of the time), speed, faster, slower, pass or again."""
        self._wishes.append((do, to))

    def load(self) -> None:
        """Reads all events, so that their times and marks are known.

        Raises:
            BadRecording: The recording cannot be read on.
        """
        marked: list[Event] = []
        for events in self._events.load():
            self._times.extend([event.at.mono / 1e9 for event in events])
            self.traces.add(events)
            self._trail.add(events)
            marked += [event for event in events if type(event.fact) in MARKED]
            if self._stop.is_set():
                return
        self._passes = [event.at.seconds for event in marked if isinstance(event.fact, Pass)]
        self._marks = tuple(marks(marked, self._length))
        self._last = self._monotonic()

    def _track(self) -> Track:
        """The track of the way of deciding in hand."""
        track = self._tracks.get(self._redecided)
        if track is None:
            job = job_of(self._recording.header.job)
            if self._redecided:
                job = with_settings(job, self._settings)
            track = Track(job, self._again if self._redecided else session.step, self._events)
            self._tracks[self._redecided] = track
        return track

    def _again(self, state: State, event: Event) -> State:
        return again(state, event, self._trail)

    def turn(self) -> None:
        """Grants what was wished, moves on by the time that has passed, and publishes the scene."""
        now = self._monotonic()
        if self._playing and not self._behind:
            self._position += (now - self._last) * self._speed
        self._last = now
        while self._wishes:
            self._grant(*self._wishes.pop(0))
        if self._position >= self._length:
            self._position, self._playing = self._length, False
        index = self._index()
        until = now + PATIENCE
        reached, state = self._track().towards(index, lambda: self._monotonic() < until)
        self._behind = reached < index
        picture = (reached, index, self._playing, self._speed, self._redecided, round(self._position, 1))
        if picture != self._shown:
            self._shown = picture
            self._publish(state, (reached + 1) / (index + 1) if self._behind else None)

    @property
    def _length(self) -> float:
        return self._times[-1] if self._times else 0.0

    def _index(self) -> int:
        return bisect_right(self._times, self._position) - 1

    def _grant(self, do: str, to: float) -> None:
        match do:
            case "toggle":
                self._playing = not self._playing
                if self._playing and self._position >= self._length:
                    self._position = 0.0
            case "play" | "pause":
                self._playing = do == "play"
            case "seek":
                self._position = min(max(to, 0.0), 1.0) * self._length
            case "speed":
                self._speed = min(max(to, 0.1), FASTEST)
            case "faster":
                self._speed = next((speed for speed in SPEEDS if speed > self._speed), SPEEDS[-1])
            case "slower":
                self._speed = next((speed for speed in reversed(SPEEDS) if speed < self._speed), SPEEDS[0])
            case "pass":
                self._position, self._playing = self._pass_from(to), False
            case "redecide":
                self._redecided = not self._redecided

    def _pass_from(self, to: float) -> float:
        """Just before the next pass: all that was measured after the one before it is seen."""
        stops = [*(max(at - 0.001, 0.0) for at in self._passes), self._length]
        if to < 0:
            return max((at for at in stops if at < self._position), default=0.0)
        return min((at for at in stops if at > self._position), default=self._length)

    def _publish(self, state: State, loaded: float | None) -> None:
        damage = self._events.damage
        play = Transport(
            playing=self._playing,
            speed=self._speed,
            position=self._position,
            length=self._length,
            redecided=self._redecided,
            marks=self._marks,
        )
        self.store.publish(
            Scene(
                "replay" if loaded is None else "loading",
                self.path.name,
                state,
                loaded=loaded,
                trouble="" if damage is None else word("notice.damage", why=damage),
                closed=word("ask.replay"),
                settings=said(self._settings),
                transport=play,
            )
        )


def marks(events: Sequence[Event], length: float) -> Iterator[Mark]:
    """Where something happened, by its share of the whole *length*; the most telling if they are many."""
    found: list[tuple[int, int, Mark]] = []
    for event in events:
        said_of_it = _mark(event)
        if said_of_it is not None:
            rank, kind, text = said_of_it
            share = event.at.seconds / length if length else 0.0
            found.append((rank, event.seq, Mark(share, kind, text)))
    chosen = sorted(found, key=lambda entry: entry[:2])[:MOST_MARKS]
    yield from (mark for _, _, mark in sorted(chosen, key=lambda entry: entry[1]))


def _mark(event: Event) -> tuple[int, str, str] | None:
    match event.fact:
        case Flag() as flag:
            return 0, flag.what, flag_text(flag) or WORDS.get(f"flag.{flag.what}", flag.what)
        case Note(text=text):
            return 0, "note", word("lately.note", text=text)
        case Stage(name=name):
            return 0, "stage", word("status.stage", stage=name)
        case Reject(why=why):
            return 1, "reject", why
        case Pass(infeed=infeed):
            return 2, "spark" if infeed == 0 else "pass", word("trend.pass")
        case _:
            return None
