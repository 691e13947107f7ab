"""Fuzzes a taught gauge: a dialect file as somebody hands it over, and what its gauge then sends.

An input is the file, a line ``%%``, and the bytes. Where they are cut must not change what is heard.
"""

from __future__ import annotations

import sys

from fuzzing import fuzz

from capture.dialects.dialect import Decoder, Dialect
from capture.dialects.taught.format_files import BadFormat, load
from capture.events import Decoded, Reading


def heard(dialect: Dialect, data: bytes, size: int) -> list[Decoded]:
    """What *data* says in pieces of *size* bytes, to the link's end."""
    decoder, said = Decoder(dialect), []
    for at in range(0, len(data), size):
        decoder, some = decoder.feed(data[at : at + size])
        said += some
    return [*said, *decoder.close()]


def target(data: bytes) -> None:
    """Load and listen; raises if cutting changes what is read, or a number is none that JSON has."""
    text, _, sent = data.partition(b"\n%%\n")
    try:
        dialect = load(text.decode("utf-8", "replace"), "taught.toml")
    except BadFormat as error:
        if not error.faults or not all(error.faults):
            raise RuntimeError("refused without a word") from error
        return
    sent = sent[:8192]
    once = heard(dialect, sent, len(sent) or 1)
    if once != heard(dialect, sent, 1):
        raise RuntimeError("cut into bytes it says something else")
    if sum(len(one.raw) for one in once) > len(sent):
        raise RuntimeError("more was heard than was said")
    if any(isinstance(one, Reading) and not abs(one.value) < 1e30 for one in once):
        raise RuntimeError("a number that no gauge measures")


if __name__ == "__main__":
    sys.exit(fuzz("taught", target))
