"""Finds the bits that tell the sign or the unit, and bytes that only count frames."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import reduce
from itertools import pairwise, product
from operator import or_

from capture.dialects.taught.records import FlagByte

Labels = Sequence[str]
"""What is so in each frame: its sign, its unit."""


class Bits:
    """The bits of some frames of one length that neither a value nor a check explains."""

    def __init__(self, frames: Sequence[bytes], free: Sequence[int]) -> None:
        self.frames = frames
        self.free = free
        self.varying = [
            mask & reduce(or_, (frame[at] ^ frames[0][at] for frame in frames))
            for at, mask in enumerate(free)
        ]

    def telling(self, at: int, labels: Labels) -> int:
        """The bits of byte *at* that have one state under each of two labels, and another under the other."""
        states: dict[str, set[int]] = {}
        for frame, label in zip(self.frames, labels, strict=True):
            states.setdefault(label, set()).add(frame[at])
        if len(states) != 2:
            return 0
        steady = [~reduce(or_, (byte ^ min(some) for byte in some)) for some in states.values()]
        one, other = (min(some) for some in states.values())
        return self.varying[at] & steady[0] & steady[1] & (one ^ other)

    def flag(self, at: int, mask: int, labels: Labels) -> FlagByte:
        """The flag in the bits *mask* of byte *at*."""
        means = {f"{frame[at] & mask:02x}": label for frame, label in zip(self.frames, labels, strict=True)}
        return FlagByte(at, means, f"{mask:02x}")


def flags(bits: Bits, wanted: Mapping[str, Labels]) -> dict[str, tuple[FlagByte, ...]] | None:
    """For each thing that is *wanted* and changes, the bytes that tell it; None if one can't be determined.

    A byte whose every change is explained is believed before one that also changes
    for no reason that was found. Of equals all are kept: a frame in which they
    contradict each other is not read.
    """
    needed = {thing: labels for thing, labels in wanted.items() if len(set(labels)) > 1}
    if _confounded(list(needed.values())):
        return None
    every = range(len(bits.free))
    telling = {thing: [bits.telling(at, labels) for at in every] for thing, labels in needed.items()}
    unexplained = [
        bits.varying[at] & ~reduce(or_, (masks[at] for masks in telling.values()), 0) for at in every
    ]
    found: dict[str, tuple[FlagByte, ...]] = {}
    for thing, labels in needed.items():
        places = [at for at in every if telling[thing][at]]
        clean = [at for at in places if not unexplained[at]]
        found[thing] = tuple(
            bits.flag(at, _mask(bits, at, telling[thing][at]), labels) for at in clean or places
        ) or _by_state(bits, labels, list(needed.values()))
        if not found[thing]:
            return None
    return found


def _confounded(labels: Sequence[Labels]) -> bool:
    """Whether two things always changed together, so that nothing shows which a bit means."""
    shapes = [tuple(label == each[0] for label in each) for each in labels]
    return len(set(shapes)) < len(shapes)


def _mask(bits: Bits, at: int, telling: int) -> int:
    """The whole byte where nothing else in it changes, such as a letter; else the bits alone."""
    return 0xFF if bits.free[at] == 0xFF and bits.varying[at] == telling else telling


def _by_state(bits: Bits, labels: Labels, all_labels: Sequence[Labels]) -> tuple[FlagByte, ...]:
    """Bytes with one state for each combination of all labels, where no bit alone tells."""
    combined = list(zip(*all_labels, strict=True))
    found = []
    for at, mask in enumerate(bits.free):
        if not bits.varying[at]:
            continue
        pairs = {(frame[at] & mask, labels) for frame, labels in zip(bits.frames, combined, strict=True)}
        if len(pairs) == len({state for state, _ in pairs}) == len({labels for _, labels in pairs}):
            found.append(bits.flag(at, mask, labels))
    return tuple(found)


def running(captures: Iterable[Sequence[bytes]], free: Sequence[int]) -> list[int]:
    """For each byte, the bits that count frames: one more each time, in whole bytes, half bytes or digits."""
    captures = list(captures)
    pairs = [pair for frames in captures for pair in pairwise(frames)]
    if len(pairs) < 3:
        pairs = list(pairwise(frames[-1] for frames in captures)) if not pairs else []
    # A byte that is one more each time is no chance after twice, half a byte or a digit after three times.
    if len(pairs) < 2:
        return [0] * len(free)
    return [_counts(pairs, at) & mask if mask else 0 for at, mask in enumerate(free)]


def _counts(pairs: Sequence[tuple[bytes, bytes]], at: int) -> int:
    steps = [(before[at], after[at]) for before, after in pairs]
    if all((before + 1) % 256 == after for before, after in steps):
        return 0xFF
    if len(pairs) > 2 and len({byte >> 4 for step in steps for byte in step}) == 1:
        for base in (16, 10):
            if all((before % 16 + 1) % base == after % 16 for before, after in steps):
                return 0x0F
    return 0


LEAST_STEPS = 3
"""Steps in one direction that are no chance (our own choice)."""


def going_on(frames: Sequence[bytes], free: Sequence[int], *, big: bool) -> set[int]:
    """The bytes of fields that only grow or only fall, such as a clock, a running number, a battery's state.

    With them goes the byte above, which did not change yet and will. On which side it is the field itself
    shows, or the one side on which nothing else stands, or the value's order: *big*, the large end first.
    """
    steady = [each == 0xFF and len({frame[at] for frame in frames}) == 1 for at, each in enumerate(free)]
    found: set[int] = set()
    for step, at in product((-1, 1), range(len(free))):
        for places in (range(at, at + step * size, step) for size in (3, 2)):
            if 0 <= places[-1] < len(free) and _goes_one_way(frames, free, places):
                above = places[-1] + step
                reached = 0 <= above < len(free) and steady[above] and _reaches(frames, places)
                found.update((*places, above) if reached else places)
                break
    for at in range(len(free)):
        if at not in found and _goes_one_way(frames, free, range(at, at + 1)):
            sides = [one for one in (at - 1, at + 1) if 0 <= one < len(free) and steady[one]]
            found.update((at, *(sides if len(sides) < 2 else sides[:1] if big else sides[1:])))
    return found


def _goes_one_way(frames: Sequence[bytes], free: Sequence[int], places: range) -> bool:
    """Whether the number at *places*, the least byte first, only grows or only falls, or begins anew."""
    if any(free[place] != 0xFF or len({frame[place] for frame in frames}) == 1 for place in places):
        return False
    numbers = [sum(frame[place] << 8 * shift for shift, place in enumerate(places)) for frame in frames]
    every = 1 << 8 * len(places)
    steps = [(after - before) % every for before, after in pairwise(numbers) if before != after]
    if len(steps) < LEAST_STEPS:
        return len(steps) == LEAST_STEPS - 1 and set(steps) == {1}
    return all(step < every // 4 for step in steps) or all(step > every - every // 4 for step in steps)


def _reaches(frames: Sequence[bytes], places: range) -> bool:
    """Whether the highest byte at *places* changed in half of the steps or more: soon the one above will."""
    changes = sum(one[places[-1]] != other[places[-1]] for one, other in pairwise(frames))
    steps = sum(any(one[at] != other[at] for at in places) for one, other in pairwise(frames))
    return 2 * changes >= steps
