"""The dialect that a gauge of the job sheet speaks: one built in, or one that a file describes."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Dialect
from capture.dialects.gatt import NUMBERS
from capture.dialects.registers import Registers, registers
from capture.sheet.job import Gauge


def dialect_for(gauge: Gauge, text_of: Callable[[str], str]) -> Dialect:
    """The dialect of *gauge*.

    *text_of* gives the text of a dialect's file by the name that the sheet has for it, and may raise
    OSError. Raises ValueError where there is no such dialect, a file describes none, or registers are
    described wrongly.
    """
    if "modbus" in gauge.link:
        return registers(_registers(gauge))
    if gauge.dialect == "gatt":
        return NUMBERS
    if gauge.dialect == "decimal-line":
        return decimal_line(unit=gauge.unit, channel=gauge.channel)
    if gauge.dialect.endswith(".toml"):
        from capture.dialects.taught.format_files import load  # noqa: PLC0415 - most sheets name no file

        return load(text_of(gauge.dialect), gauge.dialect)
    raise ValueError(
        f"gauge {gauge.name!r}: there is no dialect {gauge.dialect!r}; "
        "decimal-line, gatt, or the path of a dialect's file (.toml) was due"
    )


def answer_in(dialect: Dialect) -> Callable[[bytes], int]:
    """How long the first whole answer in some bytes is, with ends of lines before it; 0 to wait for more."""

    def length(data: bytes) -> int:
        start = 0
        while start < len(data):
            size = dialect.cut(data[start : start + dialect.longest])
            if not size and len(data) - start >= dialect.longest:
                return start + dialect.longest
            if not size and dialect.settled is not None:
                # An answer is one piece: nothing follows it that its end would have to wait for.
                size = dialect.settled(data[start:])
            if not size:
                return 0
            piece = data[start : start + size].decode("latin-1")
            start += size
            if dialect.read(piece) is not None:
                return start
        return 0

    return length


def _registers(gauge: Gauge) -> Registers:
    names = ("unit", "register", "kind", "order", "scale", "function")
    given = {name: gauge.link[name] for name in names if name in gauge.link}
    count = gauge.link.get("count")
    if "kind" not in given:
        given["kind"] = "s16" if count == 1 else "s32"
    try:
        where = msgspec.convert(given | {"shown": gauge.unit}, Registers)
    except msgspec.ValidationError as error:
        raise ValueError(f"gauge {gauge.name!r}: link: {error}") from error
    if count not in {None, where.count}:
        raise ValueError(f"gauge {gauge.name!r}: link: count = {count}, a {where.kind} has {where.count}")
    if "scale" not in given and where.kind != "f32":
        raise ValueError(
            f"gauge {gauge.name!r}: link: scale was due: what one count is worth, in {where.shown}"
        )
    return where
