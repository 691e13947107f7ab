"""Files that only this user may read, and the folder where this user's running programs leave them."""

from __future__ import annotations

import errno
import os
import stat
import sys
from pathlib import Path
from typing import Final

from capture.host.disk import OPEN

LONGEST: Final = 64 << 10
"""Bytes of a private file that are read."""


def runtime_folder() -> Path:
    """A folder of the user's own, not made here."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home())) / "tenths"
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    if runtime and Path(runtime).is_dir():
        return Path(runtime) / "tenths"
    return Path.home() / ".cache" / "tenths"


def state_folder() -> Path:
    """A folder of the user's own that outlives a restart of the machine, not made here."""
    if sys.platform == "win32":
        return runtime_folder()
    return Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "tenths"


def write_private(path: Path, text: bytes) -> None:
    """Writes the whole content or none, never readable by another user; raises OSError."""
    draft = path.with_name(f"{path.name}.{os.getpid()}")
    draft.unlink(missing_ok=True)
    file = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | OPEN, 0o600)
    try:
        whole = os.write(file, text) == len(text)
    except OSError:
        draft.unlink()  # a full disk takes the name and not the content
        raise
    finally:
        os.close(file)
    if not whole:
        draft.unlink()
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    draft.replace(path)


def read_private(path: Path) -> bytes:
    """The content of a regular file of this user's own; raises OSError."""
    file = os.open(path, os.O_RDONLY | OPEN | getattr(os, "O_NONBLOCK", 0))
    try:
        facts = os.fstat(file)
        if not stat.S_ISREG(facts.st_mode):
            raise OSError("not a regular file")
        if sys.platform != "win32" and facts.st_uid != os.geteuid():
            raise OSError("the file belongs to another user")
        return os.read(file, LONGEST)
    finally:
        os.close(file)


def others_may_read(path: Path) -> bool:
    """Whether another user of this machine may read the file; Windows keeps to the rights of the folder."""
    return sys.platform != "win32" and bool(path.stat().st_mode & 0o077)
