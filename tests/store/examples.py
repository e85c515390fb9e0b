"""Small records of an invented system, one of every kind, with short ways to vary them."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar
from uuid import uuid4

from sandlab.records import (
    Acknowledgement,
    Amendment,
    AnyRecord,
    Baseline,
    Batch,
    BeltReading,
    Comment,
    Event,
    FeederCheck,
    NoteRead,
    Override,
    PlannedJob,
    PlantValues,
    Production,
    Reading,
    Receipt,
    Recommendation,
    Record,
    Release,
    Result,
    Sample,
    StepDone,
    StockCount,
)

R = TypeVar("R", bound=Record)

SYSTEM = "main"
SIX = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
TEXT = '{"plant":"Haldmoor Castings"}'
HASH = hashlib.sha256(TEXT.encode()).hexdigest()
TEXTS = {HASH: TEXT}


def hours(count: float) -> datetime:
    """The time some hours after six o'clock."""
    return SIX + timedelta(hours=count)


def new_id() -> str:
    """A fresh id."""
    return str(uuid4())


def make(kind: type[R], /, **fields: Any) -> R:
    """A record of a kind, with the fields that all kinds share filled in."""
    at = fields.get("at", SIX)
    shared = {"id": new_id(), "system": SYSTEM, "at": at, "by": "A. Baker", "recorded_at": at}
    return kind.model_validate(shared | fields)


def sample(moisture: float = 3.2, **fields: Any) -> Sample:
    """A sample at the muller with one typed and one computed result, sorted as the store gives them back."""
    readings = (
        Reading(name="wet", value=50.0),
        Reading(name="dry", value=48.375),
        Reading(name="wet", value=50.0, repeat=2),
    )
    results = (
        Result(property="compactability", value=41.0, flags=("last specimen cracked", "see note")),
        Result(property="moisture", value=moisture, method="oven", readings=readings, known_at=hours(2)),
    )
    return make(Sample, **({"point": "muller", "specs_hash": HASH, "results": results} | fields))


def amendment(
    of: Sample, value: float | None, *, revision: int = 1, property: str = "moisture", **fields: Any
) -> Amendment:
    """A correction, void or late value of one property of a sample."""
    given = {
        "at": of.at,
        "recorded_at": of.recorded_at + timedelta(minutes=5),
        "system": of.system,
        "point": of.point,
        "sample": of.id,
        "revision": revision,
        "specs_hash": HASH,
        "reason": "misread the balance",
        "result": Result(property=property, value=value),
    }
    return make(Amendment, **(given | fields))


def one_of_each() -> list[AnyRecord]:
    """One record of every kind, each referring to the others as in use."""
    taken = sample(note="damp morning", source="import")
    advice = make(
        Recommendation,
        specs_hash=HASH,
        added_kg={"water": 41.5, "bentonite": 6.25},
        hold=True,
        sentence="Water up: the return sand came back hot.",
        rests_on=(taken.id,),
        detail='{"parts":[1.5]}',
    )
    release = make(Release, recommendation=advice.id, added_kg={"water": 41.5, "bentonite": 6.25})
    note = make(Event, kind="supplier", text="new bentonite in silo 2")
    return [
        taken,
        amendment(taken, 3.4, by="B. Cole"),
        make(Batch, number=7, return_sand_kg=1500.0, added_kg={"water": 40.0}, recommendation=advice.id),
        make(Receipt, material="bentonite", lot="B-118", kg=24000.0, assay={"active_clay": 88.5}),
        make(Production, until=hours(1), job="gully grates", metal_t=4.2, sand_to_metal=6.5, core_sand_t=0.0),
        make(PlannedJob, until=hours(9), job="manhole frames", sand_to_metal=5.3, core_sand_t_per_t=0.05),
        make(BeltReading, moisture=2.1, temperature=None),
        make(StockCount, material="bentonite", kg=18_500.0),
        make(FeederCheck, feeder="bentonite", shown_kg=50.0, weighed_kg=48.6),
        make(
            PlantValues,
            values={"clay_wear_factor": 0.31},
            sd={"clay_wear_factor": 0.01},
            window_from=hours(0),
            window_to=hours(700),
            reason="three weeks of the usual jobs",
        ),
        note,
        make(
            Baseline,
            property="moisture",
            point="muller",
            window_from=hours(-48),
            window_to=SIX,
            count=40,
            centre=3.2,
            sigma=0.11,
            sigma_moving_range=0.07,
            lag1=0.6,
            excluded=(taken.id,),
        ),
        advice,
        release,
        make(Acknowledgement, release=release.id),
        make(Override, release=release.id, added_kg={"water": 39.0}, reason="sand sticks to the belt"),
        make(NoteRead, note=note.id),
        make(Comment, sample=taken.id, property="moisture", text="balance was drifting"),
        make(StepDone, sample=taken.id, property="moisture", signal="past_reaction_high", step="Repeat"),
    ]
