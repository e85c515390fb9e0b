"""What was measured, decided and added: frozen records, each made once and never changed.

A correction is a new record that names the old one (`revises`), with who, when and why; a void is a
revision without content (`voided`) and with a reason. Times are aware UTC; ids are UUIDs as text, made by the
caller, so that other terminals and imports can make them.
"""

from __future__ import annotations

from sandlab.records.base import Count, Finite, Id, Name, Record
from sandlab.records.decided import (
    Acknowledgement,
    Baseline,
    Event,
    NoteRead,
    Override,
    Recommendation,
    Release,
    StepDone,
)
from sandlab.records.sand import (
    Batch,
    BeltReading,
    FeederCheck,
    PlannedJob,
    PlantValues,
    Production,
    Receipt,
    StockCount,
)
from sandlab.records.tests import Amendment, Comment, Reading, Result, Sample

AnyRecord = (
    Sample
    | Amendment
    | Batch
    | Receipt
    | Production
    | PlannedJob
    | BeltReading
    | StockCount
    | FeederCheck
    | PlantValues
    | Event
    | Baseline
    | Recommendation
    | Release
    | Acknowledgement
    | Override
    | NoteRead
    | Comment
    | StepDone
)

__all__ = [
    "Acknowledgement",
    "Amendment",
    "AnyRecord",
    "Baseline",
    "Batch",
    "BeltReading",
    "Comment",
    "Count",
    "Event",
    "FeederCheck",
    "Finite",
    "Id",
    "Name",
    "NoteRead",
    "Override",
    "PlannedJob",
    "PlantValues",
    "Production",
    "Reading",
    "Receipt",
    "Recommendation",
    "Record",
    "Release",
    "Result",
    "Sample",
    "StepDone",
    "StockCount",
]
