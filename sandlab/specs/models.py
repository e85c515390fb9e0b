"""Everything in force at a plant as one frozen value."""

from __future__ import annotations

import hashlib
import json
from functools import cached_property
from zoneinfo import ZoneInfo

from sandlab.specs.catalogue import Material, Method, Property, Reaction, Source, Spec
from sandlab.specs.instruments import Instrument
from sandlab.specs.system import Plant, System


class Specs(Spec):
    """Everything in force at a plant, as one frozen value with a canonical text and its hash."""

    properties: dict[str, Property]
    methods: dict[str, Method]
    materials: dict[str, Material]
    plant: Plant
    systems: dict[str, System]
    reactions: dict[str, Reaction]
    instruments: dict[str, Instrument] = {}
    sources: dict[str, Source]

    @cached_property
    def canonical_text(self) -> str:
        """The specs as JSON in the order of the files: the same files give the same text on every machine.

        The order says what comes first on a form and where a derived property is looked at. Instruments are
        left out: through which socket a value came does not explain it.
        """
        return json.dumps(
            self.model_dump(mode="json", exclude={"instruments"}), ensure_ascii=False, separators=(",", ":")
        )

    @cached_property
    def hash(self) -> str:
        """SHA-256 of the canonical text, carried by each sample."""
        return hashlib.sha256(self.canonical_text.encode()).hexdigest()

    @cached_property
    def zone(self) -> ZoneInfo:
        """The plant's time zone."""
        return ZoneInfo(self.plant.time_zone)
