"""The question of a what-if: days, jobs, sand to metal, core and new sand per t of metal, kg per batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widgets import Static

from sandlab.errors import InputError, Problem, nearest
from sandlab.lab.asking import WhatIf
from sandlab.quantities import parse_number
from sandlab.screens.base import short_name
from sandlab.screens.modals import Panel, problem_words
from sandlab.screens.number_field import NumberField
from sandlab.screens.text_field import TextField


class AskWhatIf(Panel[WhatIf | None]):
    """A field per choice; blank leaves it as it is. Enter moves on, on the last field it reckons."""

    HEADING = "What if we run it otherwise?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back"),
        Binding("f6", "take", "Reckon"),
    ]

    def __init__(self, asked: WhatIf, jobs: Sequence[str], settings: Mapping[str, tuple[str, str]]) -> None:
        super().__init__()
        self.jobs = jobs
        self.settings = settings
        self.days = NumberField(f"{asked.days:g}", id="days")
        self.job = TextField(_jobs_shown(asked.jobs), max_length=120, id="job")
        self.ratio = NumberField(_shown(asked.sand_to_metal), id="ratio")
        self.cores = NumberField(_shown(asked.core_sand_t_per_t), id="core-sand")
        self.new_sand = NumberField(_shown(asked.new_sand_per_t), id="new-sand")
        self.fines = NumberField(_shown(asked.fines), id="fines")
        self.kg = {name: NumberField(_shown(asked.kg.get(name)), id=f"kg-{name}") for name in settings}

    def content(self) -> ComposeResult:
        """The fields with what holds now."""
        yield Static("Blank keeps it as it is. Enter moves on. A mix: cover=2; frame=1", classes="words")
        yield from self.line("Days ahead", self.days, "")
        yield from self.line("Jobs", self.job, "")
        yield Static(f"  {', '.join(self.jobs) or 'no job was poured lately'}", classes="words")
        yield from self.line("Sand to metal", self.ratio, " instead of the job's")
        yield from self.line("Core sand", self.cores, " t per t of metal")
        yield from self.line("New sand", self.new_sand, " kg per t of metal")
        yield from self.line("Fines to hold", self.fines, " %, else the target")
        for name, (label, text) in self.settings.items():
            yield from self.line(short_name(label), self.kg[name], f" kg per batch, now {text}")
        yield Static("", classes="words", id="problems")

    def line(self, name: str, field: NumberField | TextField, rest: str) -> ComposeResult:
        """A name, its field, and what to type."""
        with Horizontal(classes="line"):
            yield Static(name, classes="name")
            yield field
            yield Static(rest, classes="rest")

    def stops(self) -> list[NumberField | TextField]:
        """The fields in their order."""
        return [
            self.days, self.job, self.ratio, self.cores, self.new_sand, self.fines, *self.kg.values()
        ]  # fmt: skip

    def action_enter(self) -> None:
        """Move on; on the last field, reckon."""
        if self.focused is self.stops()[-1]:
            self.action_take()
        else:
            self.action_move(1)

    def action_move(self, by: int) -> None:
        """The arrows go through the fields."""
        stops = self.stops()
        at = next((place for place, one in enumerate(stops) if one is self.focused), -by) + by
        self.set_focus(stops[max(0, min(at, len(stops) - 1))])

    def action_take(self) -> None:
        """Return what was typed, or say what is wrong with it."""
        problems: list[Problem] = []

        def number(field: NumberField, where: str) -> float | None:
            if not field.value.strip():
                return None
            try:
                return parse_number(field.value, where=where).value
            except InputError as error:
                problems.extend(error.problems)
                return None

        typed = {name: number(field, self.settings[name][0]) for name, field in self.kg.items()}
        days = number(self.days, "days")
        asked = WhatIf(
            days=3.0 if days is None else days,
            jobs=self.chosen(problems),
            sand_to_metal=number(self.ratio, "sand to metal"),
            core_sand_t_per_t=number(self.cores, "core sand"),
            kg={name: kg for name, kg in typed.items() if kg is not None},
            new_sand_per_t=number(self.new_sand, "new sand"),
            fines=number(self.fines, "fines"),
        )
        if problems:
            self.query_one("#problems", Static).update(problem_words(problems))
        else:
            self.dismiss(asked)

    def chosen(self, problems: list[Problem]) -> dict[str, float]:
        """The jobs that the typed letters begin or stand in, with their shares; blank is as it is."""
        found: dict[str, float] = {}
        for part in self.job.value.split(";"):
            typed, equals, share = (one.strip() for one in part.partition("="))
            if not typed:
                continue
            job = self.named(typed, problems)
            try:
                weight = parse_number(share, where=f"share of {typed}").value if equals else 1.0
            except InputError as error:
                problems.extend(error.problems)
                continue
            if job:
                found[job] = found.get(job, 0.0) + weight
        return found

    def named(self, typed: str, problems: list[Problem]) -> str:
        """The one job that these letters mean; empty where none or several are."""
        fits = [one for one in self.jobs if one.lower() == typed.lower()]
        fits = fits or [one for one in self.jobs if typed.lower() in one.lower()]
        if len(fits) == 1:
            return fits[0]
        what = "fits several jobs" if fits else "was not poured lately"
        problems.append(Problem(f"job '{typed}'", what, nearest(typed, fits or list(self.jobs))))
        return ""


def _shown(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _jobs_shown(jobs: Mapping[str, float]) -> str:
    """The jobs as they are typed; one alone without its share."""
    if len(jobs) == 1:
        return next(iter(jobs))
    return "; ".join(f"{name}={share:g}" for name, share in jobs.items())
