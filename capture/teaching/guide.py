"""Teaching step by step: bytes of the gauge and wishes of a person in, what there is to show out. Pure."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.taught.format_files import write_format
from capture.dialects.taught.formats import decoded
from capture.dialects.taught.framing import Chunk, lately
from capture.dialects.taught.records import DisplayValue
from capture.teaching.examples import number as as_number
from capture.teaching.examples import unit_named
from capture.teaching.lesson import PLAN, Conversation
from capture.teaching.line_settings import TRIED, LineSetting, Search
from capture.teaching.steps import (
    Agree,
    Answered,
    Back,
    Came,
    Cannot,
    Find,
    Line,
    Listening,
    Picture,
    Reads,
    Send,
    Step,
    Take,
    Unfit,
    Wish,
    readable,
    sent_bytes,
)

LIVE: Final = 6.0
"""Seconds of what came through which the live reading is read."""
MOST_LIVE: Final = 2048
"""Bytes of it: some seconds of the fastest gauge, and no more of a flood."""
TAIL: Final = 240
"""The last bytes that are shown as they came."""
MOST_READINGS: Final = 40
"""Readings taught at most: more make the search long and teach nothing (our own choice)."""


class Guide(Struct, frozen=True):
    """Where a lesson stands."""

    talk: Conversation = Conversation()
    search: Search | None = Search()
    """None where there is no setting to be found."""
    live: tuple[Chunk, ...] = ()
    tail: bytes = b""
    came: int = 0
    since: int = 0
    agreed: int = 0
    ask: str = ""
    answered: int = 0

    @property
    def setting(self) -> LineSetting:
        """How the line is to be set."""
        return LineSetting() if self.search is None else self.search.setting

    @property
    def searching(self) -> bool:
        """Whether what comes is not to be learnt from yet."""
        return self.search is not None and self.search.found is None

    def receive(self, at: float, data: bytes) -> Guide:
        """Takes *data*, received at *at* seconds."""
        more = replace(
            self,
            tail=(self.tail + data)[-TAIL:],
            came=self.came + len(data),
            since=self.since + len(data),
            live=lately(self.live, (at, data), LIVE, MOST_LIVE),
        )
        if self.search is None or self.search.found is not None:
            return replace(more, talk=self.talk.receive(at, data))
        return _searched(more, self.search.receive(data))

    def pause(self) -> Guide:
        """Nothing has come for a while: what came is whole."""
        return (
            _searched(self, self.search.receive(b"", pause=True)) if self.search and self.searching else self
        )

    def answer(self, wish: Wish) -> tuple[Guide, Answered]:
        """What becomes of a wish."""
        do = str(type(wish).__struct_config__.tag)
        number = self.answered + 1
        try:
            after, said = self._done(wish)
        except Unfit as fault:
            return replace(self, answered=number), Answered(number, do, fault.field, str(fault))
        return replace(after, answered=number), Answered(number, do, said=said)

    def _done(self, wish: Wish) -> tuple[Guide, str]:
        match wish:
            case Line() | Find():
                return self._set(wish), ""
            case Take():
                return self._taken(wish)
            case Cannot():
                return replace(self, talk=self.talk.skip(), since=0), ""
            case Back():
                if not self.talk.examples:
                    raise Unfit("", "there is no reading to take back")
                return replace(
                    self, talk=self.talk.back(), since=0, agreed=0
                ), "the last reading is forgotten"
            case Agree():
                if not self._reads().shown:
                    raise Unfit("", "nothing is read now: press the gauge's button, or let it send")
                return replace(self, agreed=self.agreed + 1), ""
            case Send():
                sent_bytes(wish.text)
                return replace(self, ask=wish.text), ""
            case _:
                return self, ""

    def _set(self, wish: Line | Find) -> Guide:
        if self.search is None:
            raise Unfit("line", "this link has no settings of a serial line")
        if self.talk.examples:
            raise Unfit("line", "readings were taken at the present setting: take them back first")
        if isinstance(wish, Find):
            return replace(self, search=Search(), talk=Conversation(), tail=b"", live=(), since=0)
        if not 50 <= wish.baud <= 4_000_000:
            raise Unfit("line", f"baud: came {wish.baud}, due 50 to 4000000")
        setting = LineSetting(wish.baud, wish.bytesize, wish.parity, wish.stopbits)
        fixed = Search(found=setting)
        return replace(self, search=fixed, talk=Conversation(), tail=b"", live=(), since=0)

    def _taken(self, wish: Take) -> tuple[Guide, str]:
        if self.searching:
            raise Unfit(
                "shown", "the setting of the line is not found yet: press the gauge's button, or choose it"
            )
        if len(self.talk.examples) >= MOST_READINGS:
            raise Unfit(
                "shown", f"{MOST_READINGS} readings were taken, and more teach nothing: take some back"
            )
        try:
            value = as_number(wish.shown)
        except ValueError as error:
            raise Unfit("shown", str(error)) from None
        try:
            unit = unit_named(wish.unit)
        except ValueError as error:
            raise Unfit("unit", str(error)) from None
        try:
            talk, said = self.talk.take(value, unit)
        except ValueError as error:
            raise Unfit("shown", str(error)) from None
        same = not said and talk.lesson.format == self.talk.lesson.format
        agreed = self.agreed if same else 0  # a display that contradicts puts in doubt what was compared
        return replace(self, talk=talk, since=0, agreed=agreed), said

    def _reads(self) -> Reads:
        format_ = self.talk.lesson.format
        said = decoded(format_, self.live) if format_ is not None and self.live else []
        if not said:
            return Reads()
        _, last = said[-1]
        return Reads(last.text, last.unit) if isinstance(last, DisplayValue) else Reads(refused=last)

    def pictures(self) -> list[Picture]:
        """All that there is to show."""
        line = [] if self.search is None else [_line(self.search)]
        return [*line, Came(self.came, self.since, readable(self.tail)), self._step(), self._reads()]

    def _step(self) -> Step:
        talk, lesson = self.talk, self.talk.lesson
        file = None
        if lesson.format is not None:
            file = write_format(replace(lesson.format, ask=sent_bytes(self.ask).decode("latin-1")))
        return Step(
            asks=talk.question,
            plan=tuple((question, _state(question, talk)) for question in PLAN),
            readings=tuple((f"{each.shown}", each.unit) for each in talk.examples),
            understood=lesson.understood,
            open=tuple(question for question in lesson.open if question not in talk.skipped),
            sure="nothing" if file is None else "all" if talk.done else "reads",
            agreed=self.agreed,
            ask=self.ask,
            digit=_digit(talk),
            file=file,
        )


def _searched(guide: Guide, search: Search) -> Guide:
    if search.setting == guide.setting:
        talk = guide.talk
        for at, data in guide.live if search.found is not None else ():
            talk = talk.receive(at, data)  # what the setting was found by is a reading too
        return replace(guide, search=search, talk=talk)
    return replace(guide, search=search, tail=b"", live=(), since=0)


def _line(search: Search) -> Listening:
    set_ = search.setting
    return Listening(
        *(set_.baud, set_.bytesize, set_.parity, set_.stopbits, set_.words),
        number=search.number + 1,
        of=len(TRIED),
        found=search.found is not None,
        sure=search.sure,
    )


def _state(question: str, talk: Conversation) -> str:
    if question in talk.answered:
        return "done"
    if question in talk.skipped:
        return "cannot"
    return "now" if question == talk.question else "left"


def _digit(talk: Conversation) -> str:
    if not talk.examples:
        return ""
    first = talk.examples[0].unit
    places = min(int(each.shown.as_tuple().exponent) for each in talk.examples if each.unit == first)
    return f"{Decimal(1).scaleb(min(places, 0)):f} {first}"
