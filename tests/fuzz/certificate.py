"""Fuzzes a digital calibration certificate: what it says is read, or it is refused with what was due."""

from __future__ import annotations

import sys
from datetime import date
from math import isfinite

from fuzzing import fuzz

from capture.analysis.calibration_certificate import BadCertificate, read_certificate


def target(data: bytes) -> None:
    """Read it; raises if a length is no number, a day is none, or a name could do something."""
    try:
        found = read_certificate(data)
    except BadCertificate as error:
        if not str(error).strip():
            raise RuntimeError("refused without a word") from error
        return
    for day in filter(None, (found.performed, found.issued)):
        date.fromisoformat(day)
    for length in found.lengths:
        if not all(isfinite(number) for number in (length.value, length.u or 0.0, length.expanded or 0.0)):
            raise RuntimeError(f"no number: {length}")
    for text in (found.number, found.item, *found.marks, *(length.name for length in found.lengths)):
        if not text.isprintable():
            raise RuntimeError(f"a name with controls: {text!r}")


if __name__ == "__main__":
    sys.exit(fuzz("certificate", target))
