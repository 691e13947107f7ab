"""What of a recording was published, remembered in a file beside it: never ahead of the broker's word."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import msgspec
from msgspec import Struct

from capture.host.disk import OPEN, sync, sync_folder, write_all

SUFFIX: Final = ".published"


class Published(Struct, frozen=True):
    """How far one recording was published to one place."""

    next: int = -1
    """Every line before this number was taken by the broker; -1: not even the header."""
    chain: str = ""
    """The chain after the line before it: another there is another recording."""
    stored: int = -1
    """Every line before this number is in an archive, as the archive confirmed."""
    lacking: int = 0
    """Pictures of those lines whose files it lacked then."""
    bytes: int = -1
    """Size of the file when all of it was taken; it is not read again until that changes."""
    wall: int = 0
    """Nanoseconds since 1970 at its last event."""


class _File(Struct, frozen=True):
    recording: str
    to: Mapping[str, Published]


def remembered(path: Path, recording: str, place: str) -> Published:
    """What the file beside the recording at *path* says of *place*; nothing published where it says nothing.

    A file that is cut, or of another recording, is as good as none: all is published once more.
    """
    found = _read(path)
    if found is None or found.recording != recording:
        return Published()
    return found.to.get(place, Published())


def name_of(path: Path) -> str:
    """The name in a shop of the recording at *path* as it was last published; empty where it was not."""
    found = _read(path)
    return "" if found is None else found.recording


def remember(path: Path, recording: str, place: str, published: Published) -> None:
    """Writes it down for good, in one piece.

    Raises:
        OSError: It cannot be written.
    """
    found = _read(path)
    to = dict(found.to) if found is not None and found.recording == recording else {}
    file = beside(path)
    draft = file.with_name(file.name + ".new")
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | OPEN, 0o644)
    try:
        write_all(handle, msgspec.json.encode(_File(recording, {**to, place: published})))
        sync(handle)
    finally:
        os.close(handle)
    draft.replace(file)
    sync_folder(file.parent)


def beside(path: Path) -> Path:
    """The file of a recording's memory."""
    return path.with_name(path.name + SUFFIX)


def _read(path: Path) -> _File | None:
    try:
        return msgspec.json.decode(beside(path).read_bytes(), type=_File)
    except (OSError, msgspec.MsgspecError, UnicodeError):
        return None
