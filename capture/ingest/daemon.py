"""Joins links, dialects, state and recording: all concurrency is here, in the readers and in the writer."""

from __future__ import annotations

import gc
import signal
import sys
from asyncio import Event, TaskGroup, get_running_loop, sleep, timeout, to_thread
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final, TypeVar

from capture.events import Beat
from capture.host.clock import Clock
from capture.ingest.gauge_reader import Instrument, read_until_closed
from capture.ingest.sequencer import DecisionEngine, EventSequencer
from capture.ingest.writer_thread import DAEMON, WriterThread
from capture.links.inbox.server import InboxFiles, open_inbox
from capture.recording.writer import BOUND, Recorder

S = TypeVar("S")

_FOLDER_EVERY: Final = 1.0
"""Seconds between two looks at the folder."""
_FIRST_TRIES: Final = 2.0
"""Seconds that gauges are given to open before the capture says it is ready without them."""


async def capture(
    instruments: Iterable[Instrument],
    recorder: Recorder,
    clock: Clock,
    engine: DecisionEngine[S],
    *,
    folder: Path,
    on_ready: Callable[[Path, Path], None],
    on_trouble: Callable[[str], None],
    stop: Event | None = None,
    signals: bool = True,
    bound: int = BOUND,
    files: InboxFiles | None = None,
) -> None:
    """Records until *stop* is set or SIGINT or SIGTERM comes; all that was received is on disk then.

    Args:
        instruments: The gauges.
        recorder: The recording, new or resumed; closed at the end.
        clock: The clock that the recording began or goes on with.
        engine: What decides.
        folder: Where the inbox opens: the job's folder.
        on_ready: Called once, when every gauge has been tried, with the paths of the recording and of
            the inbox's file.
        on_trouble: Called with a sentence for a person when something is not on disk, and with
            an empty one when all is on disk again.
        stop: Stops the capture when set.
        signals: Whether to stop on signals; only in the main thread.
        bound: Bytes that are kept in memory while the disk takes none.
        files: Lock and files of the folder, where its lock is held already.

    Raises:
        AlreadyRunning: Another capture runs for this folder.
        CannotRecord: The recording to go on with cannot be read.
        NotWritten: The disk took nothing to the end; says how much is lost.
    """
    stop = stop or Event()
    files = files or InboxFiles(folder)
    writer = WriterThread(EventSequencer(recorder, clock, engine), clock, on_trouble, bound)
    try:
        await writer.begin()
        with _stopping(stop, signals=signals), _undisturbed():
            await _record(instruments, recorder, writer, files, folder, stop, on_ready, on_trouble)
    except BaseExceptionGroup as errors:
        raise _single(errors) from errors.__cause__
    finally:
        try:
            writer.finish()
        finally:
            recorder.close()


async def _record(
    instruments: Iterable[Instrument],
    recorder: Recorder,
    writer: WriterThread[S],
    files: InboxFiles,
    folder: Path,
    stop: Event,
    on_ready: Callable[[Path, Path], None],
    on_trouble: Callable[[str], None],
) -> None:
    """Writes, and reads gauges and inbox, until *stop* is set; arguments as of `capture`."""
    async with TaskGroup() as group:
        group.create_task(writer.write())
        try:
            async with open_inbox(
                folder, recorder.path, recorder.header.began, writer.accept_command, files
            ) as inbox:
                watching = group.create_task(_keep_folder(files, recorder, on_trouble))
                try:
                    await _listen(instruments, writer, stop, lambda: on_ready(recorder.path, inbox))
                finally:
                    watching.cancel()
        finally:
            writer.close()


def _single(error: BaseException) -> BaseException:
    """The one error in a group of groups, which is what a caller can name; else the group."""
    while isinstance(error, BaseExceptionGroup) and len(error.exceptions) == 1:
        error = error.exceptions[0]
    return error


@contextmanager
def _stopping(stop: Event, *, signals: bool) -> Iterator[None]:
    names = (signal.SIGINT, signal.SIGTERM) if signals else ()
    loop = get_running_loop()
    before = {name: signal.getsignal(name) for name in names}
    for name in names:
        if sys.platform == "win32":
            signal.signal(name, lambda *_: loop.call_soon_threadsafe(stop.set))
        else:
            loop.add_signal_handler(name, stop.set)
    try:
        yield
    finally:
        for name in names:
            if sys.platform != "win32":
                loop.remove_signal_handler(name)
            signal.signal(name, before[name])


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Nothing that Python does by itself keeps the gauges waiting for long, or their stamps would be late.

    The collector no longer looks at what is there by now, which takes it 50 ms; and a thread that
    works gives way to one that receives after 1 ms in place of 5.
    """
    interval = sys.getswitchinterval()
    sys.setswitchinterval(0.001)
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()
        sys.setswitchinterval(interval)


async def _listen(
    instruments: Iterable[Instrument], writer: WriterThread[S], stop: Event, ready: Callable[[], None]
) -> None:
    async with TaskGroup() as group:
        tried = [(instrument, Event()) for instrument in instruments]
        tasks = [group.create_task(read_until_closed(instrument, writer, once)) for instrument, once in tried]
        tasks.append(group.create_task(_beat(writer)))
        with suppress(TimeoutError):
            async with timeout(_FIRST_TRIES):
                for _, once in tried:
                    await once.wait()
        ready()
        await stop.wait()
        for task in tasks:
            task.cancel()


async def _keep_folder(files: InboxFiles, recorder: Recorder, on_trouble: Callable[[str], None]) -> None:
    """Looks every second whether the folder is still this capture's own."""
    said = ""
    while True:
        await sleep(_FOLDER_EVERY)
        why = await to_thread(files.renew, recorder.path)
        if why and why != said:
            on_trouble(why)
        said = why


async def _beat(writer: WriterThread[S]) -> None:
    loop = get_running_loop()
    due = loop.time()
    while True:
        due = max(due + 1.0, loop.time())
        await sleep(due - loop.time())
        writer.tell(DAEMON, Beat())
        writer.look_at_disk()
