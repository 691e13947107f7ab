"""A gauge that was taught, as a sheet has it: its lines, and a sheet with them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

import tomlkit
from msgspec import Struct

from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Units
from dashboard.setup.sheet_form import opened
from dashboard.text.screen import word
from dashboard.views.setup.in_sight import fits

NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_ -]{0,39}")
"""Letters that are safe in a file's name everywhere."""
TAKEN: Final = frozenset({"person", "desk", "daemon"})
RESERVED: Final = re.compile(r"con|prn|aux|nul|com\d|lpt\d", re.IGNORECASE)
"""Names that Windows takes for devices."""
IN_MM: Final[Mapping[str, float]] = {"mm": 1.0, "um": 0.001, "in": MM_PER_INCH}
IN_DEGREES: Final[Mapping[str, float]] = {"degC": 1.0, "K": 1.0, "degF": 5 / 9}
IN_WATTS: Final[Mapping[str, float]] = {"W": 1.0, "kW": 1000.0, "%": 1.0}
"""A gauge that is written down so has W or % on the sheet."""
USUAL: Final[Mapping[str, Any]] = {"baud": 9600, "bytesize": 8, "parity": "N", "stopbits": 1}
"""What need not be written of a serial line."""


class NewGauge(Struct, frozen=True):
    """A gauge for a sheet."""

    name: str
    measures: str
    link: Mapping[str, Any]
    part: str = ""
    dialect: str = ""
    resolution: float | None = None
    """In the sheet's units."""


def name_fault(name: str) -> str:
    """What is wrong with a gauge's name; empty when nothing is."""
    if NAME.fullmatch(name) is None or name.casefold() in TAKEN or RESERVED.fullmatch(name):
        return word("keep.bad-name", came=name[:60])
    return ""


def file_of(name: str, end: str) -> str:
    """The name of a gauge's dialect file.

    >>> file_of("Bore gauge 2", ".dialect.toml")
    'bore-gauge-2.dialect.toml'
    """
    return name.strip().lower().replace(" ", "-") + end


def step_of(text: str, unit: str, sheet: Units) -> float | None:
    """The step of a display in the sheet's units; None for no length, temperature or power.

    Raises:
        ValueError: It is no number above 0.
    """
    try:
        step = float(text.replace(",", "."))
    except ValueError:
        step = 0.0
    if not 0.0 < step < 1000.0:
        raise ValueError(word("keep.bad-step", came=text[:20]))
    if unit in IN_MM:
        step *= IN_MM[unit] / IN_MM[sheet]
    elif unit in IN_DEGREES:
        step *= IN_DEGREES[unit]
    elif unit in IN_WATTS:
        step *= IN_WATTS[unit]
    else:
        return None
    return float(f"{step:.6g}")


def line_of(picture: Mapping[str, Any]) -> dict[str, Any]:
    """What a sheet has to say of a serial line's setting."""
    return {key: picture[key] for key, usual in USUAL.items() if picture.get(key, usual) != usual}


def lines(gauge: NewGauge) -> str:
    """The gauge's lines for a sheet."""
    document, listed, table = tomlkit.document(), tomlkit.aot(), tomlkit.table()
    table["name"] = gauge.name
    table["measures"] = gauge.measures
    if gauge.part:
        table["part"] = gauge.part
    table["link"] = tomlkit.inline_table()
    table["link"].update(gauge.link)
    if gauge.dialect:
        table["dialect"] = gauge.dialect
    if gauge.resolution is not None:
        table["resolution"] = gauge.resolution
    listed.append(table)
    document.append("gauge", listed)
    return tomlkit.dumps(document)


def with_gauge(text: str, gauge: NewGauge, kind: str, names: Iterable[str]) -> tuple[str, str]:
    """The sheet with the gauge in it, and the name that it has there.

    A gauge of the sheet that stands on the same way already (one of *names*) keeps all but its dialect and
    the setting of its line: a port can't have two. Comments and the order of the sheet are kept.

    Raises:
        BadSheet: The text is not TOML.
    """
    document = opened(text)
    listed: Any = document.get("gauge")
    for old in listed if isinstance(listed, list) else ():
        link = old.get("link") if isinstance(old, Mapping) else None
        if isinstance(link, Mapping) and fits(link, kind, names):
            _renew(old, link, gauge)
            return tomlkit.dumps(document), str(old.get("name", gauge.name))
    return f"{text.rstrip()}\n\n{lines(gauge)}".lstrip(), gauge.name


def _renew(old: Any, link: Any, gauge: NewGauge) -> None:
    if gauge.dialect:
        old["dialect"] = gauge.dialect
    elif "dialect" in old:
        del old["dialect"]
    for key in {*USUAL, "value", "bytes"} - gauge.link.keys():
        if key in link:
            del link[key]
    for key, value in gauge.link.items():
        if key not in {"serial", "ble"}:
            link[key] = value
