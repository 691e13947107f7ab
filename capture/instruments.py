"""The gauges of a job sheet made ready to be listened to: each link with its dialect."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from capture.daemon import Instrument
from capture.dialects.known import dialect_for
from capture.links.serial import serial_link
from capture.sheet import Gauge, Job

LINE = ("baud", "bytesize", "parity", "stopbits", "dtr", "rts")
"""Settings of a serial line."""


class BadInstrument(Exception):
    """A gauge that can't be listened to as the sheet has it: which, what came, what was due."""


def instruments_of(job: Job, folder: Path) -> list[Instrument]:
    """Every gauge of *job*; dialect files are found from *folder*.

    Raises:
        BadInstrument: A dialect is missing or wrong, or a link is; nothing has been opened.
    """
    return [_instrument(gauge, folder) for gauge in job.gauges]


def _instrument(gauge: Gauge, folder: Path) -> Instrument:
    try:
        dialect = dialect_for(gauge, lambda name: (folder / name).read_text("utf-8"))
    except OSError as error:
        raise BadInstrument(f"gauge {gauge.name!r}: {gauge.dialect}: {error.strerror or error}") from None
    except ValueError as error:
        raise BadInstrument(str(error)) from None
    return Instrument(gauge.name, serial_link(gauge.link["serial"], **_line(gauge)), dialect)


def _line(gauge: Gauge) -> dict[str, Any]:
    return {key: gauge.link[key] for key in LINE if key in gauge.link}
