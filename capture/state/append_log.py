"""A list that only grows, cheap to keep in a frozen state."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Generic, TypeVar, overload

T = TypeVar("T")


class Log(Sequence[T], Generic[T]):
    """An unchanging view of the first *n* entries of a list that may have grown since.

    A fold that kept a tuple would copy all of it at every event. Here `added` appends to
    the list that the newest view shares and gives a new view; an older view still sees
    only its own entries, and adding to an older view copies first. So states stay
    independent of each other while a session of any length costs the same per event.

    >>> one = Log([1]); two = one.added(2); other = one.added(3)
    >>> list(one), list(two), list(other)
    ([1], [1, 2], [1, 3])
    """

    __slots__ = ("_entries", "_size")

    def __init__(self, entries: Iterable[T] = ()) -> None:
        self._entries = list(entries)
        self._size = len(self._entries)

    def added(self, entry: T) -> Log[T]:
        """This log with one more entry."""
        entries = self._entries if len(self._entries) == self._size else self._entries[: self._size]
        entries.append(entry)
        log: Log[T] = Log.__new__(Log)
        log._entries, log._size = entries, self._size + 1
        return log

    def __len__(self) -> int:
        return self._size

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> list[T]: ...
    def __getitem__(self, index: int | slice) -> T | list[T]:
        if isinstance(index, slice):
            return [self._entries[i] for i in range(*index.indices(self._size))]
        if not -self._size <= index < self._size:
            raise IndexError(f"entry {index} of a log of {self._size}")
        return self._entries[index if index >= 0 else index + self._size]

    def __iter__(self) -> Iterator[T]:
        return (self._entries[i] for i in range(self._size))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Log) and self._size == other._size and list(self) == list(other)

    __hash__ = None  # type: ignore[assignment]  # like a list's: entries may be unhashable

    def __repr__(self) -> str:
        return f"Log({list(self)!r})"

    @property
    def last(self) -> T | None:
        """The newest entry, or None of an empty log."""
        return self._entries[self._size - 1] if self._size else None
