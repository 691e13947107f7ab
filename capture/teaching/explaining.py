"""Explains a taught format in words: what was understood, and what to show next."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from capture.dialects.taught.checks import FrameCheck
from capture.dialects.taught.formats import Format
from capture.dialects.taught.framing import DelimitedFrame, DoubledFrame, Gap, StuffedFrame
from capture.dialects.taught.records import FlagByte, Record
from capture.dialects.taught.sentences import Sentence
from capture.dialects.taught.values import Columns, Count, Digits, Display, Value
from capture.teaching.search.matching import ROOM

_ENDS = {"\r": "CR", "\n": "LF", "\x03": "ETX", "\x04": "EOT", "\0": "NUL"}
_SIGNED = {
    "complement": ", negative as two's complement",
    "magnitude": ", its top bit the sign",
    "offset": ", zero in the middle",
    "ones": ", negative as ones' complement",
}
_ORDERS = {
    "ABCD": "large end first",
    "DCBA": "small end first",
    "CDAB": "words swapped",
    "BADC": "bytes swapped",
}


NEAR_FULL: Final = "show another reading near full travel"
"""Each such reading makes a scale that is no round number surer."""
MORE: Final = ("show another reading, between those before", "show one more reading, of the other sign")
"""In turn, so that nothing is asked twice in a row."""
ENOUGH: Final = {1: 5, 2: 7}
"""Readings, by how many units were shown, after which what a message has beside the number is known well
enough (our own choice)."""


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
    if isinstance(frame, DoubledFrame):
        begin, end = (f"{frame.escape:02x} {byte:02x}" for byte in (frame.begin, frame.end))
        return f"a message stands between {begin} and {end}, inside which {frame.escape:02x} is written twice"
    if isinstance(frame, Gap):
        return f"a message ends when nothing comes for {1000 * frame.gap:.0f} ms"
    return f"a message has {frame.length} bytes"


def _check(check: FrameCheck) -> str:
    how = {"big": "", "little": ", small end first", "decimal": ", in decimal digits"}
    written = how.get(check.written, ", in hexadecimal digits")
    behind = -check.at - check.size
    return f"its check is {check.kind}{written}, {f'{behind} bytes from the end' if behind else 'at the end'}"


def _sentence(sentence: Sentence) -> Iterator[str]:
    fraction = ", written with fractions" if sentence.fractions else ""
    how = ", with a decimal comma" if sentence.point == "," else fraction
    if sentence.hexadecimal:
        how = f" of {sentence.hexadecimal} hexadecimal digits{_SIGNED.get(sentence.signed, '')}"
    yield f"the reading is number {sentence.number} on the line{how}"
    if sentence.counter:
        yield f"words of {sentence.counter} hexadecimal digits are a running number"
    for means in sentence.means:
        sign = {"+": "positive", "-": "negative", "written": "positive or negative"}[means.sign]
        words = [
            f"{text!r} stands {where} it"
            for text, where in ((means.before, "before"), (means.after, "after"))
            if text
        ]
        around = " and ".join(words) or "nothing stands before or after it"
        yield f"in {_named(means.unit)} where {around}, {sign}: {_display(means.display)}"


def _named(unit: str) -> str:
    return "inches" if unit == "in" else unit


def _display(display: Display) -> str:
    scale = "" if display.scale == "1" else f", steps of {display.scale}"
    return f"{display.decimals} decimals{scale}, below {display.limit}"


def _record(record: Record) -> Iterator[str]:
    yield _value(record.value)
    for unit, display in record.display.items():
        yield f"in {_named(unit)}: {_display(display)}"
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
    sign = _SIGNED.get(value.signed, "") if isinstance(value, Count) else ""
    halves = ", half bytes swapped" if isinstance(value, Count) and value.halves else ""
    halves += ", the least bit first" if isinstance(value, Count) and value.mirrored else ""
    flagged = ", without its top half byte" if isinstance(value, Count) and value.flagged else ""
    order = _ORDERS[value.order] + halves + flagged
    return f"the reading is {kind} of {value.size} bytes at byte {value.at}, {order}{sign}"


def questions(format_: Format, readings: int) -> Iterator[str]:
    """What to show after so many *readings* so that less is refused; nothing where all is known."""
    if len(format_.sentence) + len(format_.record) > 1:
        yield "show a reading far from those before: what came can be understood in more than one way"
    for record in format_.record:
        if any(map(_shared, (record.sign, record.unit))):
            yield _one_more(record)
    if any(map(_unsure_scale, _displays(format_))):
        yield NEAR_FULL
    if readings < ENOUGH[min(len(_units(format_)), 2)] and _says_more(format_):
        yield MORE[readings % 2]
    yield from _not_shown(format_)
    if format_.following > 1:
        yield "set the gauge to pause between its messages, if it can, and show a reading"


def _not_shown(format_: Format) -> Iterator[str]:
    """What to do to show each sign, and each unit that the gauge may have."""
    signs: set[str] = set()
    for sentence in format_.sentence:
        signs |= {
            sign for means in sentence.means for sign in (means.sign if means.sign != "written" else "+-")
        }
    for record in format_.record:
        signs |= set("+-" if isinstance(record.sign, tuple) or record.sign == "written" else record.sign)
    if "-" not in signs:
        yield "show a negative reading"
    if "+" not in signs:
        yield "show a positive reading"
    if len(_units(format_)) == 1:
        yield "press the unit key and show a reading, if the gauge has another unit"


def _units(format_: Format) -> set[str]:
    sentences = {means.unit for sentence in format_.sentence for means in sentence.means}
    return sentences.union(*(record.display for record in format_.record))


def _says_more(format_: Format) -> bool:
    """Whether something beside the number, its sign and its unit changed in the messages, and may go on."""
    for sentence in format_.sentence:
        meant = [(means.unit, means.sign) for means in sentence.means]
        if len(meant) > len(set(meant)):  # a judgement in words
            return True
    return any(_has_other_fields(record, format_.check) for record in format_.record)


def _has_other_fields(record: Record, check: FrameCheck | None) -> bool:
    """Whether bits of *record* changed that are neither its number nor its sign, its unit or its check."""
    known = [0] * record.length
    for at, mask in (*record.value.bits().items(), *((at, mask) for at, mask, _ in record.fixed)):
        known[at] |= mask
    for around in (record.sign, record.unit):
        for flag in around if isinstance(around, tuple) else ():
            known[flag.at] |= int(flag.mask, 16)
    if check:
        begin = record.length + check.at
        known[begin : begin + check.size] = [0xFF] * check.size
    return any(mask != 0xFF for mask in known)


def _shared(around: object) -> bool:
    """Whether more bits than one tell a sign or a unit, of which some may change for another reason."""
    if not isinstance(around, tuple):
        return False
    bits = [int(flag.mask, 16) for flag in around]
    return len(around) > 1 or any(mask != 0xFF and mask.bit_count() > 1 for mask in bits)


def _displays(format_: Format) -> Iterator[Display]:
    for sentence in format_.sentence:
        yield from (means.display for means in sentence.means)
    for record in format_.record:
        yield from record.display.values()


def _unsure_scale(display: Display) -> bool:
    """Whether the scale is known so little that much of what comes near full travel would be refused."""
    off = Decimal(display.spread) * Decimal(display.limit) / ROOM
    return off > Decimal("0.1") * Decimal(1).scaleb(-display.decimals)


def _one_more(record: Record) -> str:
    """Which readings tell which of several bytes counts."""
    wanted = [
        what
        for around, what in ((record.sign, "of each sign"), (record.unit, "in each unit"))
        if _shared(around)
    ]
    return f"show one more reading {' and '.join(wanted)}"


def unexplained(different: int, apart: list[str], *, streams: bool) -> Iterator[str]:
    """What to do when nothing explains the examples, first the most likely to help.

    *different* of them differ; the units *apart* are explained alone, but not with another.
    *streams*: the gauge sends all the time.
    """
    if different < 3:
        yield "show another reading, far from those before"
        return
    if apart:
        one, *others = apart
        back = " and ".join(map(_named, others or [one]))
        yield (
            f"take back the readings in {back}: nothing in the messages tells the unit, so that each needs a "
            "lesson and a file of its own"
        )
        return
    yield (
        "show a large, a small and a negative reading, with the gauge held still until its number is typed: "
        "nothing explains all readings yet"
    )
    if streams:
        yield "set the gauge to send on a press of its button, or once or twice a second, and show a reading"
    yield "see whether the gauge can be set to send text or to add a check, and begin anew with it"
