"""The dialect file: a taught format as TOML that a person can read and change, and every fault in one."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import islice
from typing import Any, Final

import msgspec

from capture.dialects.dialect import Dialect
from capture.dialects.taught.fields import faults_in
from capture.dialects.taught.format_faults import contradictions
from capture.dialects.taught.formats import Format, dialect
from capture.toml_text import BadToml, parse_toml

GUIDE = """\
# What a gauge's bytes mean; written by `tenths teach`, and meant to be read and changed.
#
# [frame]      where a message ends: kind = "line" (end = its last bytes), "fixed" (length = bytes;
#              twice = true: the next must stand in its place before one is read), "gap" (gap =
#              seconds of silence), "stuffed" (RFC 1055: ends in c0, which stands as db dc inside;
#              with flip = 32 as RFC 1662: a byte behind an escape has that bit changed), or "doubled"
#              (between 10 02 and 10 03, inside which a 10 stands twice).
# [check]      the sum at its end: kind, at (from the end: -1 is the last byte), size, written (big,
#              little, HEX, hex or decimal), start (first byte that it covers).
# [[sentence]] a line of text: number = which number on it counts; each `means` has the words before
#              and after the number, and what they mean. {digits} stands for digits that mean nothing,
#              {number} for a number that is not the reading, {number-} for one with its sign behind it.
#              fractions = true: 1 35/64.
#              hexadecimal = 6: counts of six such digits, with their sign as signed says.
#              counter = 4: words of four such digits are a running number; _ stands for each digit.
#              point, width, column, column_behind, plus, bare, length: how a whole number and a whole
#              line are written.
# [[record]]   bytes at fixed places, counted from 0: value.kind = "columns" (text), "digits" (coded
#              decimals), "count" (binary) or "float"; sign and unit are known or given by a byte (mask
#              = the bits that count, means = what each state means); constants = bytes that never
#              changed ("40/f0": 40 in the bits f0).
# display      decimals on the display, scale (number in the frame times this is the number shown),
#              limit (numbers as large as this were never taught).
#
# Whatever differs from all this is refused, never guessed. Two sentences or two records are two ways
# to understand what was taught: a frame is read only where both say the same. Delete the wrong one.
# parity = "E" or "O": the eighth bit of each byte is the even or odd parity of the other seven; "M": 1.
# hello = bytes to send when the link opens; ask = bytes to send for a reading.
"""


LARGEST: Final = 1 << 16
"""Characters in a dialect file; a taught one has a few thousand."""
MOST_FAULTS: Final = 50
"""Faults that are written out."""
LONGEST_FAULT: Final = 400
"""Characters."""


class BadFormat(ValueError):
    """A dialect file that can't be used, with every fault in it."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def load(text: str, name: str) -> Dialect:
    """The dialect that the file *name* with *text* describes; BadFormat names every fault in it."""
    return dialect(read_format(text, name), name)


def read_format(text: str, name: str) -> Format:
    """The format in the dialect file *name* with *text*; BadFormat names every fault in it."""
    try:
        plain = parse_toml(text, LARGEST)
    except BadToml as error:
        raise BadFormat([f"{name}: {error}; TOML was due"]) from None
    faults = _first(faults_in(plain, Format))
    if not faults:
        format_ = msgspec.convert(plain, Format)
        faults = _first(contradictions(format_))
        if not faults:
            return format_
    raise BadFormat([f"{name}: {fault}" for fault in faults])


def _first(faults: Iterator[str]) -> list[str]:
    """The faults that a person reads, each short enough for a line or two."""
    found = [_shortened(fault) for fault in islice(faults, MOST_FAULTS)]
    return [*found, "more faults than these"] if next(faults, None) is not None else found


def _shortened(fault: str) -> str:
    """What came may be as long as the file."""
    half = LONGEST_FAULT // 2
    return fault if len(fault) <= LONGEST_FAULT else f"{fault[:half]} … {fault[-half:]}"


def write_format(format_: Format) -> str:
    """*format_* as the text of a dialect file; `read_format` gives the same format back."""
    plain = msgspec.to_builtins(format_)
    single = [f"{key} = {_inline(value)}" for key, value in plain.items() if isinstance(value, str)]
    tables = [
        line for key, value in plain.items() if not isinstance(value, str) for line in _table(key, value)
    ]
    return "\n".join([GUIDE, *single, *tables, ""])


def _table(name: str, value: Any) -> Iterator[str]:
    """A table, or an array of tables, of the top level; None and empty ones are left out."""
    if isinstance(value, dict):
        yield f"[{name}]"
        yield from (f"{key} = {_inline(inner)}" for key, inner in value.items())
        yield ""
    elif isinstance(value, list | tuple):
        for each in value:
            yield f"[[{name}]]"
            flat = {key: inner for key, inner in each.items() if not _many(inner)}
            yield from (f"{key} = {_inline(inner)}" for key, inner in flat.items())
            for key in each.keys() - flat.keys():
                yield f"{key} = ["
                yield from (f"  {_inline(inner)}," for inner in each[key])
                yield "]"
            yield ""


def _many(value: Any) -> bool:
    return isinstance(value, list | tuple)


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {_inline(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, str):
        return json.dumps(value).replace("\x7f", "\\u007f")
    return json.dumps(value)


def _key(key: str) -> str:
    return key if key.isidentifier() and key.isascii() else json.dumps(key)
