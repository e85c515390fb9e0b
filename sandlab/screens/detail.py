"""The focused field in full: what is expected, what the typed value means, what came before."""

from __future__ import annotations

from textual.content import Content

from sandlab.quantities import format_number
from sandlab.screens.base import LabScreen, Part, station, styled
from sandlab.screens.fields import FieldRow
from sandlab.screens.form import SetForm


def detail_words(screen: LabScreen, row: FieldRow | None, form: SetForm) -> Content:
    """Four lines about the focused stop of the form."""
    if row is None:
        if screen.focused is form.save_line:
            return styled(
                "Enter saves the sample as taken now. Up goes back to the fields.\n",
                ("Down leads to the time it was taken and to a note.", "$muted"),
            )
        return styled(
            "Taken at: 14:05, or 2026-03-04 14:05 for another day; blank means now.\n",
            ("Note: anything the next shift should know about this sample.", "$muted"),
        )
    if row.facts is None:
        return styled((row.label.label, "bold"), "\n", ("Judged as soon as the records are open.", "$muted"))
    return styled(*_said(row), "\n", *_expected(screen, row), *_scale(screen, row), *_before(row))


def _said(row: FieldRow) -> list[Part | str]:
    words = row.judgement.words if row.judgement else ""
    if row.judgement is None or row.judgement.state == "not_measured":
        words = "type the value; Enter alone means not measured"
    return [(f"{row.label.label}: ", "bold"), words]


def _expected(screen: LabScreen, row: FieldRow) -> list[Part | str]:
    facts, mark = row.facts, station(screen).mark
    if facts is None or facts.target is None:
        return [("no target is set for it", "$muted"), "\n"]

    def shown(value: float) -> str:
        return format_number(value, facts.decimals, mark=mark)

    parts = [f"target {shown(facts.target)}"]
    if facts.tolerance:
        parts.append(f"tolerance {shown(facts.tolerance[0])} to {shown(facts.tolerance[1])}")
    if facts.reaction:
        parts.append(f"reaction below {shown(facts.reaction[0])} or above {shown(facts.reaction[1])}")
    return [f"{', '.join(parts)} {facts.unit}".rstrip(), "\n"]


def _scale(screen: LabScreen, row: FieldRow) -> list[Part | str]:
    if row.facts is None or row.facts.target is None:
        return []
    return [*row.scale(min(78, screen.size.width - 4)), "\n"]


def _before(row: FieldRow) -> list[Part | str]:
    if row.facts is None or row.facts.last_at is None:
        return [("never tested here before", "$muted")]
    parts: list[Part | str] = [
        (f"{row.last_words()} {row.facts.unit}".rstrip() + f", {row.last_age()}", "$muted")
    ]
    if row.readings is not None:
        parts.append("   from readings")
    return parts
