"""Explains a taught format in words: what was understood, and what to show next."""

from __future__ import annotations

from collections.abc import Iterator

from capture.dialects.checks import FrameCheck
from capture.dialects.formats import Format
from capture.dialects.framing import DelimitedFrame, Gap, StuffedFrame
from capture.dialects.records import FlagByte, Record
from capture.dialects.sentences import Sentence
from capture.dialects.values import Columns, Count, Digits, Display, Value

_ENDS = {"\r": "CR", "\n": "LF", "\x03": "ETX", "\x04": "EOT", "\0": "NUL"}
_ORDERS = {
    "ABCD": "large end first",
    "DCBA": "small end first",
    "CDAB": "words swapped",
    "BADC": "bytes swapped",
}


def understood(format_: Format) -> Iterator[str]:
    """What *format_* says, a sentence at a time."""
    yield _frame(format_)
    if format_.check:
        yield _check(format_.check)
    for sentence in format_.sentence:
        yield from _sentence(sentence)
    for record in format_.record:
        yield from _record(record)


def _frame(format_: Format) -> str:
    frame = format_.frame
    if isinstance(frame, DelimitedFrame):
        end = " ".join(_ENDS.get(character, repr(character)) for character in frame.end)
        return f"a message is a line that ends in {end}" + (f" and {frame.more} more" if frame.more else "")
    if isinstance(frame, StuffedFrame):
        return f"a message ends in the byte {frame.end:02x}, which is written as two bytes inside it"
    if isinstance(frame, Gap):
        return f"a message ends when nothing comes for {1000 * frame.gap:.0f} ms"
    return f"a message has {frame.length} bytes"


def _check(check: FrameCheck) -> str:
    how = {"big": "", "little": ", small end first", "decimal": ", in decimal digits"}
    written = how.get(check.written, ", in hexadecimal digits")
    behind = -check.at - check.size
    return f"its check is {check.kind}{written}, {f'{behind} bytes from the end' if behind else 'at the end'}"


def _sentence(sentence: Sentence) -> Iterator[str]:
    first = f"number {sentence.number} on the line is the reading"
    fraction = ", written with fractions" if sentence.fractions else ""
    yield first + (", with a decimal comma" if sentence.point == "," else fraction)
    for means in sentence.means:
        sign = {"+": "positive", "-": "negative", "written": "the sign is written"}[means.sign]
        words = [
            f"{text!r} {where} it"
            for text, where in ((means.before, "before"), (means.after, "after"))
            if text
        ]
        point = [] if means.point is None else [f"{means.point} decimals"]
        around = " and ".join(words + point) or "nothing before or after it"
        yield f"{around}: {means.unit}, {sign}, {_display(means.display)}"


def _display(display: Display) -> str:
    scale = "" if display.scale == "1" else f", steps of {display.scale}"
    return f"{display.decimals} decimals{scale}, below {display.limit}"


def _record(record: Record) -> Iterator[str]:
    yield _value(record.value)
    for unit, display in record.display.items():
        yield f"in {unit}: {_display(display)}"
    if isinstance(record.unit, tuple):
        yield f"the unit: {_flags(record.unit)}"
    if isinstance(record.sign, tuple):
        yield f"the sign: {_flags(record.sign)}"
    if record.constants:
        yield f"constant: {len(record.constants)} of {record.length} bytes, in whole or in part"


def _flags(flags: tuple[FlagByte, ...]) -> str:
    return "; ".join(
        f"byte {flag.at} (bits {flag.mask}) "
        + ", ".join(f"{state} = {means}" for state, means in flag.means.items())
        for flag in flags
    )


def _value(value: Value) -> str:
    if isinstance(value, Columns):
        return f"the reading is text in bytes {value.at} to {value.at + value.size - 1}"
    if isinstance(value, Digits):
        places = "bytes" if value.packing == "bytes" else f"half bytes, {value.packing}"
        order = ", the last digit first" if value.backward else ""
        return f"the reading is {value.size} decimal digits in {places}, from number {value.at} on{order}"
    kind = "a float" if not isinstance(value, Count) else "a count"
    signed = {
        "complement": ", negative as two's complement",
        "magnitude": ", its top bit the sign",
        "offset": ", zero in the middle",
        "ones": ", negative as ones' complement",
    }
    sign = signed.get(value.signed, "") if isinstance(value, Count) else ""
    halves = ", half bytes swapped" if isinstance(value, Count) and value.halves else ""
    flagged = ", without its top half byte" if isinstance(value, Count) and value.flagged else ""
    order = _ORDERS[value.order] + halves + flagged
    return f"the reading is {kind} of {value.size} bytes at byte {value.at}, {order}{sign}"


def questions(format_: Format) -> Iterator[str]:
    """What to show so that less is refused; nothing where all is known."""
    if len(format_.sentence) + len(format_.record) > 1:
        yield "the examples can be understood in more than one way: show a reading far from the others"
    signs: set[str] = set()
    units: set[str] = set()
    for sentence in format_.sentence:
        signs |= {
            sign for means in sentence.means for sign in (means.sign if means.sign != "written" else "+-")
        }
        units |= {means.unit for means in sentence.means}
    for record in format_.record:
        signs |= set("+-" if isinstance(record.sign, tuple) or record.sign == "written" else record.sign)
        units |= set(record.display)
        if any(isinstance(around, tuple) and len(around) > 1 for around in (record.sign, record.unit)):
            yield "more than one byte may tell the sign or the unit: show one more reading of each"
    if "-" not in signs:
        yield "show a negative reading"
    if "+" not in signs:
        yield "show a positive reading"
    if len(units) == 1:
        yield "press the unit key and show a reading, if the gauge has another unit"
    if format_.following > 1:
        yield "little tells where a message begins: set the gauge to pause between messages if it can"


def unexplained(different: int, apart: list[str]) -> Iterator[str]:
    """What to do when nothing explains the examples.

    *different* of them differ; the units *apart* are explained alone, but not with another.
    """
    if different < 3:
        yield "show another reading, far from those before"
    elif apart:
        yield f"nothing in the messages tells the unit: teach {' and '.join(apart)} as a dialect of its own"
    else:
        yield (
            "nothing explains all readings: hold the gauge still while it sends, type what its display "
            "shows, and show a large, a negative and a small reading"
        )
