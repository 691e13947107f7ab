"""Teaches a gauge's frames: from files of what came and what was shown, or in a conversation at the gauge."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, TypeVar

import msgspec
from msgspec.structs import replace

from capture.dialects.decimal import SCALES
from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.formats import decoded
from capture.dialects.framing import Chunk, lately
from capture.dialects.records import DisplayValue
from capture.dialects.taught import read_format, write_format
from capture.teaching.learner import Example, Learnt, learn, number

T = TypeVar("T")

UNITS: dict[str, ShownUnit] = {
    **{unit.lower(): unit for unit in SCALES},
    "inch": "in",
    "inches": "in",
    '"': "in",
    "\xb5m": "um",
    "\xb0c": "degC",
    "\xb0f": "degF",
    "\xb0": "deg",
}
"""Units as people type them, in small letters."""


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


def unit_named(text: str) -> ShownUnit:
    """The unit that a person calls *text*; ValueError tells which there are."""
    unit = UNITS.get(text.strip().lower())
    if unit is None:
        raise ValueError(f"{text.strip()!r} is no unit: {', '.join(SCALES)} were due")
    return unit


def teach_from(dump: str, shown: str, dump_name: str, shown_name: str) -> dict[str, Any]:
    """What two files teach.

    `format` is the text of the dialect file, None if nothing is certain; `understood` and
    `open` say in words what is known and what to show next; `mistyped` is the example that
    contradicts the others, or None. Raises BadExamples with every fault in the files.
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


PLAN = (
    "move near full travel",
    "show a negative reading",
    "show a small reading, near zero",
    "press the unit key and move near full travel",
    "show a negative reading in this unit",
)
"""Readings that settle most gauges, in the order of the least handling."""

WITH_IT = {
    PLAN[3]: (PLAN[4], "press the unit key and show a reading, if the gauge has another unit"),
}
"""What a gauge can't do either that can't do this."""

HOW = "hold the gauge still, press its button or let it send, and type what it shows, such as -12.345 mm"
SKIP = "no"
BACK = "back"
STILL = 1.5
"""Seconds before the last byte in which the gauge is taken to have stood still: what came before it was
on the way there (our own choice: a stream at 2 Hz still shows three readings)."""

MOST_HEARD = 16 << 10
"""Bytes of it: a second and a half at 115200 baud, and no more of a flood."""


class Conversation(msgspec.Struct, frozen=True):
    """Teaching at the gauge, as a machine of steps: bytes and answers in, words out; it does nothing itself.

    A terminal shows `prompt`, gives what comes from the gauge to `hear` and what a
    person types to `answer`, and goes on until `done`; `file` is then the dialect file.
    Another program uses `take`, `skip` and `back` (`capture.teaching.steps`).
    """

    examples: tuple[Example, ...] = ()
    answered: tuple[str, ...] = ()
    """Of each example the question that it answered."""
    received: tuple[Chunk, ...] = ()
    """What came since the last answer and may still count."""
    skipped: frozenset[str] = frozenset()
    """Questions that the gauge has no answer to."""
    lesson: Learnt = Learnt(None, (), ())

    @property
    def questions(self) -> tuple[str, ...]:
        """What is still to show: the plan first, then what the readings left open."""
        planned = [question for question in PLAN if question not in self.answered]
        return tuple(q for q in dict.fromkeys((*planned, *self.lesson.open)) if q not in self.skipped)

    @property
    def question(self) -> str:
        """What to show now; empty when all is known."""
        return "" if self.done else next(iter(self.questions), "show another reading")

    @property
    def done(self) -> bool:
        """Whether a format is certain and nothing is open."""
        return self.lesson.format is not None and not self.questions

    @property
    def prompt(self) -> str:
        """What to ask the person for now, on a terminal."""
        if self.done:
            return ""
        first = "" if self.examples else f"{HOW}. "
        return f"{first}{self.question} ({SKIP} = it can't, {BACK} = forget the last reading): "

    @property
    def file(self) -> str | None:
        """The text of the dialect file, once a format is certain."""
        return None if self.lesson.format is None else write_format(self.lesson.format)

    def hear(self, at: float, data: bytes) -> Conversation:
        """Take in *data* from the gauge, heard at *at* seconds."""
        return replace(self, received=lately(self.received, (at, data), STILL, MOST_HEARD))

    def take(self, value: Decimal, unit: ShownUnit) -> tuple[Conversation, str]:
        """Learn that what came is *value*; return how to go on, and which reading was left out, if one was.

        Raises ValueError when nothing came to be learnt from.
        """
        if not self.received:
            raise ValueError(
                "nothing came from the gauge: press its button before typing; is it set to send?"
            )
        examples = (*self.examples, Example(self.received, value, unit))
        answered = (*self.answered, self.question)
        step = _learnt(replace(self, examples=examples, answered=answered, received=()))
        wrong = step.lesson.mistyped
        if wrong is None:
            return step, ""
        rest, others = (each[:wrong] + each[wrong + 1 :] for each in (examples, answered))
        left = examples[wrong]
        return _learnt(replace(step, examples=rest, answered=others)), f"{left.shown} {left.unit}"

    def skip(self) -> Conversation:
        """The gauge can't show what is asked for."""
        asked = {question for question in (self.question,) if question}
        more = {other for question in asked for other in WITH_IT.get(question, ())}
        return replace(self, skipped=self.skipped | asked | more, received=())

    def back(self) -> Conversation:
        """Forget the last reading."""
        return _learnt(replace(self, examples=self.examples[:-1], answered=self.answered[:-1], received=()))

    def answer(self, text: str) -> tuple[Conversation, list[str]]:
        """Take in what a person typed; return how to go on and what to say."""
        typed = text.strip().lower()
        if typed == SKIP:
            return self.skip(), []
        if typed == BACK:
            return self.back(), ["the last reading is forgotten" if self.examples else "there is none yet"]
        try:
            step, left = self.take(*self._read(text))
        except ValueError as error:
            return self, [str(error)]
        again = [f"{left} contradicts the other readings and is left out: show it again"] if left else []
        return step, [*step.lesson.understood, *again]

    def live(self, chunks: Sequence[Chunk]) -> list[tuple[float, str]]:
        """What *chunks* say through what was learnt, as lines to show; nothing before a format is certain."""
        if self.lesson.format is None:
            return []
        return [
            (at, f"refused: {said}" if isinstance(said, str) else f"{said.text} {said.unit}")
            for at, said in decoded(self.lesson.format, chunks)
        ]

    def _read(self, text: str) -> tuple[Decimal, ShownUnit]:
        """The number and the unit in *text*; the unit of the last reading where none was typed."""
        digits = text.strip().rstrip('abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"\xb5\xb0% ')
        unit = text.strip()[len(digits) :]
        if unit.strip():
            return number(digits), unit_named(unit)
        if not self.examples:
            raise ValueError("type the unit too, such as 12.345 mm")
        return number(digits), self.examples[-1].unit


def _learnt(conversation: Conversation) -> Conversation:
    return replace(conversation, lesson=learn(conversation.examples))
