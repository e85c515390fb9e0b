"""The balance on a stream of lines: what has become known in, one recommendation out for each advice due."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import tzinfo
from typing import get_args

from pydantic import ValidationError

from sandlab.balance import PlantModel, Recommendation, Recommender
from sandlab.balance import stream as told
from sandlab.balance.answer import Addition, Part
from sandlab.errors import InputError, Problem, impossible, nearest
from sandlab.lab.facts import (
    ProblemFacts,
    StreamedDose,
    StreamedEstimate,
    StreamedEvidence,
    StreamedFacts,
    StreamedMiss,
    StreamLine,
)
from sandlab.lab.facts import streaming as lines
from sandlab.lab.wall_clock import moment_of
from sandlab.store.rows import microseconds
from sandlab.store.rows import moment_of as moment_at

KINDS = tuple(get_args(kind.model_fields["kind"].annotation)[0] for kind in get_args(lines.AnyLine))


@dataclass(frozen=True, slots=True)
class Refused:
    """A line that was left out, or that looks wrong; `wrong` tells which."""

    problem: Problem
    wrong: bool


def answers(model: PlantModel, zone: tzinfo, written: Iterable[str]) -> Iterator[StreamedFacts | Refused]:
    """For each advice due a recommendation, for each bad line what is wrong; raises InputError for the plant.

    A bad line is left out and the stream goes on. Where nothing can be computed the last recommendation stays
    in force and is answered again with its age.
    """
    stream = _Stream(model, zone)
    for number, line in enumerate(written, start=1):
        if line.strip():
            yield from stream.take(number, line)


class _Stream:
    """The recommender behind a stream, its last answer, and what was wrong since."""

    def __init__(self, model: PlantModel, zone: tzinfo) -> None:
        self.recommender, self.zone = Recommender(model), zone
        self.last = _as_set(model)
        self.known_us = 0
        self.problems: list[Problem] = []

    def take(self, number: int, line: str) -> Iterator[StreamedFacts | Refused]:
        """One line: taken in, or told what is wrong with it."""
        due = False
        try:
            read = _read(line)
            due = isinstance(read, lines.DueLine)
            known_us = self._known(read)
            self._tell(read)
            yield from self._late(number, known_us)
        except InputError as error:
            due = due or '"advice_due"' in line
            self.known_us = max(self.known_us, self._asked_us(line) if due else 0)
            for problem in error.problems:
                refused = Refused(Problem(f"line {number}, {problem.where}", problem.what, problem.do), True)
                self.problems.append(refused.problem)
                yield refused
        if due:
            yield self._answer(number)

    def _us(self, written: str, where: str) -> int:
        return microseconds(moment_of(written, self.zone, where=where))

    def _known(self, read: lines.AnyLine) -> int:
        """When a line became known."""
        where = next(name for name in ("known", "until", "at") if getattr(read, name, None))
        return self._us(str(getattr(read, where)), where)

    def _asked_us(self, line: str) -> int:
        """For when an advice was asked that could not be computed, 0 where that cannot be read."""
        try:
            return self._us(str(json.loads(line)["at"]), "at")
        except (ValueError, KeyError, TypeError, InputError):
            return 0

    def _late(self, number: int, known_us: int) -> Iterator[Refused]:
        """Whether a line became known before one that stands above it: it counts, in its own place."""
        if known_us < self.known_us:
            problem = Problem(
                f"line {number}",
                "became known before a line above it",
                "it is counted where it belongs; give lines in the order in which they become known",
            )
            self.problems.append(problem)
            yield Refused(problem, False)
        self.known_us = max(self.known_us, known_us)

    def _tell(self, read: lines.AnyLine) -> None:
        if isinstance(read, lines.DueLine):
            jobs = tuple(
                told.PlannedJob(
                    self._us(job.at, "jobs, at"), self._us(job.until, "jobs, until"), job.job,
                    job.sand_to_metal, job.core_sand_t_per_t,
                )
                for job in read.jobs
            )  # fmt: skip
            self.last = self.recommender.advise(
                self._us(read.at, "at"),
                told.Outlook(jobs),
                moisture=read.probe_moisture,
                temperature=read.probe_temperature,
            )
        elif isinstance(read, lines.SetLine):
            known = [feeder.id for feeder in self.recommender.plant.feeders]
            for name in read.added_kg:
                if name not in known:
                    raise impossible("added_kg", f"no feeder '{name}'", nearest(name, known))
            self.recommender.set_to(self._us(read.at, "at"), read.added_kg)
        else:
            self.recommender.note(self._event(read))

    def _event(self, read: lines.AnyLine) -> told.Event:
        if isinstance(read, lines.ResultLine):
            taken, known = self._us(read.taken, "taken"), self._us(read.known, "known")
            return told.ResultKnown(read.property, read.value, taken, known, read.doubtful)
        at = self._us(read.at, "at")
        if isinstance(read, lines.ProductionLine):
            until = self._us(read.until, "until")
            return told.Production(at, until, read.job, read.metal_t, read.sand_to_metal, read.core_sand_t)
        if isinstance(read, lines.ReceiptLine):
            return told.Receipt(at, read.material, read.lot, read.assay, read.moisture, read.kg)
        if isinstance(read, lines.ProbeLine):
            return told.ProbeReading(at, read.moisture, read.temperature)
        if isinstance(read, lines.StockLine):
            return told.StockCounted(at, read.material, read.kg)
        if isinstance(read, lines.WeighedLine):
            return told.FeederWeighed(at, read.feeder, read.shown_kg, read.weighed_kg)
        assert isinstance(read, lines.BatchLine)
        probes = (read.probe_moisture, read.probe_temperature)
        return told.BatchMade(at, read.added_kg, read.return_sand_kg, *probes)

    def _answer(self, number: int) -> StreamedFacts:
        age_us = max(0, self.known_us - self.last.at_us) if self.last.at_us else 0
        facts = streamed_facts(self.last, number, age_us / told.MINUTE_US, self.problems)
        self.problems = []
        return facts


def _read(line: str) -> lines.AnyLine:
    """A line as its kind; raises InputError with every problem."""
    try:
        data = json.loads(line)
    except ValueError as error:
        raise impossible("JSON", f"cannot be read: {error}", "write one JSON object a line") from None
    if not isinstance(data, dict):
        raise impossible("JSON", "is no object", 'write for example {"kind": "batch", ...}')
    if data.get("kind") not in KINDS:
        kind = str(data.get("kind", ""))
        raise impossible("kind", f"'{kind}' is not known", nearest(kind, KINDS))
    try:
        return StreamLine.model_validate_json(line).root
    except ValidationError as error:
        found = error.errors(include_url=False, include_context=False)
        raise InputError(_problem(one["loc"][1:], one["msg"]) for one in found) from None


def _problem(place: tuple[int | str, ...], said: str) -> Problem:
    what = said.removeprefix("Value error, ")
    what = f"{what[:1].lower()}{what[1:]}"
    return Problem(", ".join(str(part) for part in place) or "line", what, "see: sandlab schema stream-line")


def _as_set(model: PlantModel) -> Recommendation:
    """What stays in force before anything was computed: the settings of the plant, held."""
    additions = tuple(
        Addition(
            one.id, one.material.id, one.material.kind, one.present_kg, 0.0, one.present_kg,
            (Part("held", one.present_kg),), (), True,
        )
        for one in model.feeders
    )  # fmt: skip
    words = "Nothing could be computed yet: keep the present settings."
    return Recommendation(0, additions, reason=words, hold=True, hold_reason=words)


def streamed_facts(
    one: Recommendation, number: int, age_min: float, problems: Iterable[Problem]
) -> StreamedFacts:
    """A recommendation as an answer line."""

    def estimates(found: Iterable[tuple[str, told.Estimated]]) -> dict[str, StreamedEstimate]:
        return {name: StreamedEstimate(value=est.value, sd=est.sd) for name, est in found}

    batch = [("moisture", one.moisture), ("compactability", one.compactability)]
    expected = estimates((name, value) for name, value in batch if value is not None)
    return StreamedFacts(
        line=number,
        at=moment_at(one.at_us),
        age_min=age_min,
        additions=tuple(_dose(addition, one.sd_kg.get(addition.feeder)) for addition in one.additions),
        prepared=estimates(one.prepared.items()),
        returned=estimates(one.returned.items()),
        moisture=expected.get("moisture"),
        compactability=expected.get("compactability"),
        misses=tuple(
            StreamedMiss(
                property=miss.property,
                target=miss.target,
                expected=miss.expected,
                tolerance=miss.tolerance,
                because=miss.because,
            )
            for miss in one.misses
        ),
        rests_on=tuple(
            StreamedEvidence(
                property=seen.property,
                value=seen.value,
                last=seen.last,
                age_min=seen.age_min,
                count=seen.count,
                weak=seen.weak,
            )
            for seen in one.rests_on
        ),
        flags=one.flags,
        void_if=one.void_if,
        reason=one.reason,
        hold=one.hold,
        hold_reason=one.hold_reason,
        problems=tuple(ProblemFacts(where=p.where, what=p.what, do=p.do) for p in problems),
        advice_note=one.caution,
    )


def _dose(one: Addition, sd_kg: float | None) -> StreamedDose:
    return StreamedDose(
        feeder=one.feeder,
        material=one.material,
        kg=one.kg,
        change_kg=one.change_kg,
        ideal_kg=one.ideal_kg,
        sd_kg=sd_kg,
        parts_kg={part.name: part.kg for part in one.parts},
        binds=one.binds,
        held=one.held,
    )
