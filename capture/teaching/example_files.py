"""Files of examples: what came and what displays showed, and a format tried on what came."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, TypeVar

import msgspec

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.format_files import read_format, write_format
from capture.dialects.taught.formats import decoded
from capture.dialects.taught.framing import Chunk
from capture.dialects.taught.records import DisplayValue
from capture.teaching.examples import Example, number, unit_named
from capture.teaching.learner import learn

T = TypeVar("T")


class BadExamples(ValueError):
    """A file of examples that can't be used, with every fault in it."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


class _Came(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    t: float
    hex: str
    example: int = 0


class _Displayed(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    example: int
    shown: str
    unit: str


def _lines(text: str, name: str, due: type[T], faults: list[str]) -> list[tuple[int, T]]:
    found = []
    for place, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        try:
            found.append((place, msgspec.json.decode(line, type=due)))
        except msgspec.DecodeError as error:
            faults.append(f"{name}, line {place}: {error}")
    return found


def read_dump(text: str, name: str) -> dict[int, tuple[Chunk, ...]]:
    """The captures in JSON Lines such as ``{"example":0,"t":0.0,"hex":"2b31"}``, by example.

    Times are seconds within an example and may not go back. Raises BadExamples with every fault.
    """
    faults: list[str] = []
    captures: dict[int, list[Chunk]] = {}
    for place, came in _lines(text, name, _Came, faults):
        chunks = captures.setdefault(came.example, [])
        try:
            data = bytes.fromhex(came.hex)
        except ValueError:
            faults.append(
                f"{name}, line {place}: hex is {came.hex!r}, two hexadecimal digits a byte were due"
            )
            continue
        if chunks and came.t < chunks[-1][0]:
            faults.append(f"{name}, line {place}: t is {came.t}, after {chunks[-1][0]}: time can't go back")
        chunks.append((came.t, data))
    if faults:
        raise BadExamples(faults)
    return {example: tuple(chunks) for example, chunks in captures.items()}


def read_shown(text: str, name: str) -> dict[int, tuple[Decimal, ShownUnit]]:
    """What displays showed, from JSON Lines such as ``{"example":0,"shown":"12.345","unit":"mm"}``.

    Raises BadExamples with every fault.
    """
    faults: list[str] = []
    shown: dict[int, tuple[Decimal, ShownUnit]] = {}
    for place, line in _lines(text, name, _Displayed, faults):
        try:
            if line.example in shown:
                faults.append(f"{name}, line {place}: example {line.example} is there twice")
            shown[line.example] = number(line.shown), unit_named(line.unit)
        except ValueError as error:
            faults.append(f"{name}, line {place}: {error}")
    if faults:
        raise BadExamples(faults)
    return shown


def teach_from(dump: str, shown: str, dump_name: str, shown_name: str) -> dict[str, Any]:
    """What two files teach.

    `format` is the text of the dialect file, None if nothing is certain; `understood` and `open` say in
    words what is known and what to show next; `mistyped` is the example that contradicts the others,
    `unlike` one whose bytes the others do not explain, or None. Raises BadExamples with every fault in
    the files.
    """
    captures, displayed = read_dump(dump, dump_name), read_shown(shown, shown_name)
    faults = [
        f"{shown_name}: example {each} is not in {dump_name}" for each in displayed.keys() - captures.keys()
    ]
    faults += [
        f"{dump_name}: example {each} is not in {shown_name}" for each in captures.keys() - displayed.keys()
    ]
    if faults:
        raise BadExamples(sorted(faults))
    order = sorted(displayed)
    lesson = learn([Example(captures[each], *displayed[each]) for each in order])
    return {
        "format": None if lesson.format is None else write_format(lesson.format),
        "understood": list(lesson.understood),
        "open": list(lesson.open),
        "mistyped": None if lesson.mistyped is None else order[lesson.mistyped],
        "unlike": None if lesson.unlike is None else order[lesson.unlike],
    }


def try_format(format_text: str, dump: str, format_name: str, dump_name: str) -> list[dict[str, Any]]:
    """What each frame in *dump* reads as: `t` of its last byte with `shown` and `unit`, or with `refused`.

    Raises BadFormat or BadExamples with every fault in the files.
    """
    format_ = read_format(format_text, format_name)
    return [
        {"t": at, **_plain(said)}
        for chunks in read_dump(dump, dump_name).values()
        for at, said in decoded(format_, chunks)
    ]


def _plain(said: DisplayValue | str) -> dict[str, str]:
    return {"refused": said} if isinstance(said, str) else {"shown": said.text, "unit": said.unit}
