"""A table of a written sheet while it is read: gives values, and gathers faults instead of raising."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from typing import Any, TypeVar

T = TypeVar("T")

LARGEST = 1e300
"""No number of a sheet is as large; whole numbers of TOML may be larger than any that can be worked with."""


class SheetTable:
    """One table; *scale* makes millimetres of its lengths."""

    def __init__(self, plain: Any, where: str, faults: list[str], scale: float) -> None:
        self.where, self.faults, self.scale = where, faults, scale
        self.plain: dict[str, Any] = plain if isinstance(plain, dict) else {}
        if not isinstance(plain, dict):
            self.fault("", plain, "a table")
        self.known: set[str] = set()

    def fault(self, key: str, came: object, due: str) -> None:
        """Say what is wrong with *key*, or with the table itself."""
        place = ".".join(part for part in (self.where, key) if part)
        self.faults.append(f"{place}: came {_shown(came)}, due {due}")

    def take(self, key: str, ok: Callable[[Any], bool], due: str, default: T) -> T:
        """The value of *key* if it is what is due, else *default* with a fault said."""
        self.known.add(key)
        if key not in self.plain:
            return default
        value = self.plain[key]
        if ok(value):
            return value  # type: ignore[no-any-return]  # `ok` is the check
        self.fault(key, value, due)
        return default

    def need(self, key: str, due: str) -> bool:
        """Whether *key* is there; says so if not."""
        self.known.add(key)
        if key not in self.plain:
            self.faults.append(f"{'.'.join(filter(None, (self.where, key)))}: missing, due {due}")
        return key in self.plain

    def text(self, key: str, default: str = "") -> str:
        """A text with something in it."""
        return self.take(key, lambda v: isinstance(v, str) and bool(v.strip()), "a text", default)

    def choice(self, key: str, among: tuple[str, ...], default: Any) -> Any:
        """One of a few words."""
        return self.take(key, lambda v: v in among, "one of " + ", ".join(among), default)

    def number(self, key: str, default: T, *, least: float | None = None, above: float | None = None) -> Any:
        """A finite number, where given not under *least* and over *above*."""
        due = "a number" + (f" of at least {least:g}" if least is not None else "")
        due += f" above {above:g}" if above is not None else ""
        return self.take(key, lambda v: _is_number(v, least, above), due, default)

    def length(self, key: str, default: T, *, least: float | None = None, above: float | None = None) -> Any:
        """A length in the sheet's own unit, given back in millimetres."""
        value = self.number(key, None, least=least, above=above)
        return default if value is None else _millimetres(value, self.scale)

    def lengths(self, key: str) -> tuple[float, ...]:
        """Lengths in the sheet's own unit, given back in millimetres."""
        return tuple(_millimetres(value, self.scale) for value in self.numbers(key))

    def numbers(self, key: str) -> tuple[float, ...]:
        """A list of different numbers."""

        def ok(value: Any) -> bool:
            return (
                isinstance(value, list)
                and all(_is_number(one, None, None) for one in value)
                and len(set(value)) == len(value)
            )

        none: list[float] = []
        return tuple(float(one) for one in self.take(key, ok, "a list of different numbers", none))

    def table(self, key: str) -> SheetTable | None:
        """The table under *key*, if there is one."""
        self.known.add(key)
        if key not in self.plain:
            return None
        where = ".".join(filter(None, (self.where, key)))
        return SheetTable(self.plain[key], where, self.faults, self.scale)

    def done(self) -> None:
        """Say every key that nobody knows, with the nearest that is known."""
        for key in self.plain:
            if key not in self.known:
                near = difflib.get_close_matches(key, self.known, 1)
                hint = f"; did you mean {near[0]}?" if near else ""
                place = ".".join(filter(None, (self.where, key)))
                self.faults.append(f"{place}: no such key{hint}")


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _is_number(value: Any, least: float | None, above: float | None) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float) or not -LARGEST < value < LARGEST:
        return False
    return (least is None or value >= least) and (above is None or value > above)


def _millimetres(value: float, scale: float) -> float:
    return float(value) * scale if scale != 1.0 else float(value)
