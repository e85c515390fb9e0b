"""What the verbs answer: frozen facts that screens draw, the command line prints and `--json` writes out.

Values are in the plant's display units; `text` fields are already rounded and carry the plant's decimal mark.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict

ValueState = Literal[
    "impossible", "doubtful", "past_reaction_limit", "outside_tolerance", "in_tolerance", "not_measured"
]
ChartState = Literal["in_control", "signal", "no_baseline", "too_few", "stale", "past_reaction_limit"]
MullerState = Literal["run", "check", "hold"]
DueState = Literal["due", "overdue", "done"]


class Facts(BaseModel):
    """Base of all answers."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class ReadingFacts(Facts):
    """One raw reading that a method asks for."""

    name: str
    label: str
    unit: str
    decimals: int
    low: float
    high: float


class MethodFacts(Facts):
    """One way of obtaining a property from raw readings, with its caution line."""

    method: str
    label: str
    caution: str
    repeats: int
    readings: tuple[ReadingFacts, ...]


class FieldFacts(Facts):
    """One field of the entry form: how to show it, what is expected, what was measured last."""

    property: str
    label: str
    short: str
    unit: str
    decimals: int
    impossible: tuple[float, float]
    doubtful: tuple[float, float]
    target: float | None
    tolerance: tuple[float, float] | None
    reaction: tuple[float, float] | None
    last_value: float | None
    last_text: str
    last_at: datetime | None
    methods: tuple[MethodFacts, ...]


class DueSetFacts(Facts):
    """One test set of the schedule and whether it is due, in words."""

    test_set: str
    label: str
    point: str
    point_label: str
    state: DueState
    due_at: datetime
    minutes_late: int
    words: str
    fields: tuple[FieldFacts, ...]


class DueFacts(Facts):
    """What is due now, most urgent first."""

    plant: str
    system: str
    time_zone: str
    decimal_mark: str
    now: datetime
    sets: tuple[DueSetFacts, ...]


class JudgementFacts(Facts):
    """What a typed value means, in words, before it is saved."""

    property: str
    state: ValueState
    value: float | None
    words: str
    needs_confirmation: bool


class ResultFacts(Facts):
    """One result as shown: `text` is rounded, `words` says what is to be known about it."""

    property: str
    label: str
    value: float | None
    text: str
    unit: str
    state: ValueState
    method: str
    censored: str
    revision: int
    flags: tuple[str, ...]


class SampleFacts(Facts):
    """One sample with its current results."""

    sample: str
    system: str
    point: str
    taken_at: datetime
    by: str
    source: str
    note: str
    results: tuple[ResultFacts, ...]


class SavedFacts(Facts):
    """What saving a sample or a correction led to, a sentence per consequence, and the next thing to do."""

    sample: SampleFacts
    consequences: tuple[str, ...]
    next: str


class SheetFacts(Facts):
    """The latest samples, newest first."""

    now: datetime
    samples: tuple[SampleFacts, ...]


class SignalFacts(Facts):
    """One signal of a chart: what was seen, where, and whether it raises an alarm."""

    rule: str
    alarm: bool
    at: datetime
    index: int
    members: tuple[int, ...]
    side: str
    reason: str


class BaselineFacts(Facts):
    """The frozen limits of a chart and where they came from."""

    baseline: str
    frozen_by: str
    frozen_at: datetime
    reason: str
    window_from: datetime
    window_to: datetime
    count: int
    centre: float
    lower: float
    upper: float
    sigma: float
    sigma_moving_range: float
    lag1: float
    width: float


class EventFacts(Facts):
    """A note on the time line."""

    at: datetime
    kind: str
    text: str
    by: str


class PointFacts(Facts):
    """One plotted result; `corrected` when it is not the first value saved."""

    at: datetime
    value: float
    sample: str
    by: str
    corrected: bool
    flags: tuple[str, ...]


class ChartFacts(Facts):
    """One control chart: the words first, then limits, points, signals and events for drawing."""

    property: str
    label: str
    short: str
    unit: str
    decimals: int
    state: ChartState
    words: str
    baseline: BaselineFacts | None
    target: float | None
    tolerance: tuple[float, float] | None
    reaction: tuple[float, float] | None
    points: tuple[PointFacts, ...]
    signals: tuple[SignalFacts, ...]
    events: tuple[EventFacts, ...]


class PropertyFacts(Facts):
    """One row of the overview."""

    property: str
    label: str
    short: str
    unit: str
    decimals: int
    state: ChartState
    words: str
    last_value: float | None
    last_text: str
    last_at: datetime | None
    recent: tuple[float, ...]
    lower: float | None
    upper: float | None


class OverviewFacts(Facts):
    """All properties, what needs attention first."""

    now: datetime
    properties: tuple[PropertyFacts, ...]


class AdditionFacts(Facts):
    """One material of a batch: kg, the change, and the parts the kg are made of."""

    feeder: str
    material: str
    label: str
    kg: float
    text: str
    decimals: int
    change_kg: float
    change_text: str
    parts_kg: dict[str, float]
    binds: str


class EvidenceFacts(Facts):
    """A test that a recommendation rests on."""

    property: str
    label: str
    text: str
    unit: str
    at: datetime | None
    age_min: float | None
    words: str


class AdviceFacts(Facts):
    """A recommendation: additions per batch, parts, what it rests on, and why, in one sentence."""

    recommendation: str
    at: datetime
    hold: bool
    sentence: str
    reasons: tuple[str, ...]
    additions: tuple[AdditionFacts, ...]
    evidence: tuple[EvidenceFacts, ...]
    released: bool
    advice_note: str


class MullerFacts(Facts):
    """What the muller operator reads: RUN, CHECK or HOLD, the released kg, since when, by whom, and why."""

    now: datetime
    system: str
    state: MullerState
    word: str
    sentence: str
    reasons: tuple[str, ...]
    call: str
    release: str | None
    released_at: datetime | None
    released_by: str
    acknowledged_at: datetime | None
    acknowledged_by: str
    overridden_by: str
    override_reason: str
    additions: tuple[AdditionFacts, ...]
    last_test_at: datetime | None
    next_test_words: str
    advice_note: str


class NoteFacts(Facts):
    """One doubtful, refused or skipped place of an imported file."""

    sheet: str
    row: int
    column: str
    text: str
    what: str
    do: str
    severity: Literal["doubtful", "refused", "skipped"]


class ImportFacts(Facts):
    """What an import would add (dry run) or has added."""

    file: str
    committed: bool
    counts: dict[str, int]
    already_known: int
    notes: tuple[NoteFacts, ...]
    report: tuple[str, ...]
    words: str


class ProblemFacts(Facts):
    """One problem: where, what, what to do."""

    where: str
    what: str
    do: str


class CheckFacts(Facts):
    """Every problem of a plant's spec files."""

    folder: str
    ok: bool
    problems: tuple[ProblemFacts, ...]
