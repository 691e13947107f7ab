"""Formats: all that is known of a gauge's frames, as data, and the dialect that they make."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from fractions import Fraction
from typing import Final, Literal

from msgspec import Struct

from capture.dialects.decimal import SCALES
from capture.dialects.dialect import Decoder, Dialect
from capture.dialects.taught.checks import FrameCheck
from capture.dialects.taught.framing import (
    LONGEST,
    MARKED,
    Chunk,
    DelimitedFrame,
    DoubledFrame,
    Fixed,
    Frame,
    StuffedFrame,
    fixed_cut,
    fixed_settled,
)
from capture.dialects.taught.records import DisplayValue, Record
from capture.dialects.taught.sentences import Sentence
from capture.dialects.taught.values import Unread
from capture.events import Decoded, Garbled, Reading, Wire

SURE: Final = 16
"""Bits that bytes in the wrong place must have right by chance before they are taken for a frame."""
MOST_NOISE: Final = 2
"""Bytes before a line that begins with a known word, as a cable gives that is plugged in."""


class Format(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """All that a dialect file says.

    A frame is read only if every sentence and every record in the file reads it, and
    all of them the same: two of them are two ways to understand what was taught.
    """

    frame: Frame
    check: FrameCheck | None = None
    sentence: tuple[Sentence, ...] = ()
    record: tuple[Record, ...] = ()
    hello: str = ""
    ask: str = ""
    parity: Literal["", "E", "O", "M"] = ""
    """The eighth bit of each byte is the parity of the other seven, or always 1 (M): a line set to eight bits
    received seven."""

    def read(self, piece: bytes) -> DisplayValue:
        """What one whole piece says; Unread with the reason where that is not certain."""
        wrong = self._wrong_parity(piece)
        bare = bytes(byte & 0x7F for byte in piece) if self.parity else piece
        body = self.frame.body(bare) if isinstance(self.frame, MARKED) else bare
        try:
            _of_right_parity(piece, wrong)
            return self._read(body)
        except Unread:
            for noise in range(1, MOST_NOISE + 1):
                if all(at < noise for at in wrong) and self._noise_before(body, noise):
                    with suppress(Unread):
                        return self._read(body[noise:])
            raise

    def _noise_before(self, body: bytes, noise: int) -> bool:
        """Whether the first *noise* bytes can be none of a message, and the rest can be one.

        A line tells by a word before its number or by its length; or, where the noise is no part of a
        number, by its check, or by the sign or the blank that it begins with. A record tells by its length,
        its head or its check: nothing but noise makes one longer. Else a digit that was damaged on the way
        could be taken for noise.
        """
        if isinstance(self.frame, Fixed):
            return False
        if self.record:
            lengths = {record.length for record in self.record}
            right = lengths == {len(body) - noise} and not self.sentence
            return right and self.head_bits + self.check_bits >= SURE // 2
        means = [means for sentence in self.sentence for means in sentence.means]
        foreign = not any(byte in b"0123456789+-., " for byte in body[:noise])
        apart = body[noise : noise + 1] in (b"+", b"-", b" ") and not any(each.before for each in means)
        if foreign and (self.check or apart):
            return bool(means)
        return bool(means) and all(each.has_a_word_before or each.length is not None for each in means)

    def _read(self, body: bytes) -> DisplayValue:
        if self.check and not self.check.holds(body):
            came, due = self.check.came(body), self.check.due(body)
            raise Unread(f"the check is {came.hex(' ')}, {due.hex(' ')} was due")
        said = [record.read(body) for record in self.record]
        if self.sentence:
            text = (self.check.without(body) if self.check else body).decode("latin-1")
            said += [DisplayValue(*sentence.read(text)) for sentence in self.sentence]
        if len(set(said)) != 1:
            ways = " or ".join(sorted({f"{shown.text} {shown.unit}" for shown in said}))
            raise Unread(f"this can be read as {ways}: teach another reading to tell which")
        return said[0]

    def _wrong_parity(self, piece: bytes) -> list[int]:
        """The bytes of *piece* that have the other parity."""
        if self.parity == "M":
            return [at for at, byte in enumerate(piece) if not byte & 0x80]
        odd = self.parity == "O"
        return [at for at, byte in enumerate(piece) if self.parity and byte.bit_count() % 2 != odd]

    def whole(self, piece: bytes) -> bool:
        """Whether *piece* is a frame beyond doubt: one that is read."""
        if not self.begins(piece) or (self.check and not self.check.holds(piece)):
            return False
        try:
            self.read(piece)
        except Unread:
            return False
        return True

    def begins(self, head: bytes) -> bool:
        """Whether *head* can be the beginning of a frame."""
        return all(record.begins(head) for record in self.record)

    @property
    def check_bits(self) -> int:
        """Bits of its check."""
        return self.check.bits if self.check else 0

    @property
    def head_bits(self) -> int:
        """Bits that never change, of those that a silent line or a small number would not have as well."""
        fixed = self.record[0].fixed if self.record else []
        return sum(mask.bit_count() for _, mask, value in fixed if value)

    @property
    def following(self) -> int:
        """Messages behind one of fixed length that must stand in their places before it is believed."""
        if not isinstance(self.frame, Fixed) or not self.frame.twice:
            return 0
        return 1 if self.head_bits + self.check_bits >= SURE else 2

    def cut(self, data: bytes) -> int:
        """Length of the first whole piece in *data*, or 0."""
        if isinstance(self.frame, DelimitedFrame):
            return self.frame.cut(bytes(byte & 0x7F for byte in data) if self.parity else data)
        if isinstance(self.frame, StuffedFrame | DoubledFrame):
            return self.frame.cut(data)
        if isinstance(self.frame, Fixed):
            return fixed_cut(self.frame, self.whole, self.begins, self.following)(data)
        return 0


def _of_right_parity(piece: bytes, wrong: Sequence[int]) -> None:
    """Unread where *wrong* names a byte of *piece*."""
    for at in wrong:
        raise Unread(f"byte {at} is {piece[at]:02x}: its parity is wrong")


def dialect(format_: Format, name: str) -> Dialect:
    """The dialect that *format_* describes."""
    frame = format_.frame

    def read(raw: Wire) -> Decoded | None:
        piece = raw.encode("latin-1")
        bare = bytes(byte & 0x7F for byte in piece) if format_.parity else piece
        nothing = frame.body(piece) == b"" if isinstance(frame, StuffedFrame) and len(piece) == 1 else False
        zeros = any(len(piece) == record.length for record in format_.record)
        if nothing or not (zeros or bare.strip(b"\r\n \0")):
            return None
        try:
            shown = format_.read(piece)
        except Unread as reason:
            return Garbled(str(reason), raw)
        scale = SCALES[shown.unit]
        value = float((Fraction(shown.value) + scale.offset) * scale.factor)
        decimals = -int(shown.value.as_tuple().exponent)
        return Reading(value, scale.unit, decimals, raw, "" if shown.unit == scale.unit else shown.unit)

    return Dialect(
        name,
        format_.cut,
        read,
        max(LONGEST, 3 * frame.length) if isinstance(frame, Fixed) else LONGEST,
        format_.hello.encode("latin-1"),
        format_.ask.encode("latin-1"),
        None if isinstance(frame, MARKED) else frame.gap,
        isinstance(frame, DelimitedFrame) and frame.doubt_first,
        unchecked=format_.check is None and isinstance(frame, DelimitedFrame),
        settled=(
            fixed_settled(frame, format_.whole, format_.begins, checked=format_.check is not None)
            if isinstance(frame, Fixed)
            else None
        ),
        parted=isinstance(frame, Fixed),
    )


def decoded(format_: Format, chunks: Sequence[Chunk]) -> list[tuple[float, DisplayValue | str]]:
    """What each frame in a capture says, with the time of its last byte; text tells why one is refused."""
    decoder, last, said = Decoder(dialect(format_, "taught")), None, []
    gap = decoder.dialect.gap
    for at, data in chunks:
        if last is not None and gap is not None and at - last > gap:
            decoder, late = decoder.silence()
            said += [(last, each) for each in late]
        decoder, now = decoder.feed(data)
        said += [(at, each) for each in now]
        last = at
    if last is not None and (gap is not None or format_.cut(decoder.pending)):
        said += [(last, each) for each in decoder.close()]
    return [
        (at, each.why if isinstance(each, Garbled) else format_.read(each.raw.encode("latin-1")))
        for at, each in said
    ]
