"""The ways to the gauges of a job sheet that are reached over a wire."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

from msgspec.structs import replace

from capture.dialects.dialect import Dialect
from capture.dialects.known import answer_in
from capture.links.keyboard import keyboard_link
from capture.links.link import Open
from capture.links.query import Question, query_link
from capture.links.serial import serial_link
from capture.links.shared import shared
from capture.sheet.job import Gauge

LINE = ("baud", "bytesize", "parity", "stopbits", "dtr", "rts", "xonxoff", "rtscts")
"""Settings of a serial line; gauges on one port have them in common."""
BUS_EVERY = 0.5
"""Seconds between two questions to a Modbus instrument, where the sheet has none."""

Way: TypeAlias = tuple[Open, Dialect]
"""How to open a gauge, and the dialect that reads it; what has to be asked is asked by the link."""


def wired(gauges: Iterable[Gauge], dialects: Mapping[str, Dialect]) -> dict[str, Way]:
    """The ways to those of *gauges* that have a `serial`, `modbus` or `keyboard` link, by their names.

    *dialects* are those of `dialect_for`, by the gauges' names. A port that several gauges name is opened
    once for all of them. Raises ValueError where a gauge's settings contradict each other, or another's.
    """
    ways: dict[str, Way] = {}
    ports: dict[str, list[Gauge]] = {}
    for gauge in gauges:
        spec = gauge.link.get("serial") or gauge.link.get("modbus")
        if spec is not None:
            ports.setdefault(spec, []).append(gauge)
        elif "keyboard" in gauge.link:
            ways[gauge.name] = _keyboard(gauge, dialects[gauge.name])
    for spec, group in ports.items():
        ways |= _port(spec, group, dialects)
    return ways


def _keyboard(gauge: Gauge, dialect: Dialect) -> Way:
    if gauge.ask is not None:
        raise ValueError(f"gauge {gauge.name!r}: a keyboard can't be asked; leave `ask` out")
    return keyboard_link(gauge.link["keyboard"], keys=gauge.link.get("keys")), dialect


def _port(spec: str, gauges: list[Gauge], dialects: Mapping[str, Dialect]) -> dict[str, Way]:
    first = gauges[0]
    for other in gauges[1:]:
        if _line(other) != _line(first):
            raise ValueError(
                f"gauges {first.name!r} and {other.name!r} share {spec}: "
                f"the same {', '.join(LINE)} were due for both"
            )
    open_ = serial_link(spec, **_line(first))
    if len(gauges) > 1:
        open_ = shared(open_)
    turn = asyncio.Lock()
    return {gauge.name: asked(gauge, open_, dialects[gauge.name], turn) for gauge in gauges}


def _line(gauge: Gauge) -> dict[str, Any]:
    return {key: gauge.link[key] for key in LINE if key in gauge.link}


def asked(gauge: Gauge, open_: Open, dialect: Dialect, turn: asyncio.Lock | None = None) -> Way:
    """The same way for a gauge that speaks unasked; with questions for one that is to be asked.

    Raises ValueError where the questions are described wrongly.
    """
    asks: Mapping[str, Any] = gauge.ask or {}
    bus = {"every": gauge.link.get("every", BUS_EVERY)} if "modbus" in gauge.link else {}
    try:
        ask = asks["send"].encode("latin-1") if "send" in asks else dialect.ask
    except UnicodeEncodeError as error:
        raise ValueError(f"gauge {gauge.name!r}: ask.send = {asks['send']!r}: ASCII text was due") from error
    if not ask:
        return open_, dialect
    times = {key: float(asks[key]) for key in ("every", "timeout") if key in asks}
    try:
        gap = dialect.gap if dialect.settled is None else None
        question = Question(ask, answer_in(dialect), gap=gap, hello=dialect.hello, **(bus | times))
    except ValueError as error:
        raise ValueError(f"gauge {gauge.name!r}: ask: {error}") from error
    return query_link(open_, question, turn), replace(dialect, hello=b"", ask=b"", doubt_first=False)
