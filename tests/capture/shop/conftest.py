"""Real engines on loopback, each in a folder of its own: a broker, a database, a network to be cut."""

from __future__ import annotations

import contextlib
import os
import selectors
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import psycopg
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from capture.benchmarks.trials.shop.engines import BINARIES, MOSQUITTO, Mosquitto, Postgres, free_port
from capture.commands.shop.stored import give_out
from capture.shop.messages.topics import recording_name
from tests.capture.shop.processes import Command

__all__ = ["free_port"]


def lacking(what: str) -> None:
    """On a user's machine a reason to skip; in CI a failure."""
    missing = pytest.fail if os.environ.get("CI") else pytest.skip
    missing(f"{what} is not installed: the shop is not tested here (Debian: apt install {what})")


class Cable:
    """A TCP proxy: what a network does to a connection when it is cut, here at will."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        self._pairs: list[tuple[socket.socket, socket.socket]] = []
        self._lock = threading.Lock()
        self.cut = False
        """Cut: nothing passes, and nobody is told."""
        self._ended = False
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while not self._ended:
            try:
                near, _ = self._listening.accept()
                if self.cut:
                    near.close()
                    continue
                far = socket.create_connection(("127.0.0.1", self._to), 5)
            except OSError:
                continue
            with self._lock:
                self._pairs.append((near, far))
            threading.Thread(target=self._carry, args=(near, far), daemon=True).start()

    def _carry(self, near: socket.socket, far: socket.socket) -> None:
        selector = selectors.DefaultSelector()
        try:
            selector.register(near, selectors.EVENT_READ, far)
            selector.register(far, selectors.EVENT_READ, near)
            while True:
                for key, _ in selector.select(0.2):
                    if self.cut:
                        time.sleep(0.05)
                        continue
                    data = key.fileobj.recv(65536)  # type: ignore[union-attr]
                    if not data:
                        return
                    key.data.sendall(data)
        except (OSError, ValueError):
            return
        finally:
            near.close()
            far.close()

    def tear(self) -> None:
        """Cuts it so that both ends see it."""
        self.cut = True
        with self._lock:
            for pair in self._pairs:
                for one in pair:
                    with contextlib.suppress(OSError):
                        one.shutdown(socket.SHUT_RDWR)
            self._pairs.clear()

    def mend(self) -> None:
        self.cut = False

    def close(self) -> None:
        self._ended = True
        self.tear()
        self._listening.close()


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    if not BINARIES:
        lacking("postgresql")
    server = Postgres()
    yield server
    server.close()


@pytest.fixture
def database(postgres: Postgres, request: pytest.FixtureRequest) -> str:
    """A new database, by its URL."""
    return postgres.create("shop_" + format(abs(hash(request.node.name)) % 10**9, "d"))


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    if not Path(MOSQUITTO).exists():
        lacking("mosquitto")
    broker = Mosquitto(tmp_path / "broker")
    yield broker
    broker.stop()


@pytest.fixture
def cable() -> Iterator[Callable[[int], Cable]]:
    """Makes cables to a port."""
    made: list[Cable] = []

    def lay(port: int) -> Cable:
        made.append(Cable(port))
        return made[-1]

    yield lay
    for one in made:
        one.close()


class Commands:
    """Commands as processes in a folder, and what they say."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._running: list[Command] = []
        self._logs = folder / "said"
        self._logs.mkdir()

    def start(self, *words: str, **environment: str) -> Command:
        log = self._logs / str(len(self._running))
        log.touch()
        self._running.append(Command(*words, folder=self.folder, environment=environment, log=log))
        return self._running[-1]

    def said(self, process: Command) -> str:
        """What a process has said so far."""
        said = (self._logs / str(self._running.index(process))).read_text("utf-8")
        assert "Traceback" not in said, said
        return said

    def run(self, *words: str, status: int = 0, **environment: str) -> str:
        process = self.start(*words, **environment)
        ended = process.wait(60)
        said = self.said(process)
        assert ended == status, said
        return said

    def stop(self, process: Command) -> str:
        process.terminate()
        process.wait()
        return self.said(process)

    def close(self) -> None:
        for process in self._running:
            process.kill()
            process.wait()


@pytest.fixture
def commands(tmp_path: Path) -> Iterator[Commands]:
    made = Commands(tmp_path)
    yield made
    made.close()


class Shop(Commands):
    """Commands of a shop, and what is stored."""

    def __init__(self, folder: Path, broker: str, database: str) -> None:
        super().__init__(folder)
        self.broker, self.database = broker, database

    def archive(self, *more: str, broker: str = "", name: str = "one") -> Command:
        words = ("--broker", broker or self.broker, "--database", self.database, "--name", name)
        return self.start("archive", *words, *more)

    def publish(self, path: Path, *more: str, broker: str = "", machine: str = "g1") -> Command:
        return self.start(
            "publish", str(path), "--broker", broker or self.broker, "--machine", machine, *more
        )

    def stored(self) -> dict[tuple[str, str], int]:
        """Events stored, by machine and recording."""
        try:
            with psycopg.connect(self.database) as one:
                rows = one.execute("SELECT machine, recording, events FROM recordings").fetchall()
        except psycopg.Error:
            return {}
        return {(row[0], row[1]): row[2] for row in rows}

    def query(self, text: str) -> list[tuple[Any, ...]]:
        with psycopg.connect(self.database) as one:
            return one.execute(text).fetchall()

    def take_out(self, stem: str, machine: str = "g1") -> bytes:
        """A recording as `archive --take-out` gives it out."""
        out = self.folder / "taken-out.jsonl"
        assert give_out(self.database, stem, (machine,), out) == 0
        return out.read_bytes()


@pytest.fixture
def shop(tmp_path: Path, mosquitto: Mosquitto, database: str) -> Iterator[Shop]:
    made = Shop(tmp_path, mosquitto.url, database)
    yield made
    made.close()


@pytest.fixture
def said_by(mosquitto: Mosquitto) -> Iterator[Callable[..., Any]]:
    """Says anything on any topic, as a program that is not ours could; with the name that a recording has."""
    client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
    client.connect("127.0.0.1", mosquitto.port)
    client.loop_start()

    def say(topic: str, payload: bytes) -> None:
        client.publish(topic, payload, qos=1).wait_for_publish(10)

    def saying(header: bytes, stem: str = "any") -> tuple[Callable[[str, bytes], None], str]:
        return say, recording_name(stem, header)

    yield saying
    client.disconnect()
    client.loop_stop()


@pytest.fixture(scope="session")
def engine() -> Any:
    """This module: the engines, for tests that start their own."""
    return sys.modules[__name__]
