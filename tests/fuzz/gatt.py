"""Fuzzes values from the air: whatever a device says of itself is a reading or garbled, however it is cut."""

from __future__ import annotations

import sys

from fuzzing import fuzz

from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Decoder, Dialect
from capture.dialects.gatt import NUMBERS, battery, bordered, whole
from capture.events import Decoded
from capture.links.bluetooth.values import plain

LINES = whole(decimal_line())


def heard(dialect: Dialect, data: bytes, size: int) -> list[Decoded]:
    """What *data* says in pieces of *size* bytes."""
    decoder, said = Decoder(dialect), []
    for at in range(0, len(data), size):
        decoder, some = decoder.feed(data[at : at + size])
        said += some
    return said


def target(data: bytes) -> None:
    """Read as numbers, as lines, as a battery and as a name; raises if cutting changes what is read."""
    for dialect in (NUMBERS, LINES):
        for stream in (data, bordered(data)):
            once, bytewise = heard(dialect, stream, len(stream) or 1), heard(dialect, stream, 1)
            if once != bytewise:
                raise RuntimeError(f"{dialect.name}: {once} at once, {bytewise} byte by byte")
    level = battery(data)
    if level is not None and not 0 <= level <= 100:
        raise RuntimeError(f"a battery of {level} per cent")
    name = plain(data.decode("utf-8", "replace"))
    if not name.isprintable():
        raise RuntimeError(f"a name with controls: {name!r}")


if __name__ == "__main__":
    sys.exit(fuzz("gatt", target))
