"""The shop as it is now: each machine's newest recording followed over the broker and stepped through."""

from __future__ import annotations

import contextlib
import hashlib
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import msgspec
from msgspec import Struct

from capture.events import Event, Picture
from capture.recording.codec import BadLine, decode_header, first_chain
from capture.recording.lines import HEADER
from capture.recording.pictures import LARGEST_KEPT, BadPicture, keep_picture
from capture.sheet.reader import job_of
from capture.shop.archive.gaps import Gaps, Key
from capture.shop.archive.intake import Held, admit, ahead_of, sort
from capture.shop.messages import topics
from capture.shop.messages.broker import Broker
from capture.shop.messages.connection import BrokerMessage, Connection
from capture.shop.messages.topics import Extent, Status, encoded, topic_of
from capture.state import session
from capture.state.session import State

PATIENCE: Final = 0.5
"""Seconds after which missing lines are asked for."""
PAUSE: Final = 0.1
MOST_EARLY: Final = 8
"""Pictures of a machine that may wait for the line that names them."""
FOLD: Final = 0.2
"""Seconds at most in a turn that states are stepped on."""


class MachineNow(Struct, frozen=True):
    """What is known of one machine."""

    name: str
    online: bool | None
    """Whether its publisher is there; None: not known."""
    recording: str
    """Its newest recording; empty where there is none."""
    path: Path | None
    """A copy of it as far as it came."""
    state: State | None
    behind: bool
    """Whether more of it is known to be on its way."""
    refused: str
    """Why a line that came was not taken; empty where none was."""


class _Followed:
    """One machine's newest recording, as far as it came."""

    def __init__(self, key: Key, wall: int, folder: Path) -> None:
        self.key, self.wall = key, wall
        place = folder / quote(key[0], safe=" ")
        place.mkdir(parents=True, exist_ok=True)
        self.path = place / f"{key[1]}.jsonl"
        self.path.unlink(missing_ok=True)
        self.held: Held | None = None
        self.state: State | None = None
        self.ahead: list[bytes] = []
        self.behind: deque[Event] = deque()
        self.refused = ""
        self.end = 0
        self._named = set[str]()
        """Hashes of the pictures that its lines name."""
        self._early: dict[str, bytes] = {}
        """Files of pictures whose line did not come yet, by hash."""

    def take(self, lines: list[bytes]) -> None:
        """Adds what follows on what is there."""
        found = sort([*lines, *self.ahead])
        for line in found.header:
            if self.held is None and topics.belongs(self.key[1], line):
                self._begin(line)
        if self.held is None:
            self.ahead = [line for _, line in ahead_of(HEADER, found.events)]
            return
        done = admit(self.held, found.events)
        self.held, self.ahead = done.held, [line for _, line in done.ahead]
        if done.lines:
            with self.path.open("ab") as file:
                file.writelines(line + b"\n" for _, line in done.lines)
            self.behind.extend(event for event, _ in done.lines)
            self._name({e.fact.sha256 for e, _ in done.lines if isinstance(e.fact, Picture)})
            self.wall = done.lines[-1][0].at.wall
        for _, _, why in (*found.refused, *done.refused):
            self.refused = why

    def keep(self, body: bytes) -> None:
        """Keeps a picture's file beside the copy once a line names it."""
        if len(body) <= LARGEST_KEPT and len(self._early) < MOST_EARLY:
            self._early[hashlib.sha256(body).hexdigest()] = body
            self._name(set())

    def _name(self, hashes: set[str]) -> None:
        self._named |= hashes
        for sha256 in self._named & self._early.keys():
            with contextlib.suppress(BadPicture, OSError):  # the screen then says that it is not there
                keep_picture(self._early.pop(sha256), self.path.parent)

    def _begin(self, line: bytes) -> None:
        try:
            job = job_of(decode_header(line).job)
        except BadLine as error:
            self.refused = str(error)
            return
        self.path.write_bytes(line + b"\n")
        self.held, self.state = Held(0, first_chain(line)), session.start(job)

    @property
    def next(self) -> int:
        return HEADER if self.held is None else self.held.next


class LiveShop:
    """Follows a shop; `turn` in one thread, `machines` from any."""

    def __init__(self, broker: Broker, folder: Path, say: Callable[[str], None]) -> None:
        """*folder* holds copies of the newest recordings while this runs."""
        self._broker, self._folder = broker, folder
        self._connection = Connection(
            broker,
            f"screen-{broker.shop}-{secrets.token_hex(4)}",
            say,
            subscribe=[f"{broker.shop}/+/+/+", f"{broker.shop}/+/{topics.STATUS}"],
            expiry=0,
            receive=1000,
        )
        self._followed: dict[str, _Followed] = {}
        self._online: dict[str, bool] = {}
        self._gaps = Gaps[Key](PATIENCE)
        self._stop = threading.Event()
        self._seen: tuple[MachineNow, ...] = ()

    @property
    def connected(self) -> bool:
        """Whether the broker is there."""
        return self._connection.up

    @property
    def machines(self) -> tuple[MachineNow, ...]:
        """Every machine known so far, by name."""
        return self._seen

    def run(self) -> None:
        """Goes round until stopped."""
        while not self._stop.is_set():
            self.turn()
        self._connection.close()

    def stop(self) -> None:
        """Ends `run`, from any thread."""
        self._stop.set()

    def turn(self) -> None:
        """One round: what came, what is missing, and the states stepped on."""
        busy = any(one.behind for one in self._followed.values())
        self._connection.work(0.0 if busy else PAUSE)
        lines: dict[Key, list[bytes]] = {}
        for message in self._connection.messages:
            self._sort(message, lines)
            self._connection.acknowledge(message)
        self._connection.messages.clear()
        self._connection.acknowledged.clear()
        self._connection.refused.clear()
        now = time.monotonic()
        for (machine, recording), some in lines.items():
            followed = self._followed.get(machine)
            if followed is not None and followed.key[1] == recording:
                followed.take(some)
        for followed in self._followed.values():
            ahead = followed.end if not followed.ahead else max(followed.end, followed.next + 1)
            self._gaps.note(followed.key, followed.next, ahead, now)
        self._ask(now)
        self._step()
        names = self._followed.keys() | self._online.keys()
        self._seen = tuple(self._machine(name) for name in sorted(names))

    def _sort(self, message: BrokerMessage, lines: dict[Key, list[bytes]]) -> None:
        parts = message.topic.split("/")
        if len(parts) == 3 and parts[2] == topics.STATUS:
            status = _decoded(message.payload, Status)
            if status is not None:
                self._online[parts[1]] = status.online
            return
        topic = topics.split(message.topic, self._broker.shop)
        if topic is None or topic.kind in {topics.RESEND, topics.STORED}:
            return
        key = (topic.machine, topic.recording)
        if topic.kind == topics.EXTENT:
            self._reaches(key, _decoded(message.payload, Extent))
            return
        if topic.kind == "header":
            self._follow_newer(key, time.time_ns())
        elif topic.machine not in self._followed:
            self._follow_newer(key, 0)
        if topic.kind == topics.PICTURE_FILE:
            self._keep(key, message.payload)
            return
        some = message.payload.split(b"\n") if topic.kind == topics.LINES else [message.payload]
        lines.setdefault(key, []).extend(some)

    def _reaches(self, key: Key, extent: Extent | None) -> None:
        if extent is None:
            return
        self._follow_newer(key, extent.wall)
        if self._followed[key[0]].key == key:
            self._followed[key[0]].end = extent.next

    def _keep(self, key: Key, picture: bytes) -> None:
        followed = self._followed[key[0]]
        if followed.key == key:
            followed.keep(picture)

    def _follow_newer(self, key: Key, wall: int) -> None:
        """Goes over to a recording that is newer than the one that is followed of its machine."""
        before = self._followed.get(key[0])
        if before is None or (before.key != key and wall > before.wall):
            if before is not None:
                self._gaps.note(before.key, 0, 0, 0.0)
            self._followed[key[0]] = _Followed(key, wall, self._folder)

    def _ask(self, now: float) -> None:
        if not self._connection.up:
            return
        for (machine, recording), wanted in self._gaps.due(now):
            topic = topic_of(self._broker.shop, machine, recording, topics.RESEND)
            self._connection.publish(topic, encoded(wanted), expiry=60)

    def _step(self) -> None:
        end = time.monotonic() + FOLD
        for followed in self._followed.values():
            while followed.behind and followed.state is not None and time.monotonic() < end:
                try:
                    followed.state = session.step(followed.state, followed.behind.popleft())
                except OverflowError:
                    followed.refused = "numbers came that are too large to work with, which no gauge gives"

    def _machine(self, name: str) -> MachineNow:
        one, online = self._followed.get(name), self._online.get(name)
        if one is None:
            return MachineNow(name, online, "", None, None, False, "")
        path = one.path if one.held is not None else None
        behind = bool(one.behind) or one.next < one.end
        return MachineNow(name, online, one.key[1], path, one.state, behind, one.refused)


def _decoded(payload: bytes, kind: type[Any]) -> Any:
    """A message, or None where it cannot be read."""
    try:
        return msgspec.json.decode(payload, type=kind)
    except (msgspec.MsgspecError, UnicodeError):
        return None
