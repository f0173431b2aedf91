"""Sets of sequence numbers, kept as ranges: numbers of a source come nearly in order."""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Iterator


class Ranges:
    """A set of whole numbers. Adding the next number costs nothing, a stray one O(number of ranges)."""

    def __init__(self, ranges: Iterable[tuple[int, int]] = ()) -> None:
        """ranges: (first, last), both in the set."""
        self._first: list[int] = []
        self._last: list[int] = []
        for first, last in ranges:
            self.add(first, last)

    def add(self, first: int, last: int | None = None) -> None:
        """Add one number, or all from first to last."""
        last = first if last is None else last
        if last < first:
            raise ValueError(f"a range runs upwards, got {first} to {last}")
        # ranges that touch or overlap the new one: those from `start` to before `end`
        start = bisect.bisect_left(self._last, first - 1)
        end = bisect.bisect_right(self._first, last + 1)
        if start < end:
            first = min(first, self._first[start])
            last = max(last, self._last[end - 1])
        self._first[start:end] = [first]
        self._last[start:end] = [last]

    def __contains__(self, number: int) -> bool:
        at = bisect.bisect_left(self._last, number)
        return at < len(self._last) and self._first[at] <= number

    def __iter__(self) -> Iterator[tuple[int, int]]:
        return zip(self._first, self._last, strict=True)

    def __len__(self) -> int:
        """Count the numbers, not the ranges."""
        return sum(last - first + 1 for first, last in self)

    def __bool__(self) -> bool:
        return bool(self._first)

    def upto(self) -> int | None:
        """Return the number up to which, from the lowest one on, none is missing; None for an empty set."""
        return self._last[0] if self._last else None
