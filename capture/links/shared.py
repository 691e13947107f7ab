"""One port for several instruments: channels of one box, or addresses on one bus."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from capture.links.link import Link, Midway, Open


def shared(open_: Open) -> Open:
    """How several open what *open_* opens, at once: each receives all bytes; the last to leave closes it.

    When the link is lost it is lost for all, and whoever opens first opens it for all again.
    """
    port: _Port | None = None

    @asynccontextmanager
    async def connect() -> AsyncIterator[Link]:
        nonlocal port
        if port is None or port.over:
            port = _Port(open_)
        mine, late = port, port.carried
        share = _Share(mine)
        mine.shares.append(share)
        try:
            link = await asyncio.shield(mine.link)
            share.detail = link.detail
            share.midway = late or (isinstance(link, Midway) and link.midway)
            yield share
        finally:
            mine.shares.remove(share)
            if not mine.shares:
                await mine.close()

    return connect


class _Port:
    """A link with all who listen to it."""

    def __init__(self, open_: Open) -> None:
        self.over = False
        """Closed, lost, or about to be: nobody new may sit down."""
        self.carried = False
        """Bytes have come: whoever sits down now may find a gauge in the middle of a word."""
        self.shares: list[_Share] = []
        self.link: asyncio.Future[Link] = asyncio.get_running_loop().create_future()
        self._task = asyncio.create_task(self._carry(open_))

    async def close(self) -> None:
        self.over = True
        self._task.cancel()
        await asyncio.wait({self._task})

    async def _carry(self, open_: Open) -> None:
        fault = OSError("the instrument closed the link")
        try:
            async with open_() as link:
                if not self.link.done():
                    self.link.set_result(link)
                async for chunk in link.chunks():
                    self.carried = True
                    for share in self.shares:
                        share.arrived.put_nowait(chunk)
        except OSError as error:
            fault = error
        finally:
            self.over = True
            for share in self.shares:
                share.arrived.put_nowait(fault)
            if self.shares and not self.link.done():
                self.link.set_exception(fault)


class _Share:
    """What one of them has in hand."""

    def __init__(self, port: _Port) -> None:
        self.detail = ""
        self.midway = False
        self.arrived: asyncio.Queue[tuple[bytes, int] | OSError] = asyncio.Queue()
        self._port = port

    async def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        while True:
            item = await self.arrived.get()
            if isinstance(item, OSError):
                self.arrived.put_nowait(item)  # lost stays lost for whoever asks next
                raise item
            yield item

    async def send(self, data: bytes) -> None:
        await (await asyncio.shield(self._port.link)).send(data)
