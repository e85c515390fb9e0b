"""Opening a plant: its folder, its specs, its store, and the clock and identities the verbs use."""

from __future__ import annotations

import secrets
import threading
import time
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from sandlab.errors import Problem, SpecsError, impossible, nearest
from sandlab.labels import specs_folder
from sandlab.specs import Specs, System, from_canonical, load
from sandlab.store import Store, open_store
from sandlab.store.drafts import Drafts

ENVIRONMENT_VARIABLE = "SANDLAB_PLANT"
DATABASE = "sandlab.sqlite"
DOUBTS = (
    "The spec files have mistakes; those of the last sample stay in force until they are mended and "
    "sandlab is started again"
)
_tick = threading.Lock()


def system_clock() -> datetime:
    """The present time, UTC."""
    return datetime.now(UTC)


_last_tick = 0


def new_uuid() -> str:
    """A new record id, greater than every one made before by this process.

    UUID version 7 (RFC 9562, 5.7 and method 3 of 6.2): milliseconds since 1970, their fraction as 12 bits,
    then chance. Records of the same time are kept in the order of their ids, which is the order of saving.
    """
    global _last_tick
    with _tick:
        # 4096 steps to a millisecond; a clock set back does not set the ids back.
        now = time.time_ns() * 4096 // 1_000_000
        _last_tick = max(now, _last_tick + 1)
        milliseconds, fraction = divmod(_last_tick, 4096)
    head = (milliseconds & (2**48 - 1)) << 80 | 7 << 76 | fraction << 64
    return str(uuid.UUID(int=head | 2 << 62 | secrets.randbits(62)))


@dataclass(frozen=True, slots=True)
class Lab:
    """One sand system of one plant, open: what every verb works on."""

    folder: Path
    specs: Specs
    store: Store
    system: str
    clock: Callable[[], datetime]
    new_id: Callable[[], str]
    drafts: Drafts
    timers: Drafts
    doubts: tuple[Problem, ...] = ()
    """What is wrong with the spec files, while those of the newest sample stay in force."""

    @property
    def sand(self) -> System:
        """The specs of the sand system."""
        return self.specs.systems[self.system]

    @property
    def zone(self) -> tzinfo:
        """The plant's time zone."""
        return self.specs.zone

    @property
    def mark(self) -> str:
        """The plant's decimal mark."""
        return self.specs.plant.decimal_mark

    def now(self) -> datetime:
        """The present time from the lab's clock."""
        return self.clock()

    def close(self) -> None:
        """Close the store; what is half typed stays on the disk."""
        self.drafts.close()
        self.timers.close()
        self.store.close()


def plant_folder(given: str | None, environment: Mapping[str, str], *, name: str = "plant") -> Path:
    """The plant folder: the one given, else the environment variable's, else in the user's data folder."""
    chosen = given or environment.get(ENVIRONMENT_VARIABLE)
    if chosen:
        return Path(chosen).expanduser().absolute()
    from platformdirs import user_data_path

    return user_data_path("sandlab", appauthor=False) / name


def open_lab(
    folder: Path,
    *,
    system: str | None = None,
    clock: Callable[[], datetime] = system_clock,
    new_id: Callable[[], str] = new_uuid,
    readonly: bool = False,
) -> Lab:
    """Open a plant folder; raises SpecsError or StoreError with where, what and what to do."""
    specs, doubts = specs_in_force(folder)
    names = list(specs.systems)
    if not names:
        raise SpecsError(Problem("system.toml [systems]", "no sand system is described", "describe one"))
    chosen = system or names[0]
    if chosen not in names:
        raise impossible("system", f"'{chosen}' is not a sand system of this plant", nearest(chosen, names))
    store = open_store(folder / DATABASE, readonly=readonly)
    kept = Drafts(folder), Drafts(folder, ".timers")
    return Lab(folder, specs, store, chosen, clock, new_id, *kept, doubts)


def specs_in_force(folder: Path) -> tuple[Specs, tuple[Problem, ...]]:
    """The specs of the files; while these have mistakes, those of the newest sample, and the mistakes.

    A slip in a file must not take the additions from the muller. Raises SpecsError where there is no sample.
    """
    try:
        return checked_specs(folder), ()
    except SpecsError as error:
        if not (folder / DATABASE).exists():
            raise
        store = open_store(folder / DATABASE, readonly=True)
        try:
            text = store.newest_specs_text()
        finally:
            store.close()
        if text is None:
            raise
        return from_canonical(text), error.problems


def checked_specs(folder: Path) -> Specs:
    """The specs in force, with functions and chart rules checked; raises SpecsError naming every problem."""
    from sandlab.lab.checking import instrument_problems, method_problems, rule_problems

    specs = load(specs_folder(folder))
    problems = [*method_problems(specs), *rule_problems(specs), *instrument_problems(specs)]
    if problems:
        raise SpecsError(problems)
    return specs
