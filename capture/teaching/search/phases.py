"""Judges where in a stream a frame begins: by its check, its head, and what must not be parted."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count

from capture.dialects.taught.formats import SURE, Format
from capture.teaching.search.frames import TEXT, FrameCut

TAILS = (b"", b"\r", b"\n", b"\r\n", b"\x03", b"\x04")
"""What usually stands behind a check."""


def most_natural(found: Sequence[tuple[FrameCut, Format]]) -> Format | None:
    """Of formats that differ in where a frame begins, the one with a head and its check last, if one has."""
    natural = sorted((format_ for _, format_ in found), key=_oddity)
    if natural[0].check is None:  # all read the same of a stream: only where a frame is said to begin differs
        return max(natural, key=_heads)
    return None if len(natural) > 1 and _oddity(natural[0]) == _oddity(natural[1]) else natural[0]


def _oddity(format_: Format) -> tuple[bool, int, int, int, int]:
    """How unusual the place of a check is: it stands last, or before the end of a line or a text."""
    check = format_.check
    if check is None:
        return True, 0, 0, 0, 0
    behind = -check.at - check.size
    fixed = {at: value for at, mask, value in format_.record[0].fixed if mask == 0xFF} if behind else {}
    length = format_.record[0].length
    tail = bytes(fixed[at] for at in range(length - behind, length) if at in fixed)
    return check.plus != 0, check.skip, 0 if tail in TAILS else behind, check.start, behind


def _heads(format_: Format) -> int:
    """How many bytes at the beginning of a record never change."""
    fixed = {at for at, mask, _ in format_.record[0].fixed if mask == 0xFF} if format_.record else set()
    return next(at for at in count() if at not in fixed)


def headed(format_: Format) -> bool:
    """Whether bytes that never change tell beyond doubt where a record begins."""
    return bool(format_.record) and format_.head_bits >= SURE and _heads(format_) > 0


def undivided(format_: Format, way: FrameCut) -> bool:
    """Whether value, sign and unit surely belong to one message, wherever in the stream one is said to begin.

    A sign of text stands before its digits. Of bytes, what never changes and might be a head must not stand
    between them twice: then a sign may belong to the value before it or to the one behind it.
    """
    record = format_.record[0]
    signs = [] if isinstance(record.sign, str) else [flag.at for flag in record.sign]
    if all(not p.strip(TEXT) for some in way.pieces for p in some):
        return all(at < min(record.value.bits()) for at in signs)
    units = [] if isinstance(record.unit, str) else [flag.at for flag in record.unit]
    used = {*record.value.bits(), *signs, *units}
    heads = {at for at, mask, value in record.fixed if mask == 0xFF and value and at not in used}
    between = [at for at in range(min(used), max(used)) if at in heads]
    if not between:
        return True
    rest = len(heads) - len(between)
    return rest >= 2 and len(between) < 2 and len(signs) + len(units) < 2
