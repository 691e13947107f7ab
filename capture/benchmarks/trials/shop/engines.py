"""The engines of a shop, real ones on loopback, each in a folder of its own: for trials and tests."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

import psycopg

MOSQUITTO: Final = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
BINARIES: Final = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
PATIENCE: Final = 10.0
CONF: Final = """
listener {port} 127.0.0.1
allow_anonymous true
max_inflight_messages 2000
max_queued_messages 1000000
"""


class NoEngine(Exception):
    """An engine did not start: its output."""


def free_port() -> int:
    """A port of loopback that nobody uses now."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port


class Mosquitto:
    """A broker of our own, which can be killed and come back."""

    def __init__(self, folder: Path, conf: str = CONF, port: int = 0) -> None:
        self.port = port or free_port()
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self.conf = folder / "tested.conf"
        self.conf.write_text(conf.format(port=self.port) + "\nuser root\n", "utf-8")
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    @property
    def url(self) -> str:
        """Where it is, for the shop *shop*."""
        return f"mqtt://127.0.0.1:{self.port}/shop"

    def start(self) -> None:
        """Starts it and waits until it listens."""
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen([MOSQUITTO, "-c", str(self.conf)], stdout=log, stderr=log)
        end = time.monotonic() + PATIENCE
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), 1).close()
            except OSError:
                if self.process.poll() is not None or time.monotonic() > end:
                    raise NoEngine((self.folder / "log").read_text("utf-8", "replace")) from None
                time.sleep(0.02)
            else:
                return

    def stop(self, number: int | None = None) -> None:
        """Ends it by a signal; by none given, as a crash would."""
        if self.process is not None:
            if number is None:
                self.process.kill()
            else:
                self.process.send_signal(number)
            self.process.wait(PATIENCE)
            self.process = None


class Postgres:
    """A database server of our own; it refuses to run as root, so there it runs as its own user.

    Its data are in a scratch folder that every user may get to, which `close` removes.
    """

    def __init__(self, more: str = "fsync=off\n", place: Path | None = None) -> None:
        """Starts it, with *more* lines of settings and its scratch folder in *place*."""
        self.port = free_port()
        self.folder = folder = Path(tempfile.mkdtemp(prefix="tenths-postgres-", dir=place))
        self._owner: list[str] = []
        if sys.platform != "win32" and os.getuid() == 0:
            self._owner = ["setpriv", "--reuid=postgres", "--regid=postgres", "--init-groups"]
            shutil.chown(folder, "postgres", "postgres")
        self.data = folder / "data"
        self._run("initdb", "-D", str(self.data), "-U", "tester", "-A", "trust", "-E", "UTF8", "--no-sync")
        with (self.data / "postgresql.conf").open("a") as conf:
            conf.write(
                f"listen_addresses='127.0.0.1'\nport={self.port}\nunix_socket_directories=''\n"
                f"log_min_messages=warning\nmax_wal_size=256MB\n{more}"
            )
        self.start()

    def _run(self, name: str, *words: str) -> None:
        done = subprocess.run(
            [*self._owner, str(BINARIES[-1] / name), *words],
            cwd="/",
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
        if done.returncode != 0:
            raise NoEngine(done.stdout + done.stderr)

    def start(self) -> None:
        """Starts it and waits until it answers."""
        self._run("pg_ctl", "-D", str(self.data), "-l", str(self.folder / "log"), "-w", "start")

    def stop(self) -> None:
        """Ends it as a crash would."""
        self._run("pg_ctl", "-D", str(self.data), "-m", "immediate", "-w", "stop")

    def close(self) -> None:
        """Stops it and removes its data."""
        try:
            self.stop()
        finally:
            shutil.rmtree(self.folder)

    def url(self, name: str = "postgres") -> str:
        """Where a database of it is."""
        return f"postgresql://tester@127.0.0.1:{self.port}/{name}"

    def create(self, name: str) -> str:
        """A new database, by its URL."""
        with psycopg.connect(self.url(), autocommit=True) as one:
            one.execute(f"CREATE DATABASE {name}".encode())
        return self.url(name)
