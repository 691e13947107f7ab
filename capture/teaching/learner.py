"""Learns a gauge's frames from examples of what came and what its display showed; never guesses."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from math import inf
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.taught.formats import MOST_NOISE, Format, decoded
from capture.dialects.taught.framing import Chunk, DelimitedFrame, lately
from capture.dialects.taught.records import DisplayValue
from capture.teaching import explaining
from capture.teaching.examples import Example, number
from capture.teaching.line_settings import TEXT
from capture.teaching.search.formats import explain, streams

MOST_LEARNT = 1536
"""The last bytes of a capture from which is learnt: the gauge stood still then, and more tell nothing new."""
SURELY = 5
"""Examples of which one may contradict the others and be no slip of the hand (our own choice)."""

__all__ = ["Example", "Learnt", "learn", "number"]


class Learnt(Struct, frozen=True):
    """What examples taught."""

    format: Format | None
    """The description of the frames, or None while it is not certain."""
    understood: tuple[str, ...]
    """What is known now, in words."""
    open: tuple[str, ...]
    """What to show next, so that nothing has to be guessed."""
    mistyped: int | None = None
    """The example (from 0) that contradicts all others."""
    unlike: int | None = None
    """The example (from 0) whose bytes the others do not explain: what was typed is not in doubt."""


def learn(examples: Sequence[Example]) -> Learnt:
    """The format that explains all *examples*, and what is still open.

    A bit that never changed is taken for a constant; a frame in which it has changed is
    refused. Where more than one format explains the examples, a frame is read only
    where they agree. An example that contradicts all others is named and left out.
    """
    examples = [replace(each, chunks=_last_of(each.chunks)) for each in examples]
    parity = _parity(examples)
    if parity:
        bare = learn([_seven_bits(each) for each in examples])
        if bare.format is not None and isinstance(bare.format.frame, DelimitedFrame):
            proof = f"each byte has seven bits{_PARITIES[parity]}"
            return replace(
                bare, format=replace(bare.format, parity=parity), understood=(proof, *bare.understood)
            )
    found = explain(examples)
    if found is not None:
        return Learnt(
            found, tuple(explaining.understood(found)), tuple(explaining.questions(found, len(examples)))
        )
    odd = list(_odd_ones(examples)) if len(examples) > 3 else []
    for place, rest in odd:
        if _reads(rest, examples[place]):
            return Learnt(
                rest, tuple(explaining.understood(rest)), tuple(explaining.questions(rest, len(examples)))
            )
    # Lines with words are understood before bytes that happen to stand at the same places.
    odd = [each for each in odd if each[1].sentence] or odd
    if len(odd) == 1:
        left_out = _left_out(examples, *odd[0])
        if left_out is not None:
            return left_out
    different = len({(each.shown, each.unit) for each in examples})
    advice = explaining.unexplained(different, _apart(examples), streams=any(map(streams, examples)))
    return Learnt(None, (), tuple(advice))


def _reads(format_: Format, example: Example) -> bool:
    """Whether *format_*, learnt without *example*, reads it as its display showed it: it explains it too."""
    said = [each for _, each in decoded(format_, example.chunks) if isinstance(each, DisplayValue)]
    return bool(said) and all((each.value, each.unit) == (example.shown, example.unit) for each in said)


def _left_out(examples: Sequence[Example], place: int, rest: Format) -> Learnt | None:
    """What all examples but the one at *place* teach; None where too few agree against it.

    A person is asked about what was typed only where what came is read, and as another number.
    """
    odd = examples[place]
    readings = [said for _, said in decoded(_unlimited(rest), odd.chunks) if isinstance(said, DisplayValue)]
    shown, understood = f"{odd.shown:f} {odd.unit}", tuple(explaining.understood(rest))
    if not readings and not _slip_in(examples, place):
        again = f"show {shown} again: what came with it is unlike what came with the others"
        return Learnt(rest, understood, (again, *explaining.questions(rest, len(examples))), unlike=place)
    slipped = not readings or any(
        said.value == odd.shown or _one_slip(said.text, f"{odd.shown:f}") for said in readings
    )
    if not slipped and len(examples) < SURELY:
        return None
    again = f"show {shown} again: it does not fit the others"
    return Learnt(
        rest if slipped else None,
        understood,
        (again, *explaining.questions(rest, len(examples))),
        mistyped=place,
    )


def _last_of(chunks: Sequence[Chunk]) -> tuple[Chunk, ...]:
    return lately(chunks[:-1], chunks[-1], inf, MOST_LEARNT) if chunks else ()


MOST_MEANT = 4
"""Numbers near to what was typed that are tried in its place."""
_ANY = "1000000000"
_PARITIES = {"E": " and even parity", "O": " and odd parity", "M": ", the eighth is always 1"}


def _parity(examples: Sequence[Example]) -> Literal["", "E", "O", "M"]:
    """The parity in the eighth bit of all bytes, if the other seven are text; empty where there is none."""
    # What a cable gave before a message has any parity.
    data = b"".join(b"".join(chunk for _, chunk in each.chunks)[MOST_NOISE:] for each in examples)
    if not any(byte & 0x80 for byte in data):
        return ""
    ones = {byte.bit_count() % 2 for byte in data}
    if any(byte & 0x7F not in TEXT for byte in data):
        return ""
    if all(byte & 0x80 for byte in data):
        return "M"
    if len(ones) > 1:
        return ""
    return "O" if ones.pop() else "E"


def _seven_bits(example: Example) -> Example:
    chunks = tuple((at, bytes(byte & 0x7F for byte in data)) for at, data in example.chunks)
    return replace(example, chunks=chunks)


def _apart(examples: Sequence[Example]) -> list[str]:
    """Units whose examples are explained alone, though not together with those of another."""
    units = list(dict.fromkeys(each.unit for each in examples))
    alone = {unit: [each for each in examples if each.unit == unit] for unit in units}
    return [unit for unit, some in alone.items() if len(units) > 1 and explain(some, beyond_doubt=True)]


def _slip_in(examples: Sequence[Example], place: int) -> bool:
    """Whether text that came at *place* has a number that was typed with one slip, and that explains all."""
    odd = examples[place]
    typed = f"{abs(odd.shown):f}".replace(".", "").lstrip("0")
    came = b"".join(data for _, data in odd.chunks).decode("latin-1")
    runs = {re.sub("[.,]", "", run) for run in re.findall("[0-9][0-9.,]*", came)}
    if not typed or any(typed in run for run in runs):
        return False
    near = {run[at : at + len(typed)] for run in runs for at in range(len(run) - len(typed) + 1)}
    meant = sorted(one for one in near if _one_slip(one, typed))[:MOST_MEANT]
    exponent, sign = int(odd.shown.as_tuple().exponent), 1 if odd.shown >= 0 else -1
    return any(
        explain(
            [
                *examples[:place],
                replace(odd, shown=sign * Decimal(one).scaleb(exponent)),
                *examples[place + 1 :],
            ],
            beyond_doubt=True,
        )
        for one in meant
    )


def _unlimited(format_: Format) -> Format:
    """*format_* that reads numbers beyond those that were taught, to see what they are."""
    return replace(
        format_,
        sentence=tuple(
            replace(
                each,
                means=tuple(replace(one, display=replace(one.display, limit=_ANY)) for one in each.means),
            )
            for each in format_.sentence
        ),
        record=tuple(
            replace(each, display={unit: replace(one, limit=_ANY) for unit, one in each.display.items()})
            for each in format_.record
        ),
    )


def _odd_ones(examples: Sequence[Example]) -> Iterator[tuple[int, Format]]:
    """Examples without which all others fit, with the format of the others."""
    for place in range(len(examples)):
        rest = explain([*examples[:place], *examples[place + 1 :]], beyond_doubt=True)
        if rest is not None:
            yield place, rest


def _one_slip(one: str, other: str) -> bool:
    """Whether one character changed, missing or added, or two swapped, lies between the texts."""
    while one and other and one[0] == other[0]:
        one, other = one[1:], other[1:]
    while one and other and one[-1] == other[-1]:
        one, other = one[:-1], other[:-1]
    return max(len(one), len(other)) <= 1 or (len(one) == 2 and one == other[::-1])
