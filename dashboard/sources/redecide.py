"""Recordings decided again in the background: watched while it goes on, and stopped when a person says so."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Final, Literal, TypeAlias

from cachetools import LRUCache

from capture.recording.reader import BadRecording, read
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.state import replay, session
from capture.state.session import State
from dashboard.sources.event_file import PIECE, EventFile
from dashboard.sources.feed import with_settings

KEPT: Final = 3
"""Works that are kept: a change of units asks for the same, and of two requests under way the older may
come last."""
SPELL: Final = 0.005
"""Seconds of work after which whoever else waits for this process gets a turn."""

Phase: TypeAlias = Literal["working", "done", "stopped", "failed"]
Asked: TypeAlias = tuple[Path, tuple[tuple[str, str], ...]]
"""A recording and the settings to decide by."""


class Redecision:
    """One recording replayed twice side by side: as it was decided, and decided again."""

    def __init__(self, path: Path, size: int, job: Job, again: Job, turn: threading.Lock) -> None:
        self._path, self._jobs, self._turn = path, (job, again), turn
        self.size = size
        """Bytes of the recording when it was begun."""
        self.phase: Phase = "working"
        self.share = 0.0
        """Of the file that is done."""
        self.events = 0
        self.why = ""
        """What went wrong, where it failed."""
        self.states: tuple[State, State] | None = None
        """At the end: as made, and again."""
        self._stop = threading.Event()
        self._over = threading.Event()

    def begin(self) -> None:
        """Works in a thread of its own, which ends with the program."""
        threading.Thread(target=self._run, name="redecide", daemon=True).start()

    def stop(self) -> None:
        """Asks it to end; what was worked out so far is of no use."""
        self._stop.set()

    def over(self, patience: float) -> bool:
        """Waits at most so many seconds for its end."""
        return self._over.wait(patience)

    def _run(self) -> None:
        phase: Phase = "failed"
        try:
            with self._turn:
                phase = "done" if self._tell() else "stopped"
        except BadRecording as error:
            self.why = str(error)
        except OverflowError:
            self.why = f"{self._path}: numbers came that are too large to work with, which no gauge gives"
        finally:
            self.phase = phase
            self._over.set()

    def _tell(self) -> bool:
        made, fresh = (session.start(job) for job in self._jobs)
        trail, spell, recorded = replay.Trail(), time.monotonic() + SPELL, EventFile(self._path)
        for number, events in enumerate(recorded.load()):
            before = min(number * PIECE / max(self.size, 1), 1.0)
            piece = min(PIECE / max(self.size, 1), 1.0 - before)
            trail.add(events)
            for done, event in enumerate(events, 1):
                made, fresh = session.step(made, event), replay.again(fresh, event, trail)
                self.events += 1
                if self._stop.is_set():
                    return False
                if time.monotonic() > spell:
                    self.share = before + piece * done / len(events)
                    self._pause()
                    spell = time.monotonic() + SPELL
        if not replay.has_decisions(made):
            made = replay.redecided_state(self._jobs[0], recorded)
        self.states = (made, fresh)
        return True

    def _pause(self) -> None:
        self._turn.release()
        try:
            time.sleep(0.001)
        finally:
            self._turn.acquire()


class Redecisions:
    """The works of one dashboard: they take turns, so that all of them load the machine as one does.

    The newest are kept; one that gives way to a newer is stopped.
    """

    def __init__(self) -> None:
        self._lock, self._turn = threading.Lock(), threading.Lock()
        self._kept: LRUCache[Asked, Redecision] = LRUCache(KEPT)

    def begin(self, path: Path, settings: Mapping[str, str], *, anew: bool = False) -> Redecision:
        """The work on a recording by these settings: the one there is, or a new one.

        It stops no other that was asked for lately: of two requests under way, the older may come last.

        Args:
            path: The recording.
            settings: As ``--set`` says them.
            anew: Whether one that was stopped begins again.

        Raises:
            BadRecording: It cannot be read.
            ValueError: No such setting, or a value that it can't have.
        """
        job = job_of(read(path).header.job)
        again, size = with_settings(job, settings), _size(path)
        asked = _asked(path, settings)
        with self._lock:
            work = self._kept.get(asked)
            grown = work is not None and work.phase == "done" and work.size != size
            if work is None or grown or work.phase == "failed" or (anew and work.phase == "stopped"):
                work = Redecision(path, size, job, again, self._turn)
                work.begin()
                self._keep(asked, work)
        return work

    def of(self, path: Path, settings: Mapping[str, str]) -> Redecision | None:
        """The work on a recording by these settings, if there is one."""
        with self._lock:
            return self._kept.get(_asked(path, settings))

    def stop(self, path: Path, settings: Mapping[str, str]) -> None:
        """Ends the work on a recording by these settings, if there is one."""
        if work := self.of(path, settings):
            work.stop()

    def _keep(self, asked: Asked, work: Redecision) -> None:
        if asked not in self._kept and len(self._kept) == KEPT:
            self._kept.popitem()[1].stop()
        self._kept[asked] = work


def _asked(path: Path, settings: Mapping[str, str]) -> Asked:
    return path, tuple(sorted(settings.items()))


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError as error:
        raise BadRecording(f"{path.name}: cannot be read: {error.strerror or error}") from None
