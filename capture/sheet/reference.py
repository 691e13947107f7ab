"""The reference of the sheet, made from its schema: every key, its default, what it may be, what it means."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final

from msgspec import Struct

from capture.sheet.gauges.link_keys import TABLES, Ask, SerialLine
from capture.sheet.job import Fit, Gauge, Grinder, Job, Pedal, Workpiece
from capture.sheet.schema import LENGTH, READING, Entry, entries_of, leaves
from capture.sheet.settings import Settings
from capture.sheet.wheel_work import WheelData, WorkData

HEAD: Final = """\
# The sheet: every key

Made from the schema in this folder; a test holds it equal. After a change of the schema:
`python -m capture.sheet > capture/sheet/REFERENCE.md`.

The sheet is TOML. A *length* is in the job's unit (`units`), a length *in mm* always in millimetres; infeed
and clearance are on diameter; temperatures are in °C, times in seconds. A key marked *must* has to be given
where its table is there; with an empty default the figure is then not known.
"""
MEMORY: Final = """\
`machines.toml` beside the sheet has one table for each machine and wheel, `["NAME / WHEEL"]` (`["grinder"]`
where both are empty), with the keys of `known`. It may be corrected by hand.
"""


def reference() -> str:
    """The whole reference as Markdown."""
    return "\n".join(part.strip() + "\n" for part in _parts())


def _parts() -> Iterator[str]:
    yield HEAD
    yield _table("`[job]`", _scalars(Job))
    yield _table("`[fit]`", leaves(Fit))
    yield _table("`[bore]` and `[shaft]`", leaves(Workpiece))
    yield _table("`[grinder]`", leaves(Grinder))
    yield MEMORY
    yield _table("`[wheel]`", leaves(WheelData))
    yield _table("`[work]`", leaves(WorkData))
    gauge = [*((key, one) for key, one in leaves(Gauge) if key != "ask"), *leaves(Ask, "ask.")]
    yield _table("`[[gauge]]`, one for each", gauge)
    for kind, (first, *_) in TABLES.items():
        yield _table(f"`link = {{ {kind} = … }}`", leaves(first), first)
    shared = " and ".join(
        f"`link = {{ {kind} = … }}`" for kind, tables in TABLES.items() if SerialLine in tables
    )
    yield _table(f"{shared}: the line", leaves(SerialLine), SerialLine)
    yield _table("`[[pedal]]`, a foot pedal or a keypad", leaves(Pedal))
    yield _table("`[settings]`", leaves(Settings), Settings)


def _scalars(struct: type[Struct]) -> Iterator[tuple[str, Entry]]:
    return ((one.name, one) for one in entries_of(struct) if one.kind not in {"table", "tables"})


def _table(title: str, keys: Iterable[tuple[str, Entry]], of: type[Struct] | None = None) -> str:
    rows = [f"| `{key}` | {_default(entry)} | {_may_be(entry)} | {_meaning(entry)} |" for key, entry in keys]
    about = f"{(of.__doc__ or '').strip()}\n\n" if of is not None else ""
    return f"## {title}\n\n{about}| key | default | may be | meaning |\n|---|---|---|---|\n" + "\n".join(rows)


def _default(entry: Entry) -> str:
    return "*must*" if entry.must else entry.key.default or written(entry.default)


def written(value: Any) -> str:
    """A default as a person would type it; empty where there is none."""
    match value:
        case None | () | "":
            return ""
        case bool():
            return str(value).lower()
        case float():
            return f"{value:.12g}"
        case _:
            return str(value)


def _may_be(entry: Entry) -> str:
    due = ", ".join(f"`{one}`" for one in entry.among) or entry.due
    if entry.kind == "numbers" and entry.key.unit == LENGTH:
        due = "a list of different lengths"
    return due + (", in what it shows" if entry.key.unit == READING else "")


def _meaning(entry: Entry) -> str:
    source = f" ({entry.key.source})" if entry.key.source else ""
    return f"{entry.key.label}: {entry.key.help}{source}"
