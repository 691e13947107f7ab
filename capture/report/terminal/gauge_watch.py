"""All gauges of a sheet at a glance on the terminal: value, rate, age, garbled, battery, link. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace
from rich.table import Table
from rich.text import Text

from capture.events import Down, Event, Instant, Reading, Up
from capture.sheet.job import Gauge, Job, Units
from capture.state import health
from capture.state.fold import Fold
from capture.state.health import Health
from capture.text.lengths import size

KEPT = 4
"""Changes of a link that are shown: the newest of them."""


class Change(Struct, frozen=True):
    """A link that went up or down."""

    at: Instant
    up: bool
    words: str


class WatchedGauge(Struct, frozen=True):
    """One gauge, and the newest changes of its link, the newest first."""

    health: Health = Health()
    changes: tuple[Change, ...] = ()


class Watch(Struct, frozen=True):
    """All gauges of a job at one moment."""

    gauges: Mapping[str, WatchedGauge]
    now: Instant = Instant(0, 0)


class GaugeRow(Struct, frozen=True):
    """One gauge as words."""

    name: str
    value: str
    rate: str
    age: str
    garbled: str
    battery: str
    link: tuple[str, ...]
    """How the link is, and below it how it was, the newest first."""
    well: bool
    """Whether it is connected, and speaks as it did."""


def watching(job: Job) -> Fold[Watch]:
    """Follow every gauge of *job*; a beat moves the time on."""

    def step(state: Watch, event: Event) -> Watch:
        before = state.gauges.get(event.source)
        if before is None:
            return replace(state, now=event.at)
        after = WatchedGauge(health.step(before.health, event), _changed(before, event))
        return Watch({**state.gauges, event.source: after}, event.at)

    return Fold(Watch({gauge.name: WatchedGauge() for gauge in job.gauges}), step)


def _changed(before: WatchedGauge, event: Event) -> tuple[Change, ...]:
    match event.fact:
        case Up(detail=words):
            change = Change(event.at, up=True, words=words)
        case Down(why=words):
            change = Change(event.at, up=False, words=words)
        case _:
            return before.changes
    last = before.changes[0] if before.changes else None
    if last is not None and (last.up, last.words) == (change.up, change.words):
        return before.changes  # the same refusal at every new try is one
    return (change, *before.changes)[:KEPT]


def rows(state: Watch, job: Job) -> list[GaugeRow]:
    """Every gauge of the sheet, in its order."""
    return [_row(gauge, state.gauges[gauge.name], state.now, job.units) for gauge in job.gauges]


def _row(gauge: Gauge, seen: WatchedGauge, now: Instant, units: Units) -> GaugeRow:
    state = seen.health
    age = state.age(now)
    silent = seen.health.silent_for(now, gauge) is not None
    return GaugeRow(
        name=gauge.name,
        value=_value(state.last, units),
        rate="–" if state.rate is None else f"{state.rate:.3g}/s",
        age="–" if age is None else duration(age),
        garbled=f"{state.garbled}" + (f" ({state.last_garbled})" if state.in_a_row else ""),
        battery="–" if state.battery is None else f"{state.battery:.0f} %",
        link=_links(seen, now, silent=silent),
        well=bool(state.up) and not silent and not state.in_a_row,
    )


def _value(last: Reading | None, units: Units) -> str:
    if last is None:
        return "–"
    if last.unit == "mm":
        # An inch gauge's decimals are of an inch, which has one more than a millimetre of the same step.
        return size(last.value, units, max(0, last.digits - (last.shown == "in")))
    unit = {"degC": "°C", "1": ""}.get(last.unit, last.unit)
    return f"{last.value:.{last.digits}f} {unit}".rstrip()


def _links(seen: WatchedGauge, now: Instant, *, silent: bool) -> tuple[str, ...]:
    if not seen.changes:
        return ("not tried yet",)
    newest, *older = ((duration((now.mono - c.at.mono) / 1e9), c) for c in seen.changes)
    lines = [f"{_way(newest[1])} {newest[0]}: {newest[1].words}"]
    lines += [f"{ago} ago {_way(change)}: {change.words}" for ago, change in older]
    if silent:
        spoke = "silent" if seen.health.readings else "connected, but has never spoken"
        lines[0] = f"{spoke}; {lines[0]}"
    if seen.health.downs:
        lines[0] += f"; lost {seen.health.downs}×"
    return tuple(lines)


def _way(change: Change) -> str:
    return "up" if change.up else "down"


def duration(seconds: float) -> str:
    """A time as a person takes it in.

    >>> duration(0.42), duration(75), duration(7300), duration(200000)
    ('0.4 s', '1 min', '2 h', '2 d')
    """
    if seconds < 10:
        return f"{max(seconds, 0.0):.1f} s"
    for unit, length, most in (("s", 1, 60), ("min", 60, 60), ("h", 3600, 48)):
        if seconds < length * most:
            return f"{seconds // length:.0f} {unit}"
    return f"{seconds // 86400:.0f} d"


def table(lines: Sequence[GaugeRow]) -> Table:
    """The gauges as a table for `rich`; whatever a gauge says is text there, never markup."""
    shown = Table(expand=True)
    for heading in ("gauge", "value", "rate", "age", "garbled", "battery"):
        shown.add_column(
            heading, no_wrap=heading != "garbled", justify="left" if heading == "gauge" else "right"
        )
    shown.add_column("link", ratio=1)
    for row in lines:
        style = "" if row.well else "bold red"
        link = Text(row.link[0], style).append("".join(f"\n{line}" for line in row.link[1:]), "dim")
        cells = (row.value, row.rate, row.age, row.garbled, row.battery)
        shown.add_row(Text(row.name, style), *map(Text, cells), link)
    return shown
