"""What a dialect is, and a decoder in the middle of a conversation. Pure: bytes in, facts out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from capture.events import Decoded, Garbled, Reading, Wire

Cut: TypeAlias = Callable[[bytes], int]
"""Length of the first whole piece in the bytes, or 0 to wait for more.

More bytes behind a piece never change where it ends.
"""

Read: TypeAlias = Callable[[Wire], Decoded | None]
"""What one whole piece says; None for a piece that says nothing (a bare line end)."""


TOO_LONG: Final = "the end of a piece that was too long"
"""What is left of a number whose beginning was given up is another number."""
CUT: Final = "it came as the link opened, so its head may be cut off"


LARGEST: Final = 1e30
"""A reading is less than this, in its unit: the square of more may be no number any longer."""


def _of_this_world(said: Decoded) -> Decoded:
    """What was received; a number that no gauge measures, as hostile or broken ones say, is garbled."""
    if isinstance(said, Reading) and not abs(said.value) < LARGEST:
        return Garbled("a number that is too large for any gauge", said.raw)
    return said


class Dialect(Struct, frozen=True):
    """Everything that differs between kinds of instrument."""

    name: str
    cut: Cut
    read: Read
    longest: int
    """Bytes in the longest piece; more without an end are garbled."""
    hello: bytes = b""
    """What to send when the link opens, to set the instrument talking."""
    ask: bytes = b""
    """What to send to get one reading from an instrument that only answers."""
    gap: float | None = None
    """Seconds of silence that end a piece, for an instrument whose pieces have no other sure end."""
    doubt_first: bool = False
    """The first piece is read only if the next says nearly the same: nothing else would tell that its
    head was cut off, as it is when a link opens in the middle of a number."""
    headless: bool = False
    """A piece without its head reads as another number: the first is given up where bytes were on their
    way when the link opened, and taken where none were, as from a gauge that speaks when asked."""
    unchecked: bool = False
    """Nothing in a piece tells that it was damaged on the way: only how the gauge has spoken before does."""
    settled: Cut | None = None
    """Length of the first piece if nothing more comes for `gap` seconds; without it all that is pending."""
    parted: bool = False
    """A silence of `gap` seconds parts pieces for certain: what is left then is no part of the next."""


class Decoder(Struct, frozen=True):
    """A dialect in the middle of a conversation; holds only an unfinished piece, or a doubted first one."""

    dialect: Dialect
    pending: bytes = b""
    begun: bool = False
    """Whether a piece has been received since the link opened."""
    torn: str = ""
    """Why the next piece lacks its head, where it does."""

    def midway(self) -> Decoder:
        """This decoder on a link that opened while bytes were on their way."""
        return replace(self, torn=CUT) if self.dialect.headless else self

    def feed(self, data: bytes) -> tuple[Decoder, list[Decoded]]:
        """Takes *data*; returns the next decoder, and what the pieces say."""
        cut, longest, begun, torn = self.dialect.cut, self.dialect.longest, self.begun, self.torn
        rest = self.pending + data
        if begun and not torn and cut(rest[:longest]) == len(rest):
            # One whole piece, as nearly every chunk is: the shortest way, as the disk waits for it.
            whole = self.dialect.read(rest.decode("latin-1"))
            going_on = self if not self.pending else Decoder(self.dialect, b"", begun, torn)
            return going_on, [] if whole is None else [_of_this_world(whole)]
        decoded: list[Decoded] = []
        start = 0
        while start < len(rest):
            size = cut(rest[start : start + longest])
            end = start + size
            said: Decoded | None
            if not size:
                if len(rest) - start < longest:
                    break
                end = start + longest
                said = Garbled(f"no end of a piece within {longest} bytes", rest[start:end].decode("latin-1"))
            elif torn:
                said = Garbled(torn, rest[start:end].decode("latin-1"))
            elif self.dialect.doubt_first and not begun:
                after = cut(rest[end : end + longest])
                if not after and len(rest) - end < longest:
                    break
                said = self._first(rest[start:end], rest[end : end + after])
            else:
                said = self.dialect.read(rest[start:end].decode("latin-1"))
            if said is not None:
                decoded.append(_of_this_world(said))
            start, begun, torn = end, True, "" if size else TOO_LONG
        return Decoder(self.dialect, rest[start:], begun, torn), decoded

    def silence(self) -> tuple[Decoder, list[Decoded]]:
        """Nothing came for the dialect's `gap` seconds: what is pending may be a piece now."""
        if self.dialect.gap is None or not self.pending:
            return self, []
        settled, rest, torn = self.dialect.settled or len, self.pending, self.torn
        decoded: list[Decoded] = []
        while rest:
            size = settled(rest) or (len(rest) if self.dialect.parted else 0)
            if not size:
                break
            raw = rest[:size].decode("latin-1")
            said = Garbled(torn, raw) if torn else self.dialect.read(raw)
            decoded += [] if said is None else [_of_this_world(said)]
            rest, torn = rest[size:], ""
        return Decoder(self.dialect, rest, self.begun or rest != self.pending, torn), decoded

    def _first(self, piece: bytes, after: bytes) -> Decoded:
        """A lost leading digit or sign changes a number by half of it or more; a still gauge does not."""
        said, then = (self.dialect.read(each.decode("latin-1")) for each in (piece, after))
        if isinstance(said, Reading) and isinstance(then, Reading):
            near = abs(said.value - then.value) <= 0.1 * abs(then.value)
            if near and (said.unit, said.shown) == (then.unit, then.shown):
                return said
        return Garbled("the first piece after opening may have lost its head", piece.decode("latin-1"))

    def close(self) -> list[Decoded]:
        """What the unfinished piece is worth when the link is gone: garbled, or nothing."""
        rest, decoded = self.silence()
        if not rest.pending:
            return decoded
        return [Garbled("the link closed in the middle of a piece", self.pending.decode("latin-1"))]
