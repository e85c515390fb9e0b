"""A proposed mapping as a TOML file for a person to read, correct and keep."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from textwrap import wrap

from pydantic import BaseModel

from sandlab.exchange.mapping import Block, SheetMap
from sandlab.exchange.proposing.found import Guess
from sandlab.exchange.proposing.proposal import Proposal

_WIDTH = 108


def mapping_text(proposal: Proposal) -> str:
    """The mapping with each guess beside its column, and the questions at the top."""
    return "\n".join(_lines(proposal)) + "\n"


def _lines(proposal: Proposal) -> Iterator[str]:
    yield from _comment(
        f"Proposed for {proposal.file}. Look at every column, correct what is wrong, and keep this file: it "
        "is used again for files with the same heads. Behind each column stands how sure it is and why."
    )
    if proposal.questions:
        yield "#"
        yield "# Questions:"
        for one in proposal.questions:
            yield from _comment(f"- {one.where}: {one.what}; {one.do}.")
    mapping = proposal.mapping
    yield ""
    for key in ("system", "point", "time_zone", "dates", "times", "decimal_marks", "not_measured"):
        value = getattr(mapping, key)
        if value is not None:
            yield f"{key} = {toml_value(value)}"
    yield ""
    yield '# Initials as the file has them and the names they stand for, for example KD = "K. Dorn".'
    yield "[technicians]"
    for name, person in mapping.technicians.items():
        yield f"{_key(name)} = {toml_value(person)}"
    if mapping.sampling_points:
        yield ""
        yield "[sampling_points]"
        for text, point in mapping.sampling_points.items():
            yield f"{_key(text)} = {toml_value(point)}"
    for key, sheet in mapping.sheets.items():
        name = sheet.name or proposal.file
        guesses = {guess.column: guess for guess in proposal.guesses if guess.sheet == name}
        yield from _sheet(key, sheet, guesses)


def _sheet(key: str, sheet: SheetMap, guesses: Mapping[str, Guess]) -> Iterator[str]:
    yield ""
    yield f"[sheets.{key}]"
    for name in ("name", "kind", "head_rows", "first_row", "last_row"):
        value = getattr(sheet, name)
        if value is not None and (name, value) != ("kind", "samples"):
            yield f"{name} = {toml_value(value)}"
    if sheet.date is not None:
        yield _with_guess(f"date = {toml_value(sheet.date)}", sheet.date.at, guesses)
    if sheet.date_fill_down:
        yield "date_fill_down = true"
    if sheet.skip_rows_with:
        yield f"skip_rows_with = {toml_value(sheet.skip_rows_with)}"
    for name, block in sheet.blocks.items():
        yield from _block(f"sheets.{key}.blocks.{name}", block, guesses)
    unused = [guess for guess in guesses.values() if not guess.means]
    if unused:
        yield ""
        yield "# Columns not used:"
        for guess in unused:
            reason = f" ({guess.reason})" if guess.reason else ""
            yield from _comment(f"  {guess.column} '{guess.head}'{reason}")


def _block(where: str, block: Block, guesses: Mapping[str, Guess]) -> Iterator[str]:
    yield ""
    yield f"[{where}]"
    for name in Block.model_fields:
        value = getattr(block, name)
        if name == "columns" or value in (None, ""):
            continue
        at = getattr(value, "at", None)
        yield _with_guess(f"{name} = {toml_value(value)}", at, guesses)
    if block.columns:
        yield ""
        yield f"[{where}.columns]"
        for name, column in block.columns.items():
            yield _with_guess(f"{name} = {toml_value(column)}", column.at, guesses)


def _with_guess(line: str, at: str | None, guesses: Mapping[str, Guess]) -> str:
    guess = guesses.get(at or "")
    if guess is None:
        return line
    # One line each: a comment may not break, and heads may.
    reason = " ".join(guess.reason.split())
    return f"{line}  # {guess.word} {guess.confidence:.0%}: {reason}"


def _comment(text: str) -> Iterator[str]:
    for line in wrap(" ".join(text.split()), _WIDTH, subsequent_indent="  "):
        yield f"# {line}"


def toml_value(value: object) -> str:
    """A value as TOML: texts, numbers, lists, and models as inline tables without what is unset."""
    if isinstance(value, BaseModel):
        given = value.model_dump(exclude_defaults=True)
        inside = ", ".join(f"{_key(name)} = {toml_value(each)}" for name, each in given.items())
        return f"{{ {inside} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml_value, value))}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return str(value)
    # JSON's escapes are those of TOML's basic strings, but for the one of DEL.
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def _key(text: str) -> str:
    bare = text.replace("_", "").replace("-", "")
    return text if bare.isalnum() and bare.isascii() else toml_value(text)
