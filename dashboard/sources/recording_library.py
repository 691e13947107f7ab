"""Finds the recordings and sheets of the dashboard's folder by name and never by a path."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Final

from cachetools import LRUCache

from capture.recording.reader import BadRecording
from capture.sessions import Opened, opened

LARGEST: Final = 64 << 20
"""Bytes of a recording up to which a page reads it through beside the one that is followed."""
KEPT: Final = 3
"""Recordings that are kept as they were read."""

Stamp = tuple[int, int]


class TooLarge(Exception):
    """A recording that is too large to be read through while a page waits."""


class RecordingLibrary:
    """One folder; every name that is asked for must be one that lies in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        self._lock = threading.Lock()
        self._kept: LRUCache[str, tuple[Stamp, Opened]] = LRUCache(KEPT)

    def recordings(self) -> dict[str, Path]:
        """The recordings by file name, the newest first."""
        return self._files("*.jsonl")

    def sheets(self) -> dict[str, Path]:
        """The job sheets by file name, the newest first."""
        return self._files("*.toml")

    def opened(self, name: str, *, most: int = LARGEST) -> Opened:
        """The recording of that name at its end.

        Raises:
            BadRecording: There is none in this folder, or it cannot be read.
            TooLarge: It has more than *most* bytes.
        """
        path = self.recordings().get(name)
        if path is None:
            raise BadRecording(f"{name}: no recording of this name in this folder")
        try:
            facts = path.stat()
        except OSError as error:
            raise BadRecording(f"{name}: cannot be read: {error.strerror or error}") from None
        stamp = (facts.st_mtime_ns, facts.st_size)
        if facts.st_size > most:
            raise TooLarge(f"{name}: {facts.st_size >> 20} MiB; read it with tenths fit or tenths export")
        with self._lock:
            kept = self._kept.get(name)
            if kept is not None and kept[0] == stamp:
                return kept[1]
            found = opened(path)
            self._kept[name] = (stamp, found)
            return found

    def _files(self, pattern: str) -> dict[str, Path]:
        found: list[tuple[int, str, Path]] = []
        for path in self.folder.glob(pattern):
            try:
                # A link may lead anywhere; what it leads to does not lie in this folder.
                if path.resolve().parent == self.folder and path.is_file():
                    found.append((path.stat().st_mtime_ns, path.name, path))
            except OSError:
                continue  # gone between the two looks
        return {name: path for _, name, path in sorted(found, reverse=True)}
