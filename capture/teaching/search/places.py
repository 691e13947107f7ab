"""Finds values, signs and units at fixed places in frames of one length."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from decimal import Decimal
from functools import reduce
from operator import or_

from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.checks import FrameCheck
from capture.dialects.taught.records import Record, Sign
from capture.dialects.taught.values import (
    Columns,
    Count,
    Digits,
    Display,
    Float,
    Unread,
    Value,
)
from capture.teaching.search.flags import Bits, flags, going_on, running
from capture.teaching.search.matching import NEWEST, Leeway, Match, Taught
from capture.teaching.search.scales import may_fit, scales
from capture.teaching.search.values import values

OPEN = 3
"""Bits of a byte that change for no reason that was found, from which the byte is one of another field: once
both signs and all units were shown, nothing that counts can stand in its other bits (our own choice)."""
LONGEST_RECORD = 80
"""Bytes of a message with its value at a fixed place, at most; more are several messages (our own choice)."""


class PlaceMatch(Struct, frozen=True):
    """A record that explains what was taught, and how well."""

    record: Record
    odd: int
    """Bits that changed from frame to frame without a reason that was found."""
    mixed: bool
    """Whether a byte that also changes for another reason tells the sign or the unit: that may be chance."""
    frames: tuple[bytes, ...]
    """The frames that show what the displays showed."""


def records(taught: Sequence[Taught], check: FrameCheck | None, leeway: Leeway) -> list[PlaceMatch]:
    """The best record, and others whose value stands elsewhere: rivals until a reading tells them apart."""
    lengths = {len(frame) for each in taught for frame in each.frames}
    found: list[PlaceMatch] = []
    for length in lengths:
        same = [
            replace(
                each,
                frames=tuple(f for f in each.frames if len(f) == length and (not check or check.holds(f))),
            )
            for each in taught
        ]
        if 2 <= length <= LONGEST_RECORD and all(each.frames for each in same):
            found += _of_length(same, length, check, leeway)
    found.sort(key=lambda find: (find.mixed, find.odd, find.record.value.size))
    best: list[PlaceMatch] = []
    for find in found:
        held = find.record.value.bits()
        if all(
            not held.get(at, 0) & mask for other in best for at, mask in other.record.value.bits().items()
        ):
            best.append(find)
    return best


def _of_length(
    taught: Sequence[Taught], length: int, check: FrameCheck | None, leeway: Leeway
) -> Iterator[PlaceMatch]:
    summed = set(range(length + check.at, length + check.at + check.size)) if check else set()
    for value in values(taught[0].frames, [each.frames[-1] for each in taught], length):
        if summed & value.bits().keys():
            continue  # of a message cut in the wrong place a byte of the number can look like the check
        if isinstance(value, Columns | Digits) and _part_of_longer(value, taught, summed):
            continue
        found = _fit(taught, value, length, check, leeway)
        if found:
            yield found


def _part_of_longer(value: Columns | Digits, taught: Sequence[Taught], summed: Container[int]) -> bool:
    """Whether a digit that changes in one unit and sign stands next to a number in text."""
    if isinstance(value, Digits) and value.packing != "bytes":
        return False
    for at in (value.at - 1, value.at + value.size):
        if not 0 <= at < len(taught[0].frames[0]) or at in summed:
            continue
        beside = {(each.unit, each.value < 0, frame[at]) for each in taught for frame in each.frames}
        digits = all(chr(digit) in "0123456789" for _, _, digit in beside)
        if digits and len(beside) > len({label[:2] for label in beside}):
            return True
    return False


def _raw(value: Value, frame: bytes) -> Decimal | None:
    try:
        return value.raw(frame)
    except Unread:
        return None


def _fit(
    taught: Sequence[Taught], value: Value, length: int, check: FrameCheck | None, leeway: Leeway
) -> PlaceMatch | None:
    noise = isinstance(value, Float)
    if leeway.free:
        if not isinstance(value, Count):
            return None
        first = sorted(taught, key=lambda each: -abs(each.value))[:2]
    else:
        first = [max(taught, key=lambda each: abs(each.value))]
    if not may_fit(
        first, [[_raw(value, frame) for frame in each.frames] for each in first], leeway, noise=noise
    ):
        return None
    raws = [[_raw(value, frame) for frame in each.frames] for each in taught]
    own = scales(taught, raws, leeway, noise=noise)
    negative = {each.value < 0 for each in taught if each.value}
    if own is not None:
        if isinstance(value, Count) and (value.signed == "no") == (True in negative):
            return None
        sign: Sign = "written" if len(negative) == 2 else "-" if True in negative else "+"
        return _find(taught, value, length, check, own, sign)
    unsigned = isinstance(value, Digits | Columns) or (isinstance(value, Count) and value.signed == "no")
    if not unsigned or True not in negative or any(r is not None and r < 0 for each in raws for r in each):
        return None
    sizes = [replace(each, value=abs(each.value)) for each in taught]
    bare = scales(sizes, raws, leeway, noise=noise)
    return _find(taught, value, length, check, bare, None) if bare else None


def _find(
    taught: Sequence[Taught],
    value: Value,
    length: int,
    check: FrameCheck | None,
    found: Match,
    sign: Sign | None,
) -> PlaceMatch | None:
    """The record round a value that fits: its flags, its constants, and what remains odd."""
    frames = [
        each.frames[place] for each, places in zip(taught, found.chosen, strict=True) for place in places
    ]
    whose = [each for each, places in zip(taught, found.chosen, strict=True) for _ in places]
    free = _held(value, length, check)
    counting = running([each.frames[-NEWEST:] for each in taught], free)
    bits = Bits(frames, [mask & ~counts for mask, counts in zip(free, counting, strict=True)])
    units = [each.unit for each in whose]
    signs = ["-" if each.value < 0 else "+" for each in whose] if sign is None else []
    telling = flags(bits, {"sign": signs, "unit": units})
    if telling is None or (sign is None and "sign" not in telling):
        return None
    settled = sign in (None, "written") and (len(set(units)) > 1 or all(each.only for each in taught))
    going = _going_on(taught, value, free) if settled else set()
    constants, odd, mixed = {}, 0, False
    for at in range(length):
        used = reduce(or_, (int(f.mask, 16) for each in telling.values() for f in each if f.at == at), 0)
        rest = bits.free[at] & ~used
        unexplained = (rest & bits.varying[at]).bit_count()
        steady = 0 if at in going or (settled and unexplained >= OPEN) else rest & ~bits.varying[at]
        odd += unexplained
        mixed |= bool(used and unexplained)
        if steady:
            constants[str(at)] = f"{frames[0][at] & steady:02x}" + (
                "" if steady == 0xFF else f"/{steady:02x}"
            )
    displays = _within_seen(value, found.displays, frames, positive=sign == "+")
    record = Record(
        length, value, telling.get("unit", units[0]), sign or telling["sign"], displays, constants
    )
    return PlaceMatch(record, odd, mixed, tuple(frames))


def _going_on(taught: Sequence[Taught], value: Value, free: Sequence[int]) -> set[int]:
    """Bytes of fields that go on in one direction, but none beside a short number, which may be its own."""
    order = value.order if isinstance(value, Count | Float) else "ABCD"
    found = going_on([frame for each in taught for frame in each.frames], free, big=order[0] in "AB")
    if isinstance(value, Float) or (isinstance(value, Count) and value.size > 2):
        return found
    own = value.bits().keys()
    return {at for at in found if not own & {at - 1, at + 1}}


def _within_seen(
    value: Value, displays: dict[ShownUnit, Display], frames: Sequence[bytes], *, positive: bool
) -> dict[ShownUnit, Display]:
    """*displays* limited to the digits that were seen in use.

    A digit above them was always zero: it may be a code of its own, or, at the top of a count of which
    only positive ones were shown, mean a negative one.
    """
    if isinstance(value, Float) or (isinstance(value, Count) and value.signed not in ("no", "magnitude")):
        return displays
    largest = int(max(abs(value.raw(frame)) for frame in frames))
    beyond = 10 ** len(str(largest))
    if isinstance(value, Columns):
        padded = all(frame[value.at : value.at + 1] == b"0" for frame in frames)
        if not padded:
            return displays  # behind a sign all zeros are the number's own
    if isinstance(value, Count):
        beyond = 16 ** len(f"{largest:x}")
        top = 1 << (8 * value.size - 1)
        if positive and largest < top:
            beyond = min(beyond, top)
    return {
        unit: replace(shown, limit=f"{min(Decimal(shown.limit), beyond * Decimal(shown.scale)):f}")
        for unit, shown in displays.items()
    }


def _held(value: Value, length: int, check: FrameCheck | None) -> list[int]:
    """For each byte, the bits that neither the value nor the check has."""
    free = [0xFF] * length
    for at, mask in value.bits().items():
        free[at] &= ~mask
    if check:
        begin = length + check.at
        free[begin : begin + check.size] = [0] * check.size
    return free
