"""The base of all answers, and the states they speak of."""

from __future__ import annotations

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

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)
