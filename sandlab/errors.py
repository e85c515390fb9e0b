"""The exception tree: every message says where, what is wrong and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: where it stands, what it is, and what to do about it."""

    where: str
    what: str
    do: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}; {self.do}" if self.do else f"{self.where}: {self.what}"


class SandlabError(Exception):
    """Base of all errors a person can act on; carries every problem found, not only the first."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class InputError(SandlabError):
    """A value that cannot be what was measured (letters, a negative weight, a height above the tube)."""


class NeedsConfirmation(InputError):  # noqa: N818 - reads as what is asked
    """Doubtful, not impossible: saved once a person confirms each of `names`."""

    def __init__(self, problems: Iterable[Problem], names: Iterable[str]) -> None:
        super().__init__(problems)
        self.names = tuple(names)


class SpecsError(SandlabError):
    """The spec files do not describe a plant; lists every problem at once."""


class RecordRefused(SandlabError):  # noqa: N818 - reads as what happened
    """A record that the store will not take; nothing was written."""


class StoreError(SandlabError):
    """The database could not be opened, read or written; what was recorded before is untouched."""


class ImportRefused(SandlabError):  # noqa: N818 - reads as what happened
    """A file that cannot be taken in; nothing was imported."""


def impossible(where: str, what: str, do: str) -> InputError:
    """The error for one impossible input."""
    return InputError(Problem(where, what, do))


def nearest(name: str, valid: Sequence[str]) -> str:
    """A sentence naming the nearest valid name, or all of them when none is near."""
    close = get_close_matches(name, valid, n=1, cutoff=0.6)
    return f"did you mean '{close[0]}'?" if close else f"valid: {', '.join(sorted(valid))}"
