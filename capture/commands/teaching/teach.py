"""`teach`: learn what an unknown gauge says, at the gauge or from files."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any, Final

import click

from capture.commands.options import AS_JSON
from capture.commands.teaching.at_the_gauge import at_the_gauge
from capture.commands.teaching.guided import guided
from capture.commands.terminal import echo, echo_json
from capture.dialects.decimal import decimal_line
from capture.dialects.taught.format_files import BadFormat
from capture.host.disk import read_small_text
from capture.links.link import Open
from capture.links.serial import serial_link
from capture.teaching.example_files import BadExamples, teach_from, try_format
from capture.teaching.guide import Guide
from capture.teaching.line_settings import LineSetting, Search

LARGEST_DUMP: Final = 64 << 20
"""Bytes in a file of examples."""
EXISTING = click.Path(path_type=Path, dir_okay=False, exists=True)


@click.command("teach")
@click.option("--serial", metavar="PORT", help="The gauge's port; its readings are asked for one by one.")
@click.option("--ble", metavar="DEVICE", help="With --json: a Bluetooth device (address or name) instead.")
@click.option("--value", metavar="UUID", help="Which of its values carries the readings.")
@click.option("--baud", type=int, help="Of the line; found by listening where it is not given.")
@click.option("--bytesize", default="8", show_default=True, type=click.Choice(["5", "6", "7", "8"]))
@click.option("--parity", default="N", show_default=True, type=click.Choice(["N", "E", "O"]))
@click.option("--stopbits", default="1", show_default=True, type=click.Choice(["1", "1.5", "2"]))
@click.option("--dump", type=EXISTING, help='What came: lines of {"example":0,"t":0.0,"hex":"2b31"}.')
@click.option("--shown", type=EXISTING, help='What displays showed: {"example":0,"shown":"1.5","unit":"mm"}.')
@click.option("--try", "trying", type=EXISTING, help="Read --dump through this dialect file.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The dialect file to write."
)
@AS_JSON
def teach_command(
    serial: str | None,
    ble: str | None,
    value: str | None,
    baud: int | None,
    bytesize: str,
    parity: str,
    stopbits: str,
    dump: Path | None,
    shown: Path | None,
    trying: Path | None,
    out: Path | None,
    as_json: bool,
) -> int:
    """Learn an unknown gauge's format from a few examples; then name the file as its dialect.

    \b
    At the gauge:   tenths teach --serial /dev/ttyUSB0 -o gauge.toml
    From files:     tenths teach --dump came.jsonl --shown shown.jsonl -o gauge.toml
    Trying a file:  tenths teach --try gauge.toml --dump came.jsonl

    At the gauge with --json another program teaches: a wish a line in, a picture a line out.
    """  # noqa: D301 - the control character itself keeps the lines that follow as they are
    try:
        if trying is not None and dump is not None:
            return _try(trying, dump, as_json=as_json)
        if dump is not None and shown is not None:
            return _from_files(dump, shown, out, as_json=as_json)
    except (BadExamples, BadFormat) as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{error.filename}: {error.strerror or error}") from None
    line = LineSetting(baud or 9600, int(bytesize), parity, float(stopbits))  # type: ignore[arg-type]  # click has checked the choices
    search = Search() if baud is None else Search(found=line)
    if as_json and ble is not None:
        return asyncio.run(guided(lambda _: _in_the_air(ble, value), Guide(search=None)))
    if serial is None:
        raise click.UsageError("due: --serial PORT, or --dump with --shown, or --try with --dump")
    if as_json:
        return asyncio.run(guided(lambda setting: _wired(serial, setting), Guide(search=search)))
    return at_the_gauge(lambda setting: _wired(serial, setting), search, out or Path("gauge.toml"))


def _wired(spec: str, line: LineSetting) -> Open:
    return serial_link(
        spec, baud=line.baud, bytesize=line.bytesize, parity=line.parity, stopbits=line.stopbits
    )


def _in_the_air(device: str, value: str | None) -> Open:
    """The stream of a Bluetooth device's value, as it comes."""
    from capture.links.bluetooth.ble import ble as ble_link  # noqa: PLC0415 - bleak is slow to load
    from capture.links.bluetooth.radio import Radio  # noqa: PLC0415

    link = {"ble": device, "value": value, "bytes": True}
    try:
        return ble_link(link, decimal_line(), measures="diameter", radio=Radio())[0]
    except ValueError as error:
        raise click.UsageError(str(error)) from None


def _examples(path: Path) -> str:
    return read_small_text(path, LARGEST_DUMP)


def _from_files(dump: Path, shown: Path, out: Path | None, *, as_json: bool) -> int:
    found = teach_from(_examples(dump), _examples(shown), str(dump), str(shown))
    text = found["format"]
    if text is not None and out is not None:
        out.write_text(text, "utf-8")
    if as_json:
        written = str(out) if text is not None and out is not None else None
        echo_json(json.dumps({**found, "written": written}, ensure_ascii=False))
    else:
        _say(found, out)
    return 0 if text is not None else 1


def _say(found: dict[str, Any], out: Path | None) -> None:
    for line in found["understood"]:
        echo(line)
    for line in found["open"]:
        echo(f"still open: {line}")
    if found["mistyped"] is not None:
        echo(f"example {found['mistyped']} contradicts the others: was it mistyped?")
    if found["unlike"] is not None:
        echo(f"what came in example {found['unlike']} is unlike what came in the others")
    if found["format"] is None:
        echo("nothing is certain yet: show more readings")
    elif out is not None:
        echo(f'written to {out}; on the sheet: dialect = "{out}"')
    else:
        echo(found["format"], nl=False)


def _try(format_file: Path, dump: Path, *, as_json: bool) -> int:
    rows = try_format(read_small_text(format_file), _examples(dump), str(format_file), str(dump))
    if as_json:
        echo_json(json.dumps(rows, ensure_ascii=False))
    else:
        for row in rows:
            echo(f"{row['t']:10.3f}  {row.get('shown', '')} {row.get('unit', '')}{_refused(row)}")
    return 0


def _refused(row: dict[str, Any]) -> str:
    return f"refused: {row['refused']}" if "refused" in row else ""
