"""What a process takes of a Linux machine, by /proc."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from msgspec import Struct


class Usage(Struct, frozen=True):
    """Resident MiB, open files, threads, and processor seconds since it began."""

    mib: float
    files: int
    threads: int
    cpu: float


def usage(pid: int) -> Usage:
    """What process *pid* takes.

    Raises:
        OSError: There is no such process, or the machine has no /proc.
    """
    if sys.platform != "linux":
        raise OSError("a process is looked at in /proc, which Linux alone has")
    place = Path(f"/proc/{pid}")
    fields = (place / "stat").read_text("ascii").rpartition(")")[2].split()
    return Usage(
        mib=int((place / "statm").read_text("ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20,
        files=len(list((place / "fd").iterdir())),
        threads=len(list((place / "task").iterdir())),
        cpu=(int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK"),
    )
