"""The settings of a serial line, found by what is received with each. Pure."""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

Parity: TypeAlias = Literal["N", "E", "O"]

TEXT = frozenset(b"\t\n\r\x02\x03\x04") | frozenset(range(0x20, 0x7F))
"""Bytes that a gauge which speaks in text sends: what can be printed, and what begins and ends a line."""
MOSTLY = 0.9
"""Share of text from which a setting is believed: what came first may have been cut (our own choice)."""
ENOUGH = 24
"""Bytes after which a setting is judged without waiting for a pause, or for the end of a line of text."""
LEAST = 4
"""Bytes that are judged after a pause; fewer may be a spark of the plug."""


class LineSetting(Struct, frozen=True):
    """How a serial line is set."""

    baud: int = 9600
    bytesize: Literal[5, 6, 7, 8] = 8
    parity: Parity = "N"
    stopbits: float = 1

    @property
    def words(self) -> str:
        """As people write it.

        >>> LineSetting(4800, 7, "E").words
        '4800 7E1'
        """
        return f"{self.baud} {self.bytesize}{self.parity}{self.stopbits:g}"


TRIED = (
    *(LineSetting(baud) for baud in (9600, 4800, 2400, 1200, 19200, 38400, 57600, 115200)),
    *(LineSetting(baud, parity=parity) for parity in ("E", "O") for baud in (9600, 19200, 4800, 2400, 1200)),
)
"""What is tried, the commonest first (common practice, no source). Seven bits need no try of their own:
a byte of seven bits with parity is as long as one of eight without, and shows its parity in the eighth."""


class Search(Struct, frozen=True):
    """Listening with one setting after another until what comes reads as text."""

    number: int = 0
    """Of the setting in use, among those tried."""
    received: bytes = b""
    best: tuple[float, int] = (0.0, 0)
    """The largest share of text so far, and the setting that had it."""
    found: LineSetting | None = None
    """The setting, once it is known; or the best there was, when nothing read as text."""
    sure: bool = False
    """Whether what came with it reads as text."""

    @property
    def setting(self) -> LineSetting:
        """The setting to listen with."""
        return self.found or TRIED[self.number]

    def receive(self, data: bytes, *, pause: bool = False) -> Search:
        """Take in *data*; *pause*: nothing has come for a while, so that what came is judged as it is."""
        received = (self.received + data)[-256:]
        if self.found is not None or len(received) < LEAST:
            return replace(self, received=received)
        share, setting = judged(received, self.setting)
        whole = pause or len(received) >= ENOUGH
        if not whole and (share < MOSTLY or not received.endswith((b"\r", b"\n"))):
            return replace(self, received=received)
        if share >= MOSTLY:
            return replace(self, received=b"", found=setting, sure=True)
        best = max(self.best, (share, self.number), key=lambda one: one[0])
        if self.number + 1 == len(TRIED):
            return replace(self, received=b"", best=best, found=TRIED[best[1]])
        return replace(self, received=b"", best=best, number=self.number + 1)


def judged(data: bytes, setting: LineSetting) -> tuple[float, LineSetting]:
    """The share of *data* that is text, and the setting with which it is.

    What eight bits make of seven (ISO/IEC 646 in seven bits, parity in the place of the eighth, or a second
    stop bit there, which is always 1) is recognized by its eighth bit.
    """
    share = _text(data)
    if share >= MOSTLY or setting.bytesize != 8 or setting.parity != "N":
        return share, setting
    bare = bytes(byte & 0x7F for byte in data)
    ones = [byte.bit_count() % 2 for byte in data]
    kinds: dict[Parity, float] = {"E": ones.count(0) / len(ones), "O": ones.count(1) / len(ones)}
    parity = max(kinds, key=lambda kind: kinds[kind])
    if _text(bare) >= MOSTLY and kinds[parity] >= MOSTLY:
        return _text(bare), LineSetting(setting.baud, 7, parity)
    if _text(bare) >= MOSTLY and all(byte & 0x80 for byte in data):
        return _text(bare), LineSetting(setting.baud, 7, "N", 2)
    return share, setting


def _text(data: bytes) -> float:
    """The share of text; none where no digit is in it, since a gauge says a number."""
    if not any(0x30 <= byte <= 0x39 for byte in data):
        return 0.0
    return sum(byte in TEXT for byte in data) / len(data)
