"""Fuzzes the dialect file: it is taken or refused, and what it describes hears any bytes without a fault."""

from __future__ import annotations

import random
import sys

from fuzzing import fuzz

from capture.dialects.dialect import Decoder
from capture.dialects.taught.format_files import BadFormat, load

HEARD = random.Random(1).randbytes(4096) + b"+055.0123 mm\r\n" * 20 + b"+" * 3000  # noqa: S311 - rubbish


def target(data: bytes) -> None:
    """Load a file and have its dialect listen; raises if a byte is lost or a fault comes out."""
    try:
        dialect = load(data.decode("utf-8", "replace"), "taught.toml")
    except BadFormat as error:
        if not error.faults or not all(error.faults):
            raise RuntimeError("refused without a word") from error
        return
    decoder, heard = Decoder(dialect).feed(HEARD)
    raws = "".join(fact.raw for fact in [*heard, *decoder.close()])
    if len(raws) > len(HEARD):
        raise RuntimeError("more was heard than was said")


if __name__ == "__main__":
    sys.exit(fuzz("dialect", target))
