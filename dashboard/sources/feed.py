"""The feed: follows a recording as it grows, and publishes each new scene to the store."""

from __future__ import annotations

import stat
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping
from pathlib import Path

from msgspec.structs import replace

from capture.events import Event
from capture.links.inbox.endpoint import NAME, NoCapture, read_endpoint
from capture.recording.reader import BadRecording, Follower, follow
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.sheet.settings import with_setting
from capture.state import session
from dashboard.sources.raw_traces import RawTraces
from dashboard.sources.scene import Scene
from dashboard.sources.scene_store import SceneStore
from dashboard.text.screen import word

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
        store: SceneStore,
        settings: Mapping[str, str],
        *,
        inbox: Path | None = None,
        wall: Callable[[], int] = time.time_ns,
    ) -> None:
        self.store = store
        self._folder = path if path.is_dir() else None
        self._place = path if path.is_dir() else path.parent
        self.traces = RawTraces()
        self._settings = settings
        self._inbox = inbox
        self._wall = wall
        self._stop = threading.Event()
        self._wanted: Path | None = None
        self._chosen = False
        """A person chose the recording: a newer one is offered, and not shown instead."""
        self._looked = float("-inf")
        self._fresh = False
        self._behind: deque[Event] = deque()
        self._scene = Scene("waiting", closed=word("ask.closed"), settings=said(settings))
        self._follower: Follower | None = None
        self._turn = 0
        self._capture: tuple[str, Path] | None = None
        """The token of the running capture, and where it recorded when last looked."""
        first = newest(path) if self._folder is not None else path
        if first is not None:
            self._begin(first)
        store.publish(self._scene)

    @property
    def path(self) -> Path | None:
        """The recording that is shown."""
        return None if self._follower is None else self._follower.path

    @property
    def folder(self) -> Path:
        """The folder in which recordings lie, and beside them what the pages of the analysis read."""
        return self._place

    @property
    def inbox(self) -> Path | None:
        """The file of the inbox that words go to: the one given, or that of the recording's folder."""
        if self._inbox is not None or self.path is None:
            return self._inbox
        return self.path.parent / NAME

    def run(self) -> None:
        """Goes round until stopped."""
        try:
            while not self._stop.is_set():
                if not self.turn():
                    self._stop.wait(PAUSE)
        finally:
            if not self._stop.is_set():
                # A fault of the program: the page must not go on looking alive.
                self.store.publish(replace(self._scene, trouble=word("notice.broken")))
            if self._follower is not None:
                self._follower.close()

    def stop(self) -> None:
        """Ends `run`, from any thread."""
        self._stop.set()

    def show_newer(self) -> None:
        """Goes over to the newer recording that was offered, from any thread."""
        if self._folder is not None:
            self._chosen = False
            self._wanted = newest(self._folder)

    def show(self, recording: Path) -> None:
        """Goes over to a recording that a person chose, from any thread."""
        self._chosen = True
        self._wanted = recording

    def look_at_once(self) -> None:
        """Looks round in the folder in the next turn, without waiting for its time."""
        self._looked = float("-inf")

    def turn(self) -> bool:
        """One round; True if more may be waiting."""
        if self._wanted is not None:
            self._begin(self._wanted)
            self._wanted = None
        if not self._behind:
            self._read()
        self._fold()
        now = time.monotonic()
        due = now - self._looked >= LOOK_ROUND
        if due:
            self._looked = now
            self._look_round()
        if due or (self._fresh and not self._behind):
            self._publish()
        return bool(self._behind)

    def _begin(self, path: Path) -> None:
        if self._follower is not None:
            self._follower.close()
        self._follower, self._turn = follow(path), 0
        self._behind.clear()
        self.traces.clear()
        self._scene = replace(
            self._scene,
            kind="waiting",
            name=path.name,
            state=None,
            trouble="",
            newer="",
            closed=closed(path, self.inbox),
        )
        self._looked = float("-inf")

    def _read(self) -> None:
        """Takes up what was written since; nothing more of a recording that is damaged."""
        follower = self._follower
        if follower is None:
            return
        try:
            events = follower.poll()
        except BadRecording as error:
            self._say_trouble(str(error))
            return
        if follower.turn != self._turn:
            self._turn = follower.turn
            self.traces.clear()
            self._scene = replace(self._scene, state=None, trouble="")
        if self._scene.state is None and follower.header is not None:
            job = with_settings(job_of(follower.header.job), self._settings)
            self._scene, self._fresh = replace(self._scene, state=session.start(job)), True
        self._behind.extend(events)
        self.traces.add(events)
        if follower.damage is not None:
            self._say_trouble(word("notice.damage", why=follower.damage))

    def _say_trouble(self, trouble: str) -> None:
        if trouble != self._scene.trouble:
            self._scene, self._fresh = replace(self._scene, trouble=trouble), True

    def _fold(self) -> None:
        """Folds what is waiting, for as long as a browser may wait for a scene."""
        state = self._scene.state
        if state is None or not self._behind:
            return
        until = time.monotonic() + LOOK_ROUND / 4
        while self._behind and time.monotonic() < until:
            state = session.step(state, self._behind.popleft())
        self._scene, self._fresh = replace(self._scene, state=state), True

    def _follow_capture(self) -> None:
        """Goes over to where the capture goes on, if somebody cut or moved the recording that is shown."""
        if self.inbox is None:
            return
        try:
            place = read_endpoint(self.inbox)
        except NoCapture:
            return
        before, self._capture = self._capture, (place.token, Path(place.recording))
        if before is None or self.path is None or before[0] != place.token:
            return
        if before[1] != Path(place.recording) and before[1].resolve() == self.path.resolve():
            self._begin(Path(place.recording))

    def _look_round(self) -> None:
        self._follow_capture()
        self._scene = replace(self._scene, closed=closed(self.path, self.inbox))
        if self._folder is None:
            return
        found = newest(self._folder)
        if found is None or found == self.path:
            self._scene = replace(self._scene, newer="")
        elif self.path is None or (self._scene.kind == "old" and not self._chosen):
            self._begin(found)
        else:
            self._scene = replace(self._scene, newer=found.name)

    def _publish(self) -> None:
        state, kind = self._scene.state, "waiting"
        age = None if state is None or state.seq < 0 else max((self._wall() - state.at.wall) / 1e9, 0.0)
        if state is not None:
            kind = "live" if age is None or age <= OLD else "loading" if self._behind else "old"
        # What waits to be folded is no silence of the capture.
        age = None if self._behind else age
        self._scene = replace(self._scene, kind=kind, age=age)
        self._fresh = False
        self.store.publish(self._scene)


def newest(folder: Path) -> Path | None:
    """The recording in *folder* that was changed last."""
    found: list[tuple[int, Path]] = []
    for path in folder.glob(SUFFIX):
        try:
            facts = path.stat()
            if stat.S_ISREG(facts.st_mode):  # a pipe of that name would be waited for
                found.append((facts.st_mtime_ns, path))
        except OSError:
            continue  # gone between the two looks
    return max(found, default=(0, None))[1]


def closed(path: Path | None, inbox: Path | None) -> str:
    """Why nothing can be said to the capture of a recording; empty when its inbox is there."""
    if path is None or inbox is None:
        return word("ask.closed")
    try:
        place = read_endpoint(inbox)
    except NoCapture:
        return word("ask.closed")
    if Path(place.recording).resolve() != path.resolve():
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
