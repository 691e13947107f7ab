"""The archive: takes from the broker, stores, acknowledges after, and asks for what is missing."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Final

import msgspec
import psycopg
from msgspec import structs

from capture.shop.archive.database import Database, StoreOutcome
from capture.shop.archive.gaps import Gaps, Key
from capture.shop.archive.schema import BadDatabase, check_address, migrate
from capture.shop.archive.troubles import why_of
from capture.shop.messages import topics
from capture.shop.messages.broker import Broker
from capture.shop.messages.connection import BrokerMessage, Connection, Wait
from capture.shop.messages.topics import Extent, Stored, encoded, topic_of

PAUSE: Final = 0.05
BATCH: Final = 0.1
"""Seconds at most that a line waits for others to be stored with it."""
RECEIVE: Final = 2000
"""Lines that the broker may send before the first is acknowledged."""
EXPIRY: Final = 30 * 24 * 3600
"""Seconds for which the broker keeps what comes while the archive is away."""
PATIENCE: Final = 3.0
"""Seconds without progress after which missing lines are asked for."""
SAY_STORED: Final = 2.0
"""Seconds between two messages to a publisher of how far its recording is stored."""
LIVES: Final = 60.0


class Archive:
    """One archive; others may work beside it on the same database, each with a name of its own."""

    def __init__(
        self, broker: Broker, url: str, say: Callable[[str], None], *, name: str, machines: Sequence[str] = ()
    ) -> None:
        """Raises `BadDatabase` where *url* is none of a database."""
        check_address(url)
        self._broker, self._url, self._say = broker, url, say
        self._connection = Connection(
            broker,
            f"archive-{broker.shop}-{name}",
            say,
            subscribe=[f"{broker.shop}/{machine}/+/+" for machine in machines or ("+",)],
            expiry=EXPIRY,
            receive=RECEIVE,
        )
        self._database: Database | None = None
        self._wait = Wait()
        self._trouble = ""
        self._gaps = Gaps[Key](PATIENCE)
        self._lacking = Gaps[tuple[str, str, int]](PATIENCE)
        """Pictures without their file, by the number of the line that names them."""
        self._lacked: dict[Key, list[int]] = {}
        self._extents: dict[Key, Extent] = {}
        """How far recordings reach of which something is missing."""
        self._to_say: dict[Key, Stored] = {}
        self._said_at = 0.0
        self._complained: dict[Key, str] = {}
        self.stored = 0
        """Messages that are stored since it began."""

    def turn(self) -> None:
        """One round; nothing is acknowledged before it is stored, and while nothing can be, nothing is."""
        self._connection.work(PAUSE)
        messages = self._connection.messages
        if messages and not self._trouble:
            self._gather()
        now = time.monotonic()
        # Nothing can be stored and no more can be held: the broker has it until something can be.
        self._connection.stay_away(bool(self._trouble) and len(self._connection.messages) >= RECEIVE)
        # Opened though nothing came: what is wrong with a database is said when the archive starts. Making
        # its tables takes a while, in which the broker must know already what to keep for this archive.
        opening = self._database is None and self._connection.settled
        if (self._connection.messages or opening) and now >= self._wait.until:
            self._take(list(self._connection.messages), now)
        self._ask(now)
        if now - self._said_at >= SAY_STORED and self._connection.up:
            self._said_at = now
            self._say_stored()

    def _gather(self) -> None:
        """Waits a moment for more, so that many lines are stored at once."""
        end = time.monotonic() + BATCH
        while (left := end - time.monotonic()) > 0 and len(self._connection.messages) < RECEIVE // 2:
            self._connection.work(left)
            if not self._connection.up:
                return

    def _take(self, messages: list[BrokerMessage], now: float) -> None:
        lines: dict[Key, list[bytes]] = {}
        extents: dict[Key, Extent] = {}
        pictures: dict[Key, list[bytes]] = {}
        for message in messages:
            self._sort(message, lines, extents, pictures)
        try:
            database = self._opened()
            outcomes = database.store(lines) if lines else {}
            for key in database.store_pictures(pictures):
                self._complain(key, "a picture came that no line of it names, or that is too large")
            self._compare(database, extents, outcomes, now)
            self._lack(database, {*lines, *extents, *pictures}, now)
        except (psycopg.Error, BadDatabase) as error:
            self._failed(error, now)
            return
        self._wait.reset()
        if self._trouble:
            self._trouble = ""
            self._say("database: all is stored again")
        for message in messages:
            self._connection.acknowledge(message)  # one of an old connection comes again, and is known then
        del self._connection.messages[: len(messages)]
        self.stored += len(messages)

    def _sort(
        self,
        message: BrokerMessage,
        lines: dict[Key, list[bytes]],
        extents: dict[Key, Extent],
        pictures: dict[Key, list[bytes]],
    ) -> None:
        topic = topics.split(message.topic, self._broker.shop)
        if topic is None or topic.kind in {topics.RESEND, topics.STORED}:
            return
        key = (topic.machine, topic.recording)
        if topic.kind == topics.EXTENT:
            try:
                extents[key] = msgspec.json.decode(message.payload, type=Extent)
            except (msgspec.MsgspecError, UnicodeError):
                self._complain(key, f"its extent cannot be read: {message.payload[:60]!r}")
        elif topic.kind == topics.PICTURE_FILE:
            pictures.setdefault(key, []).append(message.payload)
        elif topic.kind == topics.LINES:
            lines.setdefault(key, []).extend(message.payload.split(b"\n"))
        else:
            lines.setdefault(key, []).append(message.payload)

    def _compare(
        self, database: Database, extents: dict[Key, Extent], outcomes: dict[Key, StoreOutcome], now: float
    ) -> None:
        """What is missing after these lines, and by what publishers say of their recordings."""
        if extents:
            held = database.held(extents)
            for key, extent in extents.items():
                there = held.get(key)
                number = there.next if there is not None else -1
                if number >= extent.next > 0:
                    self._agree(database, key, extent, number, there.chain if there is not None else "")
                self._gaps.note(key, number, extent.next, now)
                if there is not None:
                    self._to_say[key] = Stored(number, there.chain)
        for key, outcome in outcomes.items():
            self._gaps.note(key, outcome.next, max(outcome.missing, self._gaps.end_of(key)), now)
            if outcome.chain:
                self._to_say[key] = Stored(outcome.next, outcome.chain)
            for why in outcome.refused:
                self._complain(key, why)

    def _lack(self, database: Database, keys: set[Key], now: float) -> None:
        """Notes which recordings lack the file of a picture that their lines name."""
        found = database.lacking_pictures(keys)
        for key in keys:
            lacking = found.get(key, [])
            for seq in {*lacking, *self._lacked.pop(key, [])}:
                self._lacking.note((*key, seq), seq, seq + (seq in lacking), now)
            if lacking:
                self._lacked[key] = lacking
            if key in self._to_say:
                self._to_say[key] = structs.replace(self._to_say[key], lacking=len(lacking))

    def _agree(self, database: Database, key: Key, extent: Extent, number: int, chain: str) -> None:
        """Whether the publisher's recording is the one that is stored, by the chain at its end."""
        there = chain if number == extent.next else database.chain_at(key, extent.next)
        if there is not None and there != extent.chain:
            self._complain(
                key,
                f"at event {extent.next - 1} its machine has chain {extent.chain}, and {there} is stored: "
                "the recording was changed after it was published",
            )

    def _ask(self, now: float) -> None:
        if not self._connection.up:
            return
        pictures = ((key[:2], wanted) for key, wanted in self._lacking.due(now))
        for (machine, recording), wanted in (*self._gaps.due(now), *pictures):
            topic = topic_of(self._broker.shop, machine, recording, topics.RESEND)
            self._connection.publish(topic, encoded(wanted), expiry=int(LIVES))

    def _say_stored(self) -> None:
        """Tells publishers how far their recordings are stored."""
        for (machine, recording), stored in self._to_say.items():
            topic = topic_of(self._broker.shop, machine, recording, topics.STORED)
            self._connection.publish(topic, encoded(stored), retain=True, expiry=topics.WEEK)
        self._to_say.clear()
        self._connection.acknowledged.clear()
        self._connection.refused.clear()

    def _opened(self) -> Database:
        if self._database is None:
            migrate(self._url)
            self._database = Database(self._url)
        return self._database

    def _failed(self, error: Exception, now: float) -> None:
        """Nothing was stored: nothing is acknowledged, and it is tried again after a growing wait."""
        why = why_of(error)
        if self._database is not None and not isinstance(error, psycopg.errors.DiskFull):
            self._database.close()
            self._database = None
        self._wait.failed(now)
        if why != self._trouble:
            self._trouble = why
            of = "" if isinstance(error, BadDatabase) else "database: "
            self._say(f"{of}{why}; nothing is acknowledged, trying again")

    def _complain(self, key: Key, why: str) -> None:
        if self._complained.get(key) != why:
            self._complained[key] = why
            self._say(f"{key[0]}/{key[1]}: refused: {why}")

    def close(self) -> None:
        """Ends both connections; the broker keeps what comes until it is started again."""
        self._connection.close()
        if self._database is not None:
            self._database.close()
