"""What a dialect is, and a decoder in the middle of a conversation. Pure: bytes in, facts out."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from msgspec import Struct

from capture.events import Garbled, Heard, Wire

Cut: TypeAlias = Callable[[bytes], int]
"""Length of the first whole piece in the bytes, or 0 to wait for more.

More bytes behind a piece never change where it ends.
"""

Read: TypeAlias = Callable[[Wire], Heard | None]
"""What one whole piece says; None for a piece that says nothing (a bare line end)."""


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
    drop_first: bool = False
    """The first piece is never read: nothing in it would tell that its head was cut off."""


class Decoder(Struct, frozen=True):
    """A dialect in the middle of a conversation; holds only an unfinished piece."""

    dialect: Dialect
    pending: bytes = b""
    begun: bool = False
    """Whether a piece has been heard since the link opened."""

    def feed(self, data: bytes) -> tuple[Decoder, list[Heard]]:
        """Take in *data*; return the decoder to go on with, and what was heard."""
        cut, longest, begun = self.dialect.cut, self.dialect.longest, self.begun
        rest = self.pending + data
        heard: list[Heard] = []
        start = 0
        while start < len(rest):
            size = cut(rest[start : start + longest])
            if size:
                said = self._read(rest[start : start + size], begun)
                if said is not None:
                    heard.append(said)
            elif len(rest) - start >= longest:
                size = longest
                why = f"no end of a piece within {longest} bytes"
                heard.append(Garbled(why, rest[start : start + size].decode("latin-1")))
            else:
                break
            start += size
            begun = True
        return Decoder(self.dialect, rest[start:], begun), heard

    def silence(self) -> tuple[Decoder, list[Heard]]:
        """Nothing came for the dialect's `gap` seconds: what is pending is a piece, whole or not."""
        if self.dialect.gap is None or not self.pending:
            return self, []
        said = self._read(self.pending, self.begun)
        return Decoder(self.dialect, b"", True), [] if said is None else [said]

    def _read(self, piece: bytes, begun: bool) -> Heard | None:
        raw = piece.decode("latin-1")
        if self.dialect.drop_first and not begun:
            return Garbled("the first piece after opening may have lost its head", raw)
        return self.dialect.read(raw)

    def close(self) -> list[Heard]:
        """What the unfinished piece is worth when the link is gone: garbled, or nothing."""
        if self.dialect.gap is not None:
            return self.silence()[1]
        if not self.pending:
            return []
        return [Garbled("the link closed in the middle of a piece", self.pending.decode("latin-1"))]
