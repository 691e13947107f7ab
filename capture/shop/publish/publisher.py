"""Publishes the recordings of a folder, or one: follows them, and is never in the way of who writes them."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import msgspec

from capture import __version__
from capture.host.disk import OPEN, lock
from capture.recording.reader import BadRecording
from capture.shop.messages import topics
from capture.shop.messages.broker import Broker
from capture.shop.messages.connection import BrokerMessage, Connection, Wait, Will
from capture.shop.messages.topics import Extent, Resend, Status, Stored, encoded, topic_of
from capture.shop.publish.outbox import Outbox

PAUSE: Final = 0.02
"""Seconds between two looks at the recordings."""
LOOK_ROUND: Final = 1.0
"""Seconds between two looks at the folder, and between two writings of what was published."""
ANNOUNCE: Final = 5.0
"""Seconds between two times that a growing recording's extent is published."""
QUIET: Final = 0.5
"""Seconds without a new line after which a recording's extent is published at once."""
AWAKE: Final = 30.0
"""Seconds without a new line after which a recording is looked at once a second."""
AT_ONCE: Final = 64
"""Messages of one recording in a turn, so that a long one does not keep the others waiting."""
EXPIRY: Final = 24 * 3600
"""Seconds for which the broker keeps what archives ask of a publisher that is away."""
LOCK: Final = ".published.lock"


class AlreadyPublished(Exception):
    """Another program publishes from this folder."""


class Publisher:
    """One connection for the recordings at *path*; `turn` does a little of everything."""

    def __init__(self, path: Path, machine: str, broker: Broker, say: Callable[[str], None]) -> None:
        """Raises `AlreadyPublished` where another publishes from the same folder, or none may."""
        self._path, self._machine, self._broker, self._say = path, machine, broker, say
        self._lock = _locked(path if path.is_dir() else path.parent)
        name = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:8]
        away = Will(f"{broker.shop}/{machine}/{topics.STATUS}", _status(online=False))
        self._away = away
        self._connection = Connection(
            broker,
            f"publish-{broker.shop}-{machine}-{name}",
            say,
            subscribe=[topic_of(broker.shop, machine, "+", kind) for kind in (topics.RESEND, topics.STORED)],
            will=away,
            expiry=EXPIRY,
        )
        self._outboxes: dict[Path, Outbox] = {}
        self._waiting: dict[int, Outbox | None] = {}
        """Whose each message is that the broker has not taken yet; None: not of a recording."""
        self._turn = 0
        self._announced: dict[Path, Extent] = {}
        self._looked = self._saved = float("-inf")
        self._announced_at: dict[Path, float] = {}
        self._taken_at: dict[Path, float] = {}
        self._awake: dict[Path, None] = {}
        """Recordings that are looked at in every turn; the others rest."""
        self._to_announce: dict[Path, None] = {}
        """Recordings whose extent may have to be published."""
        self._pause = Wait(1.0)
        self._said: set[str] = set()
        self._unreadable: set[Path] = set()

    def turn(self, pause: float = PAUSE) -> None:
        """One round, of at most *pause* seconds where nothing is to do: the network and what was recorded."""
        now = time.monotonic()
        if now - self._looked >= LOOK_ROUND:
            self._looked = now
            self._look_round(now)
        busy = self._fill(now)
        self._connection.work(0.0 if busy else pause)
        if self._connection.turn != self._turn:
            self._begin()
        for mid in self._connection.acknowledged:
            outbox = self._waiting.pop(mid, None)
            if outbox is not None:
                outbox.taken(mid)
                self._taken_at[outbox.path] = now
                self._to_announce[outbox.path] = None
                self._pause.reset()
        self._connection.acknowledged.clear()
        self._refused(now)
        for message in self._connection.messages:
            self._came(message)
            self._connection.acknowledge(message)
        self._connection.messages.clear()
        if now - self._saved >= LOOK_ROUND:
            self._saved = now
            self.save()

    def look_again(self) -> None:
        """Makes the next turn look at the whole folder: the last lines may have come since."""
        self._looked = float("-inf")

    @property
    def done(self) -> bool:
        """Whether the broker has taken all that is in the recordings now, and how far they reach."""
        return (
            self._connection.up
            and not self._waiting
            and all(box.whole and not self._unannounced(box) for box in self._outboxes.values())
        )

    @property
    def connected(self) -> bool:
        """Whether the broker is there."""
        return self._connection.up

    @property
    def stored(self) -> bool:
        """Whether an archive has confirmed that it has all that was published."""
        return all(box.stored for box in self._outboxes.values())

    @property
    def damaged(self) -> list[Path]:
        """Recordings of which something cannot be published; what it is was said."""
        return [path for path, box in self._outboxes.items() if path in self._unreadable or box.trouble]

    @property
    def published(self) -> int:
        """Events that the broker has taken, of all recordings."""
        return sum(max(box.memory.next, 0) for box in self._outboxes.values())

    def close(self) -> None:
        """Ends the connection, writes down what was published, and lets go of the folder."""
        self._connection.close(self._away)
        self.save()
        for outbox in self._outboxes.values():
            outbox.close()
        os.close(self._lock)

    def save(self) -> None:
        """Writes down what was published, behind the broker's word."""
        for outbox in self._outboxes.values():
            try:
                outbox.save()
            except OSError as error:
                self._once(f"{outbox.path}: what was published cannot be noted: {error.strerror or error}")

    def _look_round(self, now: float) -> None:
        paths = sorted(self._path.glob("*.jsonl"), key=_changed) if self._path.is_dir() else [self._path]
        for path in paths:
            if path not in self._outboxes:
                self._outboxes[path] = Outbox(path, f"{self._broker.place}/{self._machine}")
        for path, outbox in self._outboxes.items():
            if not self._unannounced(outbox) and now - self._taken_at.get(path, 0.0) > AWAKE:
                outbox.rest()
            if not (outbox.whole and outbox.sleeping()):
                self._awake[path] = None
            else:
                self._awake.pop(path, None)

    def _fill(self, now: float) -> bool:
        """Sends what may be sent, the newest recordings first; whether more is waiting."""
        more = False
        for path in reversed(self._awake):
            outbox = self._outboxes[path]
            try:
                read = outbox.read()
                if now >= self._pause.until and self._connection.up:
                    self._send(outbox)
            except BadRecording as error:
                self._once(str(error))
                self._unreadable.add(path)
                continue
            for trouble in filter(None, (outbox.trouble, outbox.gone)):
                self._once(trouble)
            more = more or (read and self._room() > 0)
        if self._connection.up:
            self._announce(now)
        return more and self._connection.up

    def _room(self) -> int:
        return self._connection.window - len(self._waiting)

    def _send(self, outbox: Outbox) -> None:
        for _ in range(min(self._room(), AT_ONCE)):
            sending = outbox.next_sending()
            if sending is None:
                return
            topic = topic_of(self._broker.shop, self._machine, outbox.name, sending.kind)
            mid = self._connection.publish(topic, sending.payload)
            if mid is None:
                outbox.unsent(sending)
                return
            outbox.sent(mid, sending)
            self._waiting[mid] = outbox

    def _unannounced(self, outbox: Outbox) -> bool:
        return outbox.extent is not None and self._announced.get(outbox.path) != outbox.extent

    def _announce(self, now: float) -> None:
        """Publishes how far recordings reach: at once where nothing comes, else every few seconds."""
        for path in list(self._to_announce):
            outbox, extent = self._outboxes[path], self._outboxes[path].extent
            if self._room() <= 0:
                return
            if extent is None or not self._unannounced(outbox):
                del self._to_announce[path]
                continue
            quiet = outbox.whole and now - self._taken_at.get(path, 0.0) > QUIET
            if not quiet and now - self._announced_at.get(path, 0.0) < ANNOUNCE:
                continue
            topic = topic_of(self._broker.shop, self._machine, outbox.name, topics.EXTENT)
            mid = self._connection.publish(topic, encoded(extent), retain=True, expiry=topics.WEEK)
            if mid is None:
                return
            self._waiting[mid] = None
            self._announced[path], self._announced_at[path] = extent, now

    def _begin(self) -> None:
        """On a new connection: sends what the old one has not acknowledged again, and all extents."""
        self._turn = self._connection.turn
        self._waiting.clear()
        self._announced.clear()
        self._to_announce = dict.fromkeys(self._outboxes)
        for outbox in self._outboxes.values():
            outbox.again()
        mid = self._connection.publish(self._away.topic, _status(online=True), retain=True)
        if mid is not None:
            self._waiting[mid] = None

    def _refused(self, now: float) -> None:
        """Sends what the broker refused once more, after a growing wait."""
        if not self._connection.refused:
            return
        self._pause.failed(now)
        boxes: set[Outbox] = set()
        for mid in self._connection.refused:
            outbox = self._waiting.pop(mid, None)
            if outbox is not None:
                boxes.add(outbox)
        self._connection.refused.clear()
        for outbox in boxes:
            for mid, _ in outbox.unacknowledged:
                self._waiting.pop(mid, None)
            outbox.again()

    def _came(self, message: BrokerMessage) -> None:
        topic = topics.split(message.topic, self._broker.shop)
        if topic is None:
            return
        for outbox in self._named(topic.recording):
            try:
                if topic.kind == topics.RESEND:
                    outbox.asked(msgspec.json.decode(message.payload, type=Resend))
                    self._awake[outbox.path] = None
                elif topic.kind == topics.STORED:
                    outbox.note_stored(msgspec.json.decode(message.payload, type=Stored))
            except (msgspec.MsgspecError, UnicodeError):
                self._once(f"{message.topic}: cannot be read: {message.payload[:80]!r}")

    def _named(self, recording: str) -> Iterator[Outbox]:
        return (one for one in self._outboxes.values() if one.name == recording)

    def _once(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said.add(sentence)
            self._say(sentence)


def _status(*, online: bool) -> bytes:
    return encoded(Status(online, f"tenths {__version__}"))


def _changed(path: Path) -> int:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def _locked(folder: Path) -> int:
    try:
        file = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | OPEN, 0o644)
    except OSError as error:
        raise AlreadyPublished(
            f"{folder}: what was published cannot be noted there: {error.strerror or error}"
        ) from None
    if not lock(file):
        os.close(file)
        raise AlreadyPublished(f"{folder}: another program publishes its recordings")
    return file
