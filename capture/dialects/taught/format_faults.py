"""Faults of a format that its types don't show: places outside the frame, units without a display."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation

from capture.dialects.decimal import SCALES
from capture.dialects.taught.checks import KINDS, FrameCheck
from capture.dialects.taught.formats import Format
from capture.dialects.taught.framing import LONGEST, DelimitedFrame, DoubledFrame, Fixed, StuffedFrame
from capture.dialects.taught.records import FlagByte, Record
from capture.dialects.taught.sentences import Sentence
from capture.dialects.taught.values import SWAPS_WORDS, Count, Display, Value

MOST_DECIMALS = 9
MOST_HEXADECIMAL = 16
MOST_WAYS = 64
MOST_MEANINGS = 256


def contradictions(format_: Format) -> Iterator[str]:
    """Each fault of a format whose fields are all of the right kind: the key, what came, what was due."""
    for key in ("hello", "ask"):
        yield from _wire(key, getattr(format_, key))
    yield from _frame(format_)
    if (ways := len(format_.sentence) + len(format_.record)) > MOST_WAYS:
        yield f"{ways} sentences and records, at most {MOST_WAYS} were due"
    if sum(len(sentence.means) for sentence in format_.sentence) > MOST_MEANINGS:
        yield f"the sentences have more than {MOST_MEANINGS} meanings, which keeps every line waiting"
    if not format_.sentence and not format_.record:
        yield "sentence and record are both missing, one of them was due"
    if format_.check:
        yield from _check(format_.check)
    for place, sentence in enumerate(format_.sentence):
        yield from _sentence(sentence, f"sentence[{place}]")
    for place, record in enumerate(format_.record):
        yield from _record(record, f"record[{place}]")


def _frame(format_: Format) -> Iterator[str]:
    frame = format_.frame
    if isinstance(frame, DelimitedFrame):
        yield from _wire("frame.end", frame.end)
        if not frame.end:
            yield "frame.end is empty, the bytes that end a line were due"
    elif isinstance(frame, StuffedFrame | DoubledFrame):
        yield from _marks(frame)
    elif frame.gap is not None and not 0 < frame.gap <= 60:
        yield f"frame.gap is {frame.gap}, seconds above 0 and up to 60 were due"
    if isinstance(frame, DelimitedFrame | DoubledFrame) and not 0 <= frame.more <= LONGEST:
        yield f"frame.more is {frame.more}, 0 or a few bytes were due"
    if isinstance(frame, Fixed):
        lengths = {record.length for record in format_.record}
        if not 0 < frame.length <= LONGEST or lengths != {frame.length}:
            yield f"frame.length is {frame.length}, the length of all records was due ({sorted(lengths)})"


def _marks(frame: StuffedFrame | DoubledFrame) -> Iterator[str]:
    if isinstance(frame, DoubledFrame):
        marks: tuple[int, ...] = (frame.escape, frame.begin, frame.end)
    else:
        marks = (frame.end, frame.escape, frame.escaped_end, frame.escaped_escape)
        if not 0 <= frame.flip < 256:
            yield f"frame.flip is {frame.flip}, 0 to 255 was due"
    if len(set(marks)) < len(marks) or not all(0 <= mark < 256 for mark in marks):
        due = {3: "three", 4: "four"}[len(marks)]
        yield f"frame has the bytes {marks}, {due} different ones from 0 to 255 were due"


def _wire(key: str, text: str) -> Iterator[str]:
    if not text.isascii() and any(ord(character) > 0xFF for character in text):
        yield f"{key} is {text!r}, characters of one byte were due"


def _check(check: FrameCheck) -> Iterator[str]:
    if check.kind not in KINDS:
        yield f"check.kind is {check.kind!r}, one of {', '.join(KINDS)} was due"
    if not 1 <= check.size <= 8:
        yield f"check.size is {check.size}, 1 to 8 bytes were due"
    elif not -LONGEST <= check.at <= -check.size:
        yield f"check.at is {check.at}, a place from the end was due: {-check.size} or less"
    for key in ("start", "skip"):
        if not 0 <= getattr(check, key) <= LONGEST:
            yield f"check.{key} is {getattr(check, key)}, 0 or a few bytes were due"


def _sentence(sentence: Sentence, where: str) -> Iterator[str]:
    if not 1 <= sentence.number <= LONGEST:
        yield f"{where}.number is {sentence.number}, 1 for the first number on the line was due"
    if not 0 <= sentence.hexadecimal <= MOST_HEXADECIMAL:
        due = f"0 to {MOST_HEXADECIMAL} digits were due"
        yield f"{where}.hexadecimal is {sentence.hexadecimal}, {due}"
    if not 0 <= sentence.counter <= MOST_HEXADECIMAL:
        yield f"{where}.counter is {sentence.counter}, 0 to {MOST_HEXADECIMAL} digits were due"
    if not sentence.means:
        yield f"{where}.means is empty, at least one meaning was due"
    for place, means in enumerate(sentence.means):
        yield from _display(means.display, f"{where}.means[{place}].display")


def _display(display: Display, where: str) -> Iterator[str]:
    if not 0 <= display.decimals <= MOST_DECIMALS:
        yield f"{where}.decimals is {display.decimals}, 0 to {MOST_DECIMALS} were due"
    for key in ("scale", "limit"):
        text = getattr(display, key)
        try:
            fine = Decimal(text).is_finite() and 0 < Decimal(text) < Decimal("1E+12")
        except InvalidOperation:
            fine = False
        if not fine:
            yield f'{where}.{key} is {text!r}, a number above 0 in quotes was due, such as "0.001"'
    try:
        fine = Decimal(display.spread).is_finite() and 0 <= Decimal(display.spread) < 1
    except InvalidOperation:
        fine = False
    if not fine:
        yield f'{where}.spread is {display.spread!r}, 0 to below 1 in quotes was due, such as "0.01"'


def _record(record: Record, where: str) -> Iterator[str]:
    if not 1 <= record.length <= LONGEST:
        yield f"{where}.length is {record.length}, 1 to {LONGEST} bytes were due"
        return
    yield from _value(record.value, record.length, f"{where}.value")
    for at, text in record.constants.items():
        if not re.fullmatch("[0-9]{1,3}", at) or int(at) >= record.length:
            yield f"{where}.constants: the key {at!r} is no byte of 0 to {record.length - 1}"
        if not re.fullmatch("[0-9a-fA-F]{1,2}(/[0-9a-fA-F]{1,2})?", text):
            yield f'{where}.constants.{at} is {text!r}, hexadecimal was due, such as "02" or "40/f0"'
    yield from _sign_and_unit(record, where)
    for unit, display in record.display.items():
        yield from _display(display, f"{where}.display.{unit}")


def _sign_and_unit(record: Record, where: str) -> Iterator[str]:
    """Faults of the sign and the unit, and units that have no display."""
    units: set[str] = {record.unit} if isinstance(record.unit, str) else set()
    for key, declared in (("sign", record.sign), ("unit", record.unit)):
        if isinstance(declared, str):
            continue
        due = ("+", "-") if key == "sign" else tuple(SCALES)
        if not declared:
            yield f"{where}.{key} is empty, at least one byte that tells it was due"
        for place, flag in enumerate(declared):
            yield from _flag(flag, due, record.length, f"{where}.{key}[{place}]")
            units |= set(flag.means.values()) if key == "unit" else set()
    for unit in sorted(units - set(record.display)):
        yield f"{where}.display.{unit} is missing: the record has readings in it"


def _flag(flag: FlagByte, due: tuple[str, ...], length: int, where: str) -> Iterator[str]:
    if not 0 <= flag.at < length:
        yield f"{where}.at is {flag.at}, a byte of 0 to {length - 1} was due"
    if not re.fullmatch("[0-9a-f]{2}", flag.mask):
        yield f'{where}.mask is {flag.mask!r}, two hexadecimal digits in small letters were due, such as "0f"'
    for state, means in flag.means.items():
        if not re.fullmatch("[0-9a-f]{2}", state):
            yield f"{where}.means: the key {state!r} is no byte as two hexadecimal digits in small letters"
        if means not in due:
            yield f"{where}.means.{state} is {means!r}, one of {', '.join(due)} was due"


def _value(value: Value, length: int, where: str) -> Iterator[str]:
    if not 1 <= value.size <= LONGEST:
        yield f"{where}.size is {value.size}, 1 or more was due"
    elif isinstance(value, Count) and value.order in SWAPS_WORDS and value.size % 2:
        yield f"{where}.size is {value.size}, an even number of bytes was due: {value.order} swaps two by two"
    elif isinstance(value, Count) and value.width and not 0 < value.width - 8 * (value.size - 1) <= 8:
        due = f"0 or {8 * value.size - 7} to {8 * value.size} bits"
        yield f"{where}.width is {value.width}, {due} were due for {value.size} bytes"
    elif value.at < 0 or max(value.bits()) >= length:
        yield f"{where}.at is {value.at}: the value does not stand inside {length} bytes"
