"""An hour of one machine that comes while the database is stopped: when it is stored, and whether whole.

``python -m capture.benchmarks.trials.shop.backlog FOLDER [--minutes 60]``. The recording is written at once,
as long as the hour makes it; broker, archive, publisher and database are real and share this machine.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Final

import psycopg

from capture.benchmarks.trials.process_usage import usage
from capture.benchmarks.trials.shop.engines import Mosquitto, Postgres
from capture.benchmarks.trials.shop.scale import RATE, GrowingRecording, stands

LONGEST: Final = 500.0


def tenths(*words: str) -> list[str]:
    """The words that start a command of ours."""
    return [sys.executable, "-m", "capture.cli", *words]


def stored(url: str, due: int) -> float:
    """Seconds until *due* events are stored, or as many as `LONGEST` has."""
    begun = time.monotonic()
    with psycopg.connect(url, autocommit=True) as one:
        while time.monotonic() - begun < LONGEST:
            row = one.execute("SELECT max(next) FROM store.recordings").fetchone()
            if row is not None and row[0] == due:
                break
            time.sleep(0.2)
    return time.monotonic() - begun


def trial(minutes: float, folder: Path, server: Postgres) -> dict[str, Any]:
    """The figures of one backlog."""
    broker, url = Mosquitto(folder / "broker"), server.create("backlog")
    place = Path(tempfile.mkdtemp(dir=folder))
    archive = subprocess.Popen(tenths("archive", "--broker", broker.url, "--database", url, "--name", "one"))
    stands(url, 0)
    before = usage(archive.pid)
    server.stop()
    recording = GrowingRecording(place / "hour.jsonl", 0)
    for number in range(int(minutes * 60 * RATE)):
        recording.tick(number)
    begun = time.monotonic()
    words = (str(place), "--broker", broker.url, "--machine", "m0", "--once")
    subprocess.run(tenths("publish", *words), check=True, timeout=LONGEST, stdout=subprocess.DEVNULL)
    published = time.monotonic() - begun
    waiting = usage(archive.pid)
    server.start()
    taken = stored(url, recording.seq)
    after = usage(archive.pid)
    archive.terminate()
    archive.wait(20)
    out = place / "out.jsonl"
    give = tenths("archive", "--database", url, "--take-out", "hour", "-o", str(out))
    subprocess.run(give, check=True, stdout=subprocess.DEVNULL)
    broker.stop()
    return {
        "events": recording.seq,
        "published_in": published,
        "stored_after": taken,
        "byte_equal": out.read_bytes() == (place / "hour.jsonl").read_bytes(),
        "archive_mib": [before.mib, waiting.mib, after.mib],
        "load": float(Path("/proc/loadavg").read_text("ascii").split()[0]),
    }


def main() -> None:
    """One backlog."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--minutes", type=float, default=60.0)
    given = parser.parse_args()
    server = Postgres(more="", place=given.folder)
    try:
        sys.stdout.write(json.dumps(trial(given.minutes, given.folder, server)) + "\n")
    finally:
        server.close()


if __name__ == "__main__":
    main()
