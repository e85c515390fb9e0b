"""Runs a filter along the batches and runs it again from an earlier one when something is told late."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

State = TypeVar("State")

EVERY = 5  # batches between two states that are kept
KEEP = 600  # states that are kept: 3000 batches, about a week


class Replay(Generic[State]):
    """The state before each batch is a function of all records before it, whatever order they came in.

    measure: state before a batch and its number -> the same state after the results of that batch's sand
    step: measured state of a batch and its number -> state before the next batch
    """

    def __init__(
        self, start: State, measure: Callable[[State, int], State], step: Callable[[State, int], State]
    ) -> None:
        self._measure, self._step = measure, step
        self._kept: dict[int, State] = {0: start}
        self._at, self._before = 0, start
        self._measured: State | None = None

    @property
    def oldest(self) -> int:
        """The first batch that can still be told something new."""
        return next(iter(self._kept))

    def kept(self) -> dict[int, State]:
        """States before batches of the last time, by the batch's number, in order."""
        return {index: state for index, state in self._kept.items() if index <= self._at}

    def disturb(self, index: int) -> None:
        """Something about a batch has become known: it and what follows will be run again."""
        if index > self._at:
            return
        self._measured = None
        if index == self._at:
            return
        back = max((kept for kept in self._kept if kept <= index), default=self.oldest)
        for later in [kept for kept in self._kept if kept > back]:
            del self._kept[later]
        self._at, self._before = back, self._kept[back]

    def at(self, index: int) -> State:
        """The measured state of a batch that is not before the last one asked for."""
        while self._at < index:
            measured = self._measured if self._measured is not None else self._measure(self._before, self._at)
            self._before, self._measured = self._step(measured, self._at), None
            self._at += 1
            if self._at % EVERY == 0:
                self._kept[self._at] = self._before
                if len(self._kept) > KEEP:
                    del self._kept[self.oldest]
        if self._measured is None:
            self._measured = self._measure(self._before, self._at)
        return self._measured
