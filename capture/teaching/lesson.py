"""Teaches a gauge's frames in a conversation at the gauge."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

import msgspec
from msgspec.structs import replace

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.format_files import write_format
from capture.dialects.taught.formats import decoded
from capture.dialects.taught.framing import Chunk, lately
from capture.teaching.example_files import BadExamples, read_dump, read_shown, teach_from, try_format
from capture.teaching.examples import Example, number, unit_named
from capture.teaching.explaining import NEAR_FULL
from capture.teaching.learner import Learnt, learn

__all__ = [
    "BadExamples",
    "Conversation",
    "read_dump",
    "read_shown",
    "teach_from",
    "try_format",
    "unit_named",
]

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

SKIP = "no"
BACK = "back"
END = "end"
HOW = (
    "Hold the gauge still, press its button or let it send, and type what its display shows, such as "
    f"-12.345 mm.\nType {SKIP} for what the gauge can't do, {BACK} to forget the last reading, {END} to stop."
)
UNDERSTOOD = "what it sends is understood; what was not shown yet would be refused, so it is asked for"
MOST_NEAR_FULL = 6
"""Readings near full travel that are asked for, at the most: each helps less than the one before."""
STILL = 1.5
"""Seconds before the last byte in which the gauge is taken to have stood still: what came before it was
on the way there (our own choice: a stream at 2 Hz still shows three readings)."""

APART = 0.25
"""Seconds of silence between two messages of which only the second counts where they differ: a button was
pressed once more (our own choice: nobody presses faster)."""
MOST_HEARD = 16 << 10
"""Bytes of it: a second and a half at 115200 baud, and no more of a flood."""


class Conversation(msgspec.Struct, frozen=True):
    """Teaching at the gauge, as a machine of steps: bytes and answers in, words out; it does nothing itself.

    A terminal shows HOW, then `prompt`, gives what comes from the gauge to `receive` and what a
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
    said: frozenset[str] = frozenset()
    """What was said of what is understood, which is not said again."""
    typed_unit: ShownUnit | None = None
    """Of the last reading, also of one that was left out."""

    @property
    def questions(self) -> tuple[str, ...]:
        """What is still to show: the plan first, then what the readings left open."""
        planned = [question for question in PLAN if question not in self.answered]
        # Advice that was followed and did not help is not given again, and nothing is asked a third time.
        often = 1 if self.lesson.format is None else 2
        left = [
            question
            for question in self.lesson.open
            if self.answered.count(question) < (MOST_NEAR_FULL if question == NEAR_FULL else often)
        ]
        return tuple(q for q in dict.fromkeys((*planned, *left)) if q not in self.skipped)

    @property
    def question(self) -> str:
        """What to show now; empty when all is known."""
        return "" if self.done else next(iter(self.questions), "show another reading")

    @property
    def done(self) -> bool:
        """Whether a format is certain and nothing is open."""
        return self.lesson.format is not None and not self.questions

    @property
    def one_unit(self) -> bool:
        """Whether the gauge has no other unit, as its person said."""
        return not self.skipped.isdisjoint((PLAN[3], *WITH_IT[PLAN[3]][1:]))

    @property
    def prompt(self) -> str:
        """What to ask the person for now, on a terminal."""
        return "" if self.done else f"Now {self.question}: "

    @property
    def file(self) -> str | None:
        """The text of the dialect file, once a format is certain."""
        return None if self.lesson.format is None else write_format(self.lesson.format)

    def receive(self, at: float, data: bytes) -> Conversation:
        """Takes *data* from the gauge, received at *at* seconds."""
        return replace(self, received=lately(self.received, (at, data), STILL, MOST_HEARD))

    def take(self, value: Decimal, unit: ShownUnit) -> tuple[Conversation, str]:
        """Learn that what came is *value*; return how to go on, and which reading was left out and why.

        Raises ValueError when nothing came to be learnt from.
        """
        if not self.received:
            raise ValueError(
                "nothing came from the gauge: press its button before typing; is it set to send?"
            )
        examples = (*self.examples, Example(_last_said(self.received), value, unit))
        answered = (*self.answered, self.question)
        step = _learnt(replace(self, examples=examples, answered=answered, received=(), typed_unit=unit))
        mistyped, unlike = step.lesson.mistyped, step.lesson.unlike
        left = mistyped if unlike is None else unlike
        if left is None:
            return step, ""
        rest, others = (each[:left] + each[left + 1 :] for each in (examples, answered))
        shown = f"{examples[left].shown:f} {examples[left].unit}"
        why = (
            f"{shown} contradicts the other readings and is left out: show it again"
            if unlike is None
            else f"what came with {shown} is unlike what came with the others and is left out: show it again"
        )
        return _learnt(replace(step, examples=rest, answered=others)), why

    def skip(self) -> Conversation:
        """The gauge can't show what is asked for."""
        asked = {question for question in (self.question,) if question}
        more = {other for question in asked for other in WITH_IT.get(question, ())}
        step = replace(self, skipped=self.skipped | asked | more, received=())
        return _learnt(step) if step.one_unit and not self.one_unit else step

    def back(self) -> Conversation:
        """Forget the last reading."""
        return _learnt(replace(self, examples=self.examples[:-1], answered=self.answered[:-1], received=()))

    def answer(self, text: str) -> tuple[Conversation, list[str]]:
        """Take in what a person typed; return how to go on and what to say."""
        typed = text.strip().lower()
        if typed == SKIP:
            return self.skip().summed_up()
        if typed == BACK:
            none = "there is no reading to forget"
            return self.back(), ["the last reading is forgotten" if self.examples else none]
        try:
            step, left = self.take(*self._read(text))
        except ValueError as error:
            return self, [str(error)]
        taken = [_taken(step)] if len(step.examples) >= len(self.examples) + (not left) else []
        step, new = step.summed_up()
        return step, [*([left] if left else []), *taken, *new]

    def summed_up(self) -> tuple[Conversation, list[str]]:
        """What is said of what is understood: that it is, once a format is certain, and how at the end."""
        lines = [] if self.lesson.format is None else [UNDERSTOOD]
        if self.done:
            lines = list(self.lesson.understood)
        new = [line for line in lines if line not in self.said]
        return replace(self, said=self.said.union(new)), new

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
        unit = text.strip()[len(digits) :].strip()
        value = number(digits or text.strip())
        if unit:
            return value, unit_named(unit)
        if self.typed_unit is None:
            raise ValueError(f"type the unit too, such as {text.strip()} mm")
        return value, self.typed_unit


def _taken(conversation: Conversation) -> str:
    last = conversation.examples[-1]
    return f"{last.shown:f} {last.unit} is taken"


def _last_said(chunks: Sequence[Chunk]) -> tuple[Chunk, ...]:
    """*chunks* without what came before a silence, where that was another message than the last whole one."""
    begins = [
        0,
        *(place for place, (one, other) in enumerate(pairwise(chunks), 1) if other[0] - one[0] > APART),
    ]
    said = [b"".join(data for _, data in chunks[at:end]) for at, end in pairwise([*begins, len(chunks)])]
    if _unfinished(said):
        chunks, said = chunks[: begins.pop()], said[:-1]
    return tuple(chunks if len(set(said)) == 1 else chunks[begins[-1] :])


def _unfinished(said: Sequence[bytes]) -> bool:
    """Whether the last of these messages is shorter than one before it and does not end as all others do.

    A person types at any moment, also while a slow stream is in the middle of a message; the first may lack
    its head.
    """
    *others, last = said
    return len(last) < max(map(len, others), default=0) and not any(one.endswith(last[-1:]) for one in others)


def _learnt(conversation: Conversation) -> Conversation:
    examples = [replace(each, only=conversation.one_unit) for each in conversation.examples]
    return replace(conversation, lesson=learn(examples))
