"""The feed: follows a recording as it grows, and hangs each new scene on the board."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from msgspec.structs import replace

from capture.events import Event
from capture.folds import desk
from capture.folds.desk import State
from capture.journal import BadRecording, Follower, follow
from capture.links.inbox import NAME, NoCapture, read_place
from capture.sheet import Job
from capture.sheet_reader import job_of, with_setting
from dashboard.board import Board
from dashboard.scene import Scene
from dashboard.words import word

PAUSE = 0.02
"""Seconds between two looks at the file."""
LOOK_ROUND = 1.0
"""Seconds between two looks at the folder, and between two scenes when nothing happens."""
OLD = 30.0
"""Seconds without an event after which a recording is shown as old; a running capture beats once a second."""
SUFFIX = "*.jsonl"


class Feed:
    """One thread that folds what is new; `turn` does one round of it."""

    def __init__(
        self,
        path: Path,
        board: Board,
        settings: Mapping[str, str],
        *,
        wall: Callable[[], int] = time.time_ns,
    ) -> None:
        self.board = board
        self._folder = path if path.is_dir() else None
        self._settings = settings
        self._wall = wall
        self._stop = threading.Event()
        self._wanted: Path | None = None
        self._looked = float("-inf")
        self._fresh = False
        self._scene = Scene("waiting", settings=said(settings))
        self._follower: Follower | None = None
        self._turn = 0
        first = newest(path) if self._folder is not None else path
        if first is not None:
            self._begin(first)

    @property
    def path(self) -> Path | None:
        """The recording that is shown."""
        return None if self._follower is None else self._follower.path

    def run(self) -> None:
        """Goes round until stopped."""
        while not self._stop.is_set():
            if not self.turn():
                self._stop.wait(PAUSE)
        if self._follower is not None:
            self._follower.close()

    def stop(self) -> None:
        """Ends `run`, from any thread."""
        self._stop.set()

    def show_newer(self) -> None:
        """Goes over to the newer recording that was offered, from any thread."""
        if self._folder is not None:
            self._wanted = newest(self._folder)

    def turn(self) -> bool:
        """One round; True if events came, so that more may be waiting."""
        if self._wanted is not None:
            self._begin(self._wanted)
            self._wanted = None
        came = self._read()
        due = time.monotonic() - self._looked >= LOOK_ROUND
        if due:
            self._looked = time.monotonic()
            self._look_round()
        if due or (self._fresh and not came):
            self._hang()
        return came

    def _begin(self, path: Path) -> None:
        if self._follower is not None:
            self._follower.close()
        self._follower = follow(path)
        self._turn = 0
        self._scene = replace(self._scene, kind="waiting", name=path.name, state=None, trouble="", newer="")
        self._looked = float("-inf")

    def _read(self) -> bool:
        follower = self._follower
        if follower is None or self._scene.trouble:
            return False
        try:
            events = follower.poll()
        except BadRecording as error:
            self._scene, self._fresh = replace(self._scene, trouble=str(error)), True
            return False
        if follower.turn != self._turn:
            self._turn = follower.turn
            self._scene = replace(self._scene, state=None, trouble="")
        self._fold(follower, events)
        if follower.damage is not None:
            self._scene, self._fresh = replace(self._scene, trouble=str(follower.damage)), True
        return bool(events)

    def _fold(self, follower: Follower, events: list[Event]) -> None:
        state = self._scene.state
        if state is None and follower.header is not None:
            state = desk.start(with_settings(job_of(follower.header.job), self._settings))
            self._fresh = True
        if state is None:
            return
        for event in events:
            state = desk.step(state, event)
        self._fresh = self._fresh or bool(events)
        self._scene = replace(self._scene, state=state)

    def _look_round(self) -> None:
        self._scene = replace(self._scene, closed=closed(self.path))
        if self._folder is None:
            return
        found = newest(self._folder)
        if found is None or found == self.path:
            self._scene = replace(self._scene, newer="")
        elif self.path is None or self._scene.kind == "old":
            self._begin(found)
        else:
            self._scene = replace(self._scene, newer=found.name)

    def _hang(self) -> None:
        state = self._scene.state
        age = None if state is None or state.seq < 0 else max((self._wall() - state.at.wall) / 1e9, 0.0)
        kind = "waiting" if state is None else "old" if age is not None and age > OLD else "live"
        self._scene = replace(self._scene, kind=kind, age=age)
        self._fresh = False
        self.board.hang(self._scene)


def newest(folder: Path) -> Path | None:
    """The recording in *folder* that was changed last."""
    found: list[tuple[int, Path]] = []
    for path in folder.glob(SUFFIX):
        try:
            found.append((path.stat().st_mtime_ns, path))
        except OSError:
            continue  # gone between the two looks
    return max(found, default=(0, None))[1]


def closed(path: Path | None) -> str:
    """Why nothing can be said to the capture of a recording; empty when its inbox is there."""
    if path is None:
        return word("ask.closed")
    try:
        place = read_place(path.parent / NAME)
    except NoCapture:
        return word("ask.closed")
    if Path(place.recording) != path.absolute():
        return word("ask.other", recording=Path(place.recording).name)
    return ""


def with_settings(job: Job, settings: Mapping[str, str]) -> Job:
    """*job* with settings changed as ``--set`` said.

    Raises:
        ValueError: No such setting, or a value that it can't have.
    """
    changed = job.settings
    for key, value in settings.items():
        changed = with_setting(changed, key, value)
    return replace(job, settings=changed)


def said(settings: Mapping[str, str]) -> str:
    """Changed settings in words."""
    return ", ".join(f"{key} = {value}" for key, value in settings.items())
