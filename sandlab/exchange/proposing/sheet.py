"""One sheet looked at: its kind, blocks and columns as a mapping, with guesses and questions."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from sandlab.exchange.grid import letters
from sandlab.exchange.mapping import Block, Column, Place, SheetMap
from sandlab.exchange.proposing.blocks import SHARED, Part, blocks_of
from sandlab.exchange.proposing.dates import DateForms, date_forms, has_time, is_date, time_forms
from sandlab.exchange.proposing.found import Found, Guess, Question
from sandlab.exchange.proposing.heads import is_summary
from sandlab.exchange.proposing.long_table import long_columns, points_of
from sandlab.exchange.proposing.meaning import Meaning, meaning_of
from sandlab.exchange.proposing.numbers import numbers_in, zero_means_not_tested
from sandlab.exchange.proposing.tables import Table
from sandlab.exchange.targets import KINDS, Kind, Target
from sandlab.specs import Specs


class SheetProposer:
    """One sheet while its mapping is made."""

    def __init__(
        self, table: Table, known: dict[Kind, dict[str, Target]], found: Found, specs: Specs, system: str
    ) -> None:
        self.table, self.found, self.specs, self.system = table, found, specs, system
        self.kind, self.meanings = self._kind(known)
        self.known = known[self.kind]

    def _kind(self, known: dict[Kind, dict[str, Target]]) -> tuple[Kind, list[Meaning]]:
        """The kind of sheet that gives most of its columns a meaning, tests before the others."""
        columns = self.table.columns
        read = {kind: [meaning_of(one, known[kind]) for one in columns] for kind in KINDS}

        def weight(kind: Kind) -> tuple[float, int]:
            return sum(one.confidence for one in read[kind] if one.target), -KINDS.index(kind)

        best = max(KINDS, key=weight)
        return best, read[best]

    def propose(self, *, is_text: bool) -> None:
        """Add the sheet's mapping, guesses and questions."""
        parts, repeated = blocks_of(self.meanings)
        dated = [part.columns["date"] for part in parts if "date" in part.columns]
        if not parts or not dated:
            what = "no column of dates" if parts else "no column that names anything measured"
            self._ask("", f"{what}: the sheet is left out", "map it by hand if it holds tests")
            return
        long = "property" in parts[0].columns and "value" in parts[0].columns
        self._tell(parts, repeated)
        forms = date_forms(cell for one in dated for cell in one.heading.cells)
        for what, do in forms.questions:
            self._ask(letters(dated[0].heading.index), what, do)
        self.found.dates += forms.patterns
        blocks = {
            _block_name(part, number): self._block(part, parts, forms, long=long)
            for number, part in enumerate(parts, start=1)
        }
        shared = len(dated) == 1
        sheet = SheetMap(
            name=None if is_text else self.table.sheet.name,
            kind=self.kind,
            head_rows=self.table.head_rows,
            first_row=self.table.first_row,
            date=self._place(dated[0]) if shared else None,
            date_fill_down=self._fills_down(dated[0], parts),
            skip_rows_with=self._summaries(parts),
            blocks=blocks,
        )
        key = re.sub(r"\W+", "_", self.table.sheet.name.casefold()).strip("_") or "sheet"
        self.found.sheets["table" if is_text else key] = sheet

    def _tell(self, parts: Sequence[Part], repeated: Iterable[Meaning]) -> None:
        used = {id(one) for part in parts for one in part.columns.values()}
        for one in self.meanings:
            heading = one.heading
            if not heading.head and not heading.cells:
                continue
            column = letters(heading.index)
            if id(one) in used:
                guess = Guess(self._name, column, heading.head, one.name, one.confidence, one.reason)
            else:
                guess = Guess(self._name, column, heading.head, "", 0.0, one.reason)
            self.found.guesses.append(guess)
            if one.question is not None:
                self._ask(column, *one.question)
        for one in repeated:
            what = f"'{one.heading.head}' repeats {one.name} in the same row, with no time of its own"
            self._ask(letters(one.heading.index), what, "it is left out: map the column that counts")

    @property
    def _name(self) -> str:
        return self.table.sheet.name

    def _ask(self, column: str, what: str, do: str) -> None:
        where = f"{self._name}, column {column}" if column else self._name
        self.found.questions.append(Question(where, what, do))

    def _place(self, one: Meaning) -> Place:
        return Place(**self._at(one))

    def _at(self, one: Meaning) -> dict[str, Any]:
        head = one.heading.head
        return {"at": letters(one.heading.index)} | ({"head": head} if head else {})

    def _block(self, part: Part, parts: Sequence[Part], forms: DateForms, *, long: bool) -> Block:
        columns = part.columns
        made: dict[str, Any] = {"label": part.group}
        for role in (*SHARED, "property", "value", "unit"):
            if role in columns and not (role == "date" and len(_dated(parts)) == 1):
                made[role] = self._place(columns[role])
        if role_time := columns.get("time"):
            self.found.times += time_forms(role_time.heading.cells)
        else:
            made |= self._without_time(part, parts, forms)
        if point := columns.get("sampling_point"):
            self._points(point)
        if long:
            texts, questions = long_columns(columns["property"], columns.get("unit"), self.known)
            made["columns"] = texts
            for question in questions:
                self._ask(letters(columns["property"].heading.index), *question)
            value = columns["value"]
            self.found.numbers.append(replace(value, numbers=numbers_in(value.heading.cells)))
        else:
            made["columns"] = {one.name: self._column(one) for one in part.targets}
        return Block(**{key: value for key, value in made.items() if value not in ("", None)})

    def _without_time(self, part: Part, parts: Sequence[Part], forms: DateForms) -> dict[str, Any]:
        """Where a block without a time column has its time from."""
        timed = next((other.columns["time"] for other in parts if "time" in other.columns), None)
        date = (part.columns.get("date") or _dated(parts)[0]).heading
        if timed is not None:
            first = min(one.heading.index for one in part.targets)
            if timed.heading.index > first:
                column = letters(timed.heading.index)
                what = f"no time of its own stands beside this column; that of column {column} is taken"
                self._ask(letters(first), what, "correct time where its tests were made at another")
            return {"time": self._place(timed)}
        if forms.with_time or any(has_time(text) for text in date.cells[:50]):
            return {}
        if part.hour:
            what = f"no time stands in the rows; {part.hour} is taken from '{part.group}'"
            self._ask("", what, "correct fixed_time")
            return {"fixed_time": part.hour}
        what = "no time of day stands in the rows"
        if any(text.endswith(" 00:00:00") for text in date.cells[:50]):
            what += ", and their dates alone mean midnight"
        self._ask("", what, 'add fixed_time = "07:00" or the like to the block')
        return {}

    def _points(self, point: Meaning) -> None:
        named, unknown = points_of(point.heading.cells, self.specs, self.system)
        self.found.points |= named
        if unknown:
            shown = ", ".join(f"'{text}'" for text in unknown[:6])
            self._ask(
                letters(point.heading.index),
                f"{shown}: no such sampling point",
                "add them to sampling_points",
            )

    def _column(self, one: Meaning) -> Column:
        target = one.target
        more: dict[str, Any] = {}
        if target is not None and target.form == "number":
            self.found.numbers.append(one)
            if one.unit != target.unit:
                more["unit"] = one.unit
            if self.kind == "samples" and zero_means_not_tested(one.numbers, target):
                more["zero_means_not_tested"] = True
        return Column(**self._at(one), **more)

    def _fills_down(self, date: Meaning, parts: Sequence[Part]) -> bool:
        """Whether a date stands once for several rows: many rows hold values and no date."""
        sheet, index = self.table.sheet, date.heading.index
        value = [one.heading.index for part in parts for one in part.targets]
        bare = dated = 0
        for row in range(self.table.first_row, min(len(sheet.rows), self.table.first_row + 400) + 1):
            if any(sheet.text(row, column) for column in value):
                text = sheet.text(row, index)
                dated += is_date(text)
                bare += not text
        return bare > 0.2 * dated

    def _summaries(self, parts: Sequence[Part]) -> tuple[str, ...]:
        """The words with which rows begin that sum up others."""
        sheet = self.table.sheet
        found: dict[str, None] = {}
        for row in range(self.table.first_row, len(sheet.rows) + 1):
            first = next((text for text in sheet.rows[row - 1] if text), "")
            if first and not first[0].isdigit() and len(first) < 40 and is_summary(first):
                # "Mean week 9" is "Mean week 14" in next month's file.
                found[re.sub(r"\s*\d[\d\s.:/-]*$", "", first)] = None
        return tuple(found)[:12]


def _dated(parts: Sequence[Part]) -> list[Meaning]:
    return [part.columns["date"] for part in parts if "date" in part.columns]


def _block_name(part: Part, number: int) -> str:
    words = re.findall(r"[a-z]+", part.group.casefold())
    return words[0] if words and len(words[0]) > 2 else ("all" if number == 1 else f"block_{number}")
