"""The focused field in full: what is expected, what the typed value means, what came before."""

from __future__ import annotations

from textual.content import Content

from sandlab.quantities import format_number
from sandlab.screens.base import LabScreen, Part, station, styled
from sandlab.screens.fields import Field
from sandlab.screens.form import SetForm


def detail_words(screen: LabScreen, field: Field | None, form: SetForm) -> Content:
    """Four lines about the focused stop of the form."""
    if field is None:
        if screen.focused is form.save_line:
            when = f"at {form.taken.strip()}" if form.taken.strip() else "now"
            return styled(
                f"Enter saves the sample as taken {when}. Up goes back to the fields.\n",
                ("Down leads to the time it was taken and to a note.", "$muted"),
            )
        return styled(
            "Taken at: 14:05 or 1405, or 2026-03-04 14:05; blank means now.\n",
            ("Note: anything the next shift should know about this sample.", "$muted"),
        )
    if field.facts is None:
        return styled(
            (field.label.label, "bold"), "\n", ("Judged as soon as the records are open.", "$muted")
        )
    return styled(*_said(field), "\n", *_expected(screen, field), *_scale(screen, field), *_before(field))


def _said(field: Field) -> list[Part | str]:
    words = field.judgement.words if field.judgement else ""
    if field.judgement is None or field.judgement.state == "not_measured":
        words = "type the value; Enter alone means not measured"
    return [(f"{field.label.label}: ", "bold"), words]


def _expected(screen: LabScreen, field: Field) -> list[Part | str]:
    facts, mark = field.facts, station(screen).mark
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


def _scale(screen: LabScreen, field: Field) -> list[Part | str]:
    if field.facts is None or field.facts.target is None:
        return []
    return [*field.scale(min(78, screen.size.width - 4)), "\n"]


def _before(field: Field) -> list[Part | str]:
    if field.facts is None or field.facts.last_at is None:
        return [("never tested here before", "$muted")]
    parts: list[Part | str] = [
        (f"{field.last_words()} {field.facts.unit}".rstrip() + f", {field.last_age()}", "$muted")
    ]
    return parts
