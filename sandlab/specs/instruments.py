"""Instruments that send readings: where they are and how their lines look."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sandlab.specs.catalogue import NonNegative, Positive, Spec


class Instrument(Spec):
    """One instrument; `lines` are patterns with names in braces where numbers stand."""

    label: str
    connection: Literal["serial", "tcp", "folder"]
    port: Annotated[str, Field(min_length=1)]
    baud: Literal[300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200] = 9600
    bits: Literal[7, 8] = 8
    parity: Literal["none", "even", "odd"] = "none"
    stop: Literal[1, 2] = 1
    gives: Literal["tests", "batch"] = "tests"
    point: str = ""
    lines: tuple[str, ...] = Field(min_length=1)
    units: dict[str, str] = {}
    ignore: tuple[str, ...] = ()
    repeat_s: NonNegative = 2.0
    offered_min: Positive = 15.0
