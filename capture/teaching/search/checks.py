"""Finds the check of frames: which sum or cyclic redundancy check explains the bytes at their end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

from msgspec.structs import replace

from capture.dialects.taught.checks import CYCLIC, SUMS, FrameCheck, Written

MOST_BEHIND = 2
"""Bytes that may stand behind a check (an end of text)."""
MOST_BEFORE = 4
"""Bytes at the head of a frame that a check may leave out (start bytes, an address)."""
LEAST_EVIDENCE = 20
"""Bits that a check must have got right altogether before it is believed."""

MOST_SUMMED = 24
"""Different frames whose check is worked out: more are no better evidence."""

_BYTES = [kind for kind in SUMS if kind in ("xor8", "sum8", "neg8", "not8", "xor7", "sum7")]
_SEVENS = ("xor7", "sum7")
_WORDS = ["sum16", "neg16"]
_CYCLIC = {bits: [name for name, code in CYCLIC.items() if code.bits == bits] for bits in (8, 16, 32)}


def _forms() -> Iterator[tuple[int, Written, list[str], float]]:
    """Ways to write a check: its bytes, how, of which kinds, and the bits of evidence in one frame."""
    both: tuple[Written, Written] = ("big", "little")
    for order in both:
        yield 4, order, _CYCLIC[32], 32
        yield 2, order, [*_CYCLIC[16], *_WORDS], 16
    digits: tuple[Written, Written] = ("HEX", "hex")
    for written in digits:
        yield 8, written, _CYCLIC[32], 32
        yield 4, written, [*_CYCLIC[16], *_WORDS], 16
        yield 2, written, [*_BYTES, *_CYCLIC[8], "digits"], 8
    yield 3, "decimal", [*_BYTES, "sum"], 8
    yield 1, "big", [*_BYTES, *_CYCLIC[8]], 8
    yield 2, "decimal", ["sum", "xor8", "sum8"], 6.6
    yield 1, "HEX", ["sum", "xor8", "digits"], 4
    yield 1, "decimal", ["sum", "digits"], 3.3


_DIGITS: dict[Written, bytes] = {
    "HEX": b"0123456789ABCDEF",
    "hex": b"0123456789abcdef",
    "decimal": b"0123456789",
}
_FORMS = tuple(_forms())


def find(frames: Sequence[bytes]) -> FrameCheck | None:
    """The check that all of *frames* have right, or None; different frames are the evidence."""
    different = sorted(set(frames), key=len)
    different = different[:: 1 + len(different) // MOST_SUMMED]
    if len(different) < 3 or len(different[0]) < 3:
        return None
    for shifted in (False, True):
        for check, kinds, bits in _places(different):
            found = _kind(check, kinds, different, shifted=shifted)
            fields = len({check.came(frame) for frame in different})
            if found and bits * (fields - shifted) >= LEAST_EVIDENCE * (1.5 if shifted else 1):
                return found
    return None


def _places(frames: Sequence[bytes]) -> Iterator[tuple[FrameCheck, list[str], float]]:
    """Where and how a check may stand in *frames*, shortest first: with its kinds, and bits of evidence."""
    for behind in range(MOST_BEHIND + 1):
        if behind and len({frame[-behind:] for frame in frames}) > 1:
            return
        for size, written, kinds, bits in _FORMS:
            check = FrameCheck("", at=-size - behind, size=size, written=written)
            fields = {check.came(frame) for frame in frames}
            if len(fields) < 3 or len(frames[0]) < size + behind + 2:
                continue
            if written in ("big", "little") or not b"".join(fields).strip(_DIGITS[written]):
                yield check, kinds, bits


def _kind(
    place: FrameCheck, kinds: Sequence[str], frames: Sequence[bytes], *, shifted: bool
) -> FrameCheck | None:
    """The kind and span at *place* that explain all frames, *shifted* with a number added to the sum.

    Eight bits are tried before seven: over another span a whole sum may have its top bit clear by chance.
    """
    eights = [kind for kind in kinds if kind not in _SEVENS]
    sevens = [kind for kind in kinds if kind in _SEVENS]
    for kind, start, skip in (way for some in (eights, sevens) for way in _spans(some)):
        check = replace(place, kind=kind, start=start, skip=skip)
        if not shifted:
            if all(check.holds(frame) for frame in frames):
                return check
        elif place.written in ("big", "HEX") and kind in ("xor8", "sum8", "neg8"):
            moved = _shifted(check, frames)
            if moved:
                return moved
    return None


def _spans(kinds: Sequence[str]) -> Iterator[tuple[str, int, int]]:
    """Each kind over each span: the first byte, and the bytes left out before the check."""
    for start, skip, kind in product(range(MOST_BEFORE + 1), (0, 1, 2), kinds):
        yield kind, start, skip


def _shifted(check: FrameCheck, frames: Sequence[bytes]) -> FrameCheck | None:
    """*check* with the number added to its sum that makes it right, if one does."""
    base = 16 if check.written == "HEX" else 256
    first, *others = frames
    came = check.came(first)
    due = check.due(first)
    if base == 16:
        number, without = int(came, 16), int(due, 16)
    else:
        number, without = int.from_bytes(came), int.from_bytes(due)
    plus = number ^ without if check.kind.startswith("xor") else (number - without) % base**check.size
    moved = replace(check, plus=plus)
    return moved if all(moved.holds(frame) for frame in others) and moved.holds(first) else None
