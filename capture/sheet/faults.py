"""What is wrong with a sheet: where, what came, what was due. English is made of it at the edge alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

from msgspec import Struct

Path: TypeAlias = tuple[str | int, ...]
"""Keys from the top of the sheet to where it is; a number counts the tables of a list from 0."""
Wrong: TypeAlias = Literal["missing", "value", "unknown", "clash", "syntax"]
"""value: not what was due; unknown: no key of the sheet; clash: right alone, not with another."""


MOST_SHOWN: Final = 50
"""Faults that are written out; a hostile sheet has a hundred thousand."""


class Fault(Struct, frozen=True):
    """One fault of a sheet."""

    path: Path
    wrong: Wrong
    where: str
    """The path as a person reads it: a gauge goes by its name."""
    came: str = ""
    due: str = ""
    near: str = ""
    """A key that was perhaps meant."""
    also: tuple[Path, ...] = ()
    """Where else it is."""

    @property
    def why(self) -> str:
        """What is wrong there, without the place."""
        match self.wrong:
            case "missing":
                return f"missing, due {self.due}"
            case "value":
                return f"came {self.came}, due {self.due}"
            case "unknown":
                return "no such key" + (f"; did you mean {self.near}?" if self.near else "")
            case _:
                return self.due

    def __str__(self) -> str:
        return f"{self.where}: {self.why}" if self.where else self.why


class BadSheet(Exception):
    """A sheet that can't be used, with every fault in it."""

    def __init__(self, name: str, found: Sequence[Fault]) -> None:
        self.found = tuple(found)
        self.faults = [f"{name}: {fault}" if name else str(fault) for fault in found[:MOST_SHOWN]]
        """A line for each that a person reads."""
        if len(found) > MOST_SHOWN:
            self.faults.append(f"{name}: and {len(found) - MOST_SHOWN} faults more")
        super().__init__("\n".join(self.faults))


def shown(value: object) -> str:
    """What came, short enough for a line."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
