"""The numbers and lengths in a person's words, and how words are refused."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Final

from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Job

LARGEST: Final = 1e9
"""A number that is said is less than this; no length, angle or temperature of a part is near it."""


class CommandRejected(Exception):
    """Words that could not be taken: what came, what was due."""


def number(word: str, what: str) -> float:
    """A finite number that something in a shop may have.

    Raises:
        CommandRejected: It is none.
    """
    try:
        value = float(word.replace(",", "."))
    except ValueError:
        raise CommandRejected(f"{what}: came {word!r}, due a number") from None
    # Python also takes `1_0` as ten, which nobody means.
    if "_" in word:
        raise CommandRejected(f"{what}: came {word!r}, due a number")
    if not isfinite(value):
        raise CommandRejected(f"{what}: came {word!r}, due a finite number")
    if not abs(value) < LARGEST:
        raise CommandRejected(f"{what}: came {word!r}, due less than {LARGEST:g}")
    return value


def millimetres(word: str, what: str, job: Job) -> float:
    """A length said in the job's unit, mm.

    Raises:
        CommandRejected: It is no finite number.
    """
    value = number(word, what)
    return value * MM_PER_INCH if job.units == "in" else value


def exactly(words: Sequence[str], least: int, most: int, verb: str, usage: str) -> None:
    """Refuse too few or too many *words* after *verb*.

    Raises:
        CommandRejected: There are.
    """
    if not least <= len(words) <= most:
        raise CommandRejected(f"{verb}: came {len(words)} words after it, due {usage}")
