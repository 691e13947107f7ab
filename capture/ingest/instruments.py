"""The gauges of a job sheet made ready to be listened to: each link with its dialect."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Dialect
from capture.dialects.known import dialect_for
from capture.host.disk import read_small_text
from capture.ingest.gauge_reader import Instrument
from capture.links.keyboard import keyboard_link
from capture.links.known import Way, asked, wired
from capture.sheet.job import Gauge, Job, Pedal

MOVES = frozenset({"infeed", "table", "power"})
"""What changes faster than a part that is measured."""


class BadInstrument(Exception):
    """A gauge that can't be listened to as the sheet has it: which, what came, what was due."""


def instruments_of(job: Job, folder: Path) -> list[Instrument]:
    """Every gauge and pedal of *job*; dialect files are found from *folder*. Nothing is opened.

    Raises:
        BadInstrument: A dialect is missing or wrong, or a link is.
    """
    try:
        dialects = {gauge.name: _dialect(gauge, folder) for gauge in job.gauges}
        ways = {**wired(job.gauges, dialects), **_over_the_air(job, dialects)}
    except ValueError as error:
        raise BadInstrument(str(error)) from None
    # A simulated shop works faster than any hand: what is too fast for a part is not for it.
    gauges = [
        Instrument(gauge.name, *ways[gauge.name], moves=job.simulated or gauge.measures in MOVES)
        for gauge in job.gauges
    ]
    return [*gauges, *(_pedal(pedal) for pedal in job.pedals)]


def _pedal(pedal: Pedal) -> Instrument:
    keys = {key: f"{words}\r" for key, words in pedal.keys.items()}
    return Instrument(pedal.name, keyboard_link(pedal.keyboard, keys=keys), decimal_line(), words=True)


def _dialect(gauge: Gauge, folder: Path) -> Dialect:
    try:
        return dialect_for(gauge, lambda name: read_small_text(folder / name))
    except OSError as error:
        raise BadInstrument(f"gauge {gauge.name!r}: {gauge.dialect}: {error.strerror or error}") from None


def _over_the_air(job: Job, dialects: Mapping[str, Dialect]) -> dict[str, Way]:
    gauges = [gauge for gauge in job.gauges if "ble" in gauge.link]
    if not gauges:
        return {}
    from capture.links.bluetooth.ble import ble  # noqa: PLC0415 - bleak is slow to load
    from capture.links.bluetooth.radio import Radio  # noqa: PLC0415

    radio = Radio()
    return {
        gauge.name: asked(gauge, *ble(gauge.link, dialects[gauge.name], measures=gauge.measures, radio=radio))
        for gauge in gauges
    }
