"""The disk: what is on it for good, and whose file it is."""

from __future__ import annotations

import errno
import os
import stat
import sys
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import Final

OPEN: Final = getattr(os, "O_BINARY", 0)
"""For every `os.open`: Windows must not translate line ends."""

SMALL: Final = 1 << 20
"""Bytes in a sheet, a dialect file or another that a person could have written."""

if sys.platform == "win32":
    import msvcrt

    def lock(file: int) -> bool:
        """Whether this process now holds the lock, until it ends however it ends, or closes *file*."""
        where = os.lseek(file, 0, os.SEEK_CUR)
        # Far behind any content: there a Windows lock keeps nobody from reading.
        os.lseek(file, 1 << 40, os.SEEK_SET)
        try:
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        finally:
            os.lseek(file, where, os.SEEK_SET)
        return True
else:
    import fcntl

    def lock(file: int) -> bool:
        """Whether this process now holds the lock, until it ends however it ends, or closes *file*."""
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


def sync(file: int) -> None:
    """Returns when all that was written to *file* is on the disk itself, not in its cache."""
    if sys.platform == "darwin":
        fcntl.fcntl(file, fcntl.F_FULLFSYNC)
    elif sys.platform == "win32":
        os.fsync(file)
    else:
        os.fdatasync(file)


def open_regular(path: Path) -> int:
    """Opens a regular file for reading; what else bears the name is refused, and a pipe not waited for.

    Raises:
        OSError: There is none, or it cannot be read.
    """
    file = os.open(path, os.O_RDONLY | OPEN | getattr(os, "O_NONBLOCK", 0))
    if not stat.S_ISREG(os.fstat(file).st_mode):
        os.close(file)
        raise OSError(
            errno.EINVAL, "a pipe, a device or a folder came, but a regular file was due", str(path)
        )
    return file


def read_small(path: Path, most: int = SMALL) -> bytes:
    """The content of a regular file that is small by nature: a sheet, a dialect, a picture.

    Raises:
        OSError: There is none, it cannot be read, or it has more than *most* bytes.
    """
    with os.fdopen(open_regular(path), "rb") as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise OSError(errno.EFBIG, f"more than {most} bytes came, which is too large a file", str(path))
    return content


def read_small_text(path: Path, most: int = SMALL) -> str:
    """The same of text in UTF-8, each line end as one LF; raises OSError where it is none, too."""
    try:
        with TextIOWrapper(BytesIO(read_small(path, most)), "utf-8") as text:
            return text.read()
    except UnicodeDecodeError as error:
        raise OSError(
            errno.EILSEQ, f"text in UTF-8 was due, but byte {error.start} is none", str(path)
        ) from None


def sync_folder(folder: Path) -> None:
    """Returns when the names in *folder* are on disk; Windows does that by itself."""
    if sys.platform != "win32":
        file = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(file)
        finally:
            os.close(file)


def write_all(file: int, data: bytes) -> None:
    """Writes all of *data*, in as many calls as the host needs."""
    written = os.write(file, data)
    rest = memoryview(data)[written:]
    while rest:
        rest = rest[os.write(file, rest) :]
