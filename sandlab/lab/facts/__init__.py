"""What the verbs answer: frozen facts that screens draw, the command line prints and `--json` writes out.

Values are in the plant's display units; `text` fields are rounded and carry the plant's decimal mark.
"""

from sandlab.lab.facts.base import ChartState, DueState, Facts, MullerState, ValueState
from sandlab.lab.facts.charts import (
    BaselineFacts,
    ChangeFacts,
    ChartFacts,
    ChartKind,
    DrawnFacts,
    EventFacts,
    OverviewFacts,
    PointFacts,
    PropertyFacts,
    SignalFacts,
    SpanFacts,
)
from sandlab.lab.facts.files import CheckFacts, ImportFacts, NoteFacts, ProblemFacts
from sandlab.lab.facts.muller import AdditionFacts, AdviceFacts, EvidenceFacts, MullerFacts
from sandlab.lab.facts.tests import (
    DueFacts,
    DueSetFacts,
    FieldFacts,
    JudgementFacts,
    MethodFacts,
    ReadingFacts,
    ResultFacts,
    SampleFacts,
    SavedFacts,
    SheetFacts,
)

__all__ = [
    "AdditionFacts",
    "AdviceFacts",
    "BaselineFacts",
    "ChangeFacts",
    "ChartFacts",
    "ChartKind",
    "ChartState",
    "CheckFacts",
    "DrawnFacts",
    "DueFacts",
    "DueSetFacts",
    "DueState",
    "EventFacts",
    "EvidenceFacts",
    "Facts",
    "FieldFacts",
    "ImportFacts",
    "JudgementFacts",
    "MethodFacts",
    "MullerFacts",
    "MullerState",
    "NoteFacts",
    "OverviewFacts",
    "PointFacts",
    "ProblemFacts",
    "PropertyFacts",
    "ReadingFacts",
    "ResultFacts",
    "SampleFacts",
    "SavedFacts",
    "SheetFacts",
    "SignalFacts",
    "SpanFacts",
    "ValueState",
]
