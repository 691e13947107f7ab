"""Stages of a job: the known ones, the job's own, and what each comes to in the order of the work."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Final

from capture.events import Part

STAGES: Final = ("as found", "lapped", "stripped", "plated", "rough", "finish")
"""In the order of the work (common practice, no source); "lapped" may have a number behind it."""

OTHER_WORDS: Final = {
    "found": "as found",
    "roughing": "rough",
    "rough grind": "rough",
    "rough ground": "rough",
    "finishing": "finish",
    "finish grind": "finish",
    "finish ground": "finish",
    "finished": "finish",
    "strip grind": "stripped",
    "ground undersize": "stripped",
    "undersize": "stripped",
    "chromed": "plated",
    "chrome plated": "plated",
}
"""Said for the known ones."""

STUDY: Final = "study"
"""First word of a stage in which a person's trial of a gauge is read: study NAME TRIAL."""

_EITHER: Final = {
    "grind": ("rough", "finish"),
    "grinding": ("rough", "finish"),
    "ground": ("rough", "finish"),
}
"""Words that may mean more than one."""
_LAPPED: Final = re.compile(r"lapped(?: ([1-9]\d{0,2}))?")
_EARLY: Final = frozenset({"as found", "stripped", "plated", "rough"})


class NoSuchStage(ValueError):
    """A word that is no stage of the job: what came, what was due, and the near ones."""

    def __init__(self, came: str, near: Sequence[str], listed: Sequence[str]) -> None:
        meant = f"; did you mean {' or '.join(near)}?" if near else ""
        super().__init__(f"stage: came {came!r}, due one of {', '.join(listed)}{meant}")
        self.near = tuple(near)


def stages_of(own: Sequence[str] = ()) -> tuple[str, ...]:
    """The stages that are offered: the known ones and the job's *own*."""
    return (*STAGES, *(name for name in own if name not in STAGES))


def stage_named(came: str, own: Sequence[str] = ()) -> str:
    """The stage that a person means by *came*.

    >>> stage_named("Lapped  2"), stage_named("as-found"), stage_named("rough grind")
    ('lapped 2', 'as found', 'rough')

    Raises:
        NoSuchStage: It is none of the known ones and none of *own*.
    """
    words = came.split()
    if len(words) > 1 and words[0].lower() == STUDY:
        return " ".join((STUDY, *words[1:]))
    asked = _plain(came)
    mine = {_plain(name): name for name in own}
    if asked in mine:
        return mine[asked]
    if asked in STAGES or _LAPPED.fullmatch(asked):
        return asked
    if asked in OTHER_WORDS:
        return OTHER_WORDS[asked]
    listed = tuple("lapped 1, lapped 2 …" if name == "lapped" else name for name in stages_of(own))
    near = _EITHER.get(asked) or get_close_matches(asked, [*STAGES, *mine, *OTHER_WORDS], n=2, cutoff=0.6)
    meant = dict.fromkeys(mine.get(one) or OTHER_WORDS.get(one, one) for one in near)
    raise NoSuchStage(came, tuple(meant), listed)


def is_early(stage: str | None, part: Part) -> bool:
    """Whether *part* is not finished in that stage, whatever it measures.

    >>> is_early("plated", "shaft"), is_early("finish", "shaft"), is_early("as found", "bore")
    (True, False, False)
    """
    return part == "shaft" and stage is not None and _plain(stage) in _EARLY


def _plain(name: str) -> str:
    return " ".join(name.lower().replace("-", " ").split())
