"""Answers about the sand balance: state now, flows, what is ahead, plant values, books of a period."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts
from sandlab.lab.facts.muller import AdditionFacts


class EstimateFacts(Facts):
    """One estimated quantity: value, standard deviation, 90 % band, and where it belongs.

    `words` says how it lies to its target; empty where it has none.
    """

    name: str
    label: str
    unit: str
    decimals: int
    value: float
    sd: float
    low: float
    high: float
    text: str
    target: float | None
    tolerance: tuple[float, float] | None
    words: str


class ArmFacts(Facts):
    """One stream across the border of the sand system, kg in an hour of running."""

    name: str
    label: str
    kg_per_h: float
    text: str


class StationFacts(Facts):
    """One place on the sand's way with what comes in and leaves there."""

    name: str
    label: str
    text: str
    comes: tuple[ArmFacts, ...]
    leaves: tuple[ArmFacts, ...]


class FlowFacts(Facts):
    """The loop of a stretch of time; sums of what comes in and leaves are equal, the stock being held."""

    since: datetime
    until: datetime
    batches: int
    hours: float
    stations: tuple[StationFacts, ...]
    prepared_t_per_h: float
    returned_t_per_h: float
    metal_t_per_h: float
    comes_kg_per_h: float
    leaves_kg_per_h: float
    cycle_h: float
    heads: tuple[str, str, str]
    returned_words: tuple[str, str]
    sum_text: str
    around: str
    words: str


class SeenFacts(Facts):
    """One test result on the time line."""

    at: datetime
    value: float


class CourseFacts(Facts):
    """A quantity over time with its 90 % band: estimated up to `now`, expected after it, and its tests."""

    name: str
    label: str
    unit: str
    decimals: int
    now: datetime
    at: tuple[datetime, ...]
    mean: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    tests: tuple[SeenFacts, ...]
    target: float | None
    tolerance: tuple[float, float] | None
    words: str


class DoseFacts(Facts):
    """One addition of the present recommendation with its parts as they are read."""

    addition: AdditionFacts
    words: str


class SandBalanceFacts(Facts):
    """What is really in the sand, what goes round, and what matters today, in one sentence.

    `slow` are what changes slowly: wear factors, errors of feeders and lots, bond; `doses` are the newest
    recommendation's; `courses` estimates of the last days.
    """

    now: datetime
    last_batch_at: datetime
    words: str
    prepared: tuple[EstimateFacts, ...]
    returned: tuple[EstimateFacts, ...]
    slow: tuple[EstimateFacts, ...]
    flow: FlowFacts | None
    doses: tuple[DoseFacts, ...]
    advised_at: datetime | None
    advice_words: str
    flags: tuple[str, ...]
    courses: tuple[CourseFacts, ...]


class SettlingFacts(Facts):
    """Where constant settings lead, and the hours of running until nine tenths of the way are done."""

    name: str
    label: str
    unit: str
    value: float
    text: str
    hours: float
    words: str


class NewSandFacts(Facts):
    """New sand that holds the inert fines at a level in the long run; `binds` is the limit in the way."""

    fines: float
    reached: float
    kg_per_batch: float
    kg_per_t_metal: float
    binds: str
    words: str


class SettingFacts(Facts):
    """One feeder's kilograms per batch in a what-if, beside what is set now."""

    feeder: str
    label: str
    kg: float
    now_kg: float
    text: str
    kg_per_t_metal: float


class SandForecastFacts(Facts):
    """What jobs and settings lead to: bands over the days, cost, steady state, and new sand for the fines."""

    now: datetime
    until: datetime
    days: float
    running_h: float
    job: str
    sand_to_metal: float
    core_sand_t_per_t: float
    settings: tuple[SettingFacts, ...]
    words: str
    courses: tuple[CourseFacts, ...]
    cost_per_t_sand: float
    cost_per_t_metal: float
    cost_now_per_t_metal: float
    cost_words: str
    settling: tuple[SettlingFacts, ...]
    new_sand: NewSandFacts | None


class FittedFacts(Facts):
    """One plant value as the window tells it, with its 95 % limits, beside what is assumed now.

    `proposed` is what a person may accept; None where the window says too little or agrees.
    """

    name: str
    label: str
    unit: str
    value: float
    low: float
    high: float
    start: float
    identified: bool
    proposed: float | None
    text: str
    words: str


class IdentificationFacts(Facts):
    """Plant values fitted to a window, and what the window cannot tell.

    `acceptable` are the values that a person may accept from it, with their sd; nothing is accepted yet.
    """

    window_from: datetime
    window_to: datetime
    results: int
    samples: int
    misfit: float
    values: tuple[FittedFacts, ...]
    acceptable: dict[str, float]
    acceptable_sd: dict[str, float]
    words: str
    remarks: tuple[str, ...]


class AccountFacts(Facts):
    """One component's books in kg: brought + formed - burned - dust - left - gained = closing; its sd."""

    name: str
    label: str
    brought: dict[str, float]
    formed_kg: float
    burned_kg: float
    dust_kg: float
    left_kg: float
    gained_kg: float
    closing_kg: float
    sd_kg: float
    closes: bool
    words: str


class UsedFacts(Facts):
    """One additive of a period: all of it, and per t of metal."""

    feeder: str
    label: str
    kg: float
    kg_per_t_metal: float
    text: str


class BooksFacts(Facts):
    """The material balance of a period; `findings` point to a feeder or a leak where it does not close."""

    window_from: datetime
    window_to: datetime
    batches: int
    dry_in_t: float
    metal_t: float
    words: str
    accounts: tuple[AccountFacts, ...]
    used: tuple[UsedFacts, ...]
    findings: tuple[str, ...]
