"""`formula`: work out one formula of the trade, with its source."""

from __future__ import annotations

import inspect
from typing import Any

import click
import msgspec

from capture.analysis.handbook import FORMULAS, BadValue, Formula, answer
from capture.commands.options import AS_JSON
from capture.commands.terminal import echo, echo_json


@click.command("formula")
@AS_JSON
@click.argument("name", required=False)
@click.argument("values", nargs=-1, metavar="[KEY=VALUE]…")
def formula_command(name: str | None, values: tuple[str, ...], as_json: bool) -> int:
    r"""Work out one formula: tolerances, V-blocks, speeds, cooling, chrome.

    Without a name it lists them; with a name alone it says what the formula asks for. Lengths are in mm,
    temperatures in °C; several numbers are separated by commas.

    \b
    tenths formula v-block lobes=3 angle=60
    tenths formula grade nominal=55 grade=6
    tenths formula rpm diameter=55 speed=20000
    """
    if name is None:
        _list(as_json=as_json)
        return 0
    if name not in FORMULAS:
        raise click.UsageError(f"there is no formula {name!r}; `tenths formula` lists them")
    formula = FORMULAS[name]
    if not values:
        echo(_asks(formula))
        return 0
    try:
        found = answer(formula, dict(_pair(value) for value in values))
    except BadValue as error:
        raise click.UsageError(str(error)) from None
    plain = msgspec.to_builtins(found, enc_hook=str)
    echo_json(msgspec.json.encode(plain).decode() if as_json else _text(plain))
    return 0


def _pair(value: str) -> tuple[str, str]:
    key, equals, text = value.partition("=")
    if not equals:
        raise BadValue(f"{value!r} is not KEY=VALUE")
    return key, text


def _list(*, as_json: bool) -> None:
    if as_json:
        listed = {one.name: {"subject": one.subject, "says": one.says} for one in FORMULAS.values()}
        echo_json(msgspec.json.encode(listed).decode())
        return
    width = max(map(len, FORMULAS))
    for subject in dict.fromkeys(one.subject for one in FORMULAS.values()):
        echo(f"{subject}:")
        for one in FORMULAS.values():
            if one.subject == subject:
                echo(f"  {one.name:<{width}}  {one.says}")


def _asks(formula: Formula) -> str:
    keys = " ".join(
        f"{key}=…" if one.default is inspect.Parameter.empty else f"[{key}={one.default}]"
        for key, one in formula.parameters.items()
    )
    return f"tenths formula {formula.name} {keys}\n\n{inspect.getdoc(formula.function)}"


def _text(found: Any, indent: str = "") -> str:
    if isinstance(found, dict):
        return "\n".join(
            f"{indent}{key}:\n{_text(value, indent + '  ')}"
            if isinstance(value, dict | list) and value
            else f"{indent}{key} = {_text(value)}"
            for key, value in found.items()
        )
    if isinstance(found, list | tuple):
        if any(isinstance(one, dict) for one in found):
            return "\n\n".join(_text(one, indent) for one in found)
        return indent + ", ".join(_text(one) for one in found)
    if isinstance(found, float):
        return f"{found:.6g}"
    return "not known" if found is None else str(found)
