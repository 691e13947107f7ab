"""The outbox of one recording: the recording itself, and how far of it the broker has taken."""

from __future__ import annotations

from collections import deque
from pathlib import Path
from typing import Final

from msgspec import Struct, structs

from capture.events import Picture
from capture.recording.codec import decode_event
from capture.recording.lines import HEADER, LineFollower, RecordedLine
from capture.recording.pictures import picture_bytes
from capture.shop.messages.topics import PICTURE_FILE, Extent, Resend, Stored, recording_name
from capture.shop.publish.memory import Published, name_of, remember, remembered

BLOCK: Final = 64 << 10
"""Bytes of lines that go again in one message."""
_PICTURE: Final = b'"picture"'
"""In every line that names one."""
MOST_ASKED: Final = 100
"""Requests for lines that wait at once; an archive asks again."""


class Sending(Struct, frozen=True, gc=False):
    """One message to be sent: lines of a recording, or a picture that one of them names."""

    kind: str
    payload: bytes
    next: int
    """The number after its last line's; -1 for lines that go again and for pictures."""
    chain: str = ""


class Outbox:
    """What of one recording is to be sent, in order; `taken` says what the broker has.

    A recording that was taken whole rests: its file is let go of until it grows.
    """

    def __init__(self, path: Path, place: str) -> None:
        self.path, self._place = path, place
        self.name = ""
        """The recording's name in the shop; empty until its header is known."""
        self.memory = Published()
        self.changed = False
        """Whether `memory` says more than the file beside the recording."""
        self.trouble = ""
        self._follower: LineFollower | None = None
        self._turn = 0
        self._unsent: deque[RecordedLine] = deque()
        self._at_end = True
        """Whether the last look into the file found nothing more."""
        self._skip = HEADER
        self._asked: deque[Resend] = deque()
        self._blocks: deque[Sending] = deque()
        self._pictures: dict[str, Picture] = {}
        """Pictures whose lines were sent and whose files are to follow, by hash."""
        self._gone: dict[str, Picture] = {}
        self.unacknowledged: deque[tuple[int, Sending]] = deque()
        """Messages that the broker has not taken yet, by number, in the order in which they were sent."""
        self._done: set[int] = set()
        self._recall()

    def _recall(self) -> None:
        name = name_of(self.path)
        if name:
            self.name, self.memory = name, remembered(self.path, name, self._place)

    @property
    def whole(self) -> bool:
        """Whether the file was read to its end and nothing is waiting to be sent or to be taken."""
        waiting = self._unsent or self.unacknowledged or self._asked or self._blocks or self._pictures
        return not waiting and bool(self._at_end or self.trouble)

    @property
    def stored(self) -> bool:
        """Whether an archive has all that was published, as far as it is here."""
        return self.memory.stored >= self.memory.next and self.memory.lacking <= len(self._gone)

    @property
    def gone(self) -> str:
        """What to report of pictures that are not beside the recording as it names them; empty: none."""
        names = ", ".join(sorted(one.file for one in self._gone.values())[:5])
        return f"{self.path}: not there, or not as recorded, and not published: {names}" if names else ""

    @property
    def extent(self) -> Extent | None:
        """How far the recording reaches, as far as the broker has taken it; None before its header."""
        known = self.memory
        return None if known.next <= HEADER else Extent(known.next, known.chain, known.wall)

    def sleeping(self) -> bool:
        """Whether the file is as it was when all of it had been taken, and is not read."""
        if self._follower is not None:
            return False
        try:
            return self.path.stat().st_size == self.memory.bytes
        except OSError:
            return True

    def read(self) -> bool:
        """Takes up what was recorded since; whether anything was.

        Raises:
            BadRecording: The file is no recording.
        """
        if not self._unsent and not self.trouble:
            self._poll()
        return bool(self._unsent)

    def _poll(self) -> bool:
        """Takes up a few MiB of lines; whether any came."""
        follower = self._opened()
        lines = follower.poll()
        self._at_end = not lines
        if follower.turn != self._turn:
            self._turn = follower.turn
            self._begin_anew()
        for line in lines:
            if line.seq == HEADER:
                self._named(line)
            if line.seq >= self._skip:
                self._unsent.append(line)
            elif line.seq == self._skip - 1 and line.chain != self.memory.chain:
                # another recording under the same header: what was published is not what stands here
                self._begin_anew()
                self.close()
                return True
        if follower.damage is not None and not self._unsent:
            self.trouble = f"{follower.damage}; what stands before it is published"
        return bool(lines)

    def _opened(self) -> LineFollower:
        if self._follower is None:
            self._follower, self._turn = LineFollower(self.path), 0
            self._skip = self.memory.next
        return self._follower

    def _begin_anew(self) -> None:
        self.memory, self._skip, self.changed = Published(), HEADER, True
        self._unsent.clear()
        self.unacknowledged.clear()
        self._done.clear()
        self._asked.clear()
        self._blocks.clear()
        self._pictures.clear()

    def _named(self, header: RecordedLine) -> None:
        name = recording_name(self.path.stem, header.data)
        if name != self.name:
            self.name = name
            self.memory = remembered(self.path, name, self._place)
            self._skip = self.memory.next

    def asked(self, wanted: Resend) -> None:
        """Notes lines that an archive asks for again."""
        first, end = max(wanted.first, HEADER), min(wanted.end, self.memory.next)
        if first < end and len(self._asked) < MOST_ASKED and Resend(first, end) not in self._asked:
            self._asked.append(Resend(first, end))

    def next_sending(self) -> Sending | None:
        """What is to be sent next: new lines one at a time, then what was asked for again, then pictures."""
        if self._unsent:
            line = self._unsent.popleft()
            self._picture_follows(line.data)
            return Sending(line.kind, line.data, line.seq + 1, line.chain)
        if not self._blocks and self._asked:
            self._cut(self._asked.popleft())
        return self._blocks.popleft() if self._blocks else self._next_picture()

    def _picture_follows(self, line: bytes) -> None:
        if _PICTURE not in line:
            return
        fact = decode_event(line).fact
        if isinstance(fact, Picture):
            self._pictures[fact.sha256] = fact

    def _next_picture(self) -> Sending | None:
        """The next picture's file, one on its way at a time: they are large, and lines come first."""
        if not self._pictures or any(one.kind == PICTURE_FILE for _, one in self.unacknowledged):
            return None
        sha256 = next(iter(self._pictures))
        picture = self._pictures.pop(sha256)
        body = picture_bytes(self.path.parent, picture.file, sha256)
        if body is None:
            self._gone[sha256] = picture
            return None
        self._gone.pop(sha256, None)
        return Sending(PICTURE_FILE, body, -1)

    def _cut(self, wanted: Resend) -> None:
        """Makes one block of the lines wanted, and asks itself for the rest."""
        size, end, gathered = 0, wanted.first, list[bytes]()
        follower = self._opened()
        while follower.due < wanted.end and self._poll():
            pass
        for line in follower.between(wanted.first, wanted.end):
            if gathered and size + len(line) > BLOCK:
                break
            gathered.append(line)
            self._picture_follows(line)
            size += len(line) + 1
            end += 1
        if gathered:
            self._blocks.append(Sending("lines", b"\n".join(gathered), -1))
        if gathered and end < wanted.end:
            self._asked.appendleft(Resend(end, wanted.end))

    def sent(self, mid: int, sending: Sending) -> None:
        """Notes that *sending* is on its way as message *mid*."""
        self.unacknowledged.append((mid, sending))

    def unsent(self, sending: Sending) -> None:
        """Takes back what could not be sent."""
        if sending.next < 0:
            self._blocks.appendleft(sending)
        else:
            self._unsent.appendleft(
                RecordedLine(sending.next - 1, sending.kind, sending.payload, sending.chain, 0)
            )

    def taken(self, mid: int) -> None:
        """Notes that the broker has message *mid*; memory goes on only where all before it is taken too."""
        self._done.add(mid)
        while self.unacknowledged and self.unacknowledged[0][0] in self._done:
            number, sending = self.unacknowledged.popleft()
            self._done.discard(number)
            if sending.next >= 0:
                self._advance(sending)

    def _advance(self, sending: Sending) -> None:
        follower, size, wall = self._follower, -1, self.memory.wall
        if follower is not None and follower.last is not None:
            wall = follower.last.wall
            if follower.due == sending.next:
                size = follower.size
        self.memory = structs.replace(
            self.memory, next=sending.next, chain=sending.chain, bytes=size, wall=wall
        )
        self.changed = True

    def note_stored(self, said: Stored) -> None:
        """Notes how far an archive has the recording."""
        if (said.next, said.lacking) != (self.memory.stored, self.memory.lacking):
            self.memory = structs.replace(self.memory, stored=said.next, lacking=said.lacking)
            self.changed = True

    def again(self) -> None:
        """Sends anew, in their order, all messages that an old connection has not acknowledged."""
        for _, sending in reversed(self.unacknowledged):
            self.unsent(sending)
        self.unacknowledged.clear()
        self._done.clear()

    def save(self) -> None:
        """Writes the memory down.

        Raises:
            OSError: It cannot be written.
        """
        if self.name and self.changed:
            remember(self.path, self.name, self._place, self.memory)
            self.changed = False

    def rest(self) -> None:
        """Lets go of the file, if nothing is to be sent."""
        if self.whole and self._follower is not None and self.memory.bytes >= 0:
            self._follower.close()
            self._follower = None

    def close(self) -> None:
        """Lets go of the file."""
        if self._follower is not None:
            self._follower.close()
            self._follower = None
