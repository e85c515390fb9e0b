"""What the Balance screen says in words: state, additions, what-if, plant values, books, as lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

from textual.content import Content

from sandlab.lab.facts import (
    AccountFacts,
    BooksFacts,
    CourseFacts,
    EstimateFacts,
    FittedFacts,
    IdentificationFacts,
    SandBalanceFacts,
    SandForecastFacts,
)
from sandlab.quantities import format_number
from sandlab.screens.base import Part, short_name, styled

Lines = list[Content]
NAME = 20


def wrapped(words: str, width: int, style: str = "", *, indent: str = "") -> Lines:
    """A sentence in lines."""
    lines = wrap(words, max(20, width - 1), subsequent_indent=indent)
    return [styled((f" {line}", style) if style else f" {line}") for line in lines]


def state_lines(facts: SandBalanceFacts, at: int, width: int, *, both: bool) -> Lines:
    """Prepared sand with its bands, the chosen one marked, then the return sand where there is room."""
    lines = [styled(("  prepared sand, 90 % band", "$muted"))]
    lines += [state_line(one, place == at, width) for place, one in enumerate(facts.prepared)]
    if both:
        lines.append(styled(("  return sand at the muller", "$muted")))
        lines += [state_line(one, False, width) for one in facts.returned]
    return lines


def state_line(one: EstimateFacts | CourseFacts, chosen: bool, width: int) -> Content:
    """Mark, name, value with band, and whether it is off."""
    text = one.text if isinstance(one, EstimateFacts) else one.words.partition(":")[0]
    off = "outside" in one.words
    parts: list[Part | str] = [("> " if chosen else "  ", "bold")]
    parts += [(f"{one.label:<{NAME}.{NAME}}", "bold" if chosen else ""), f"{text:<22}"]
    room = width - NAME - 25
    words = one.words.removesuffix(", outside tolerance") if isinstance(one, EstimateFacts) else ""
    words = words if words == "on target" else words.removesuffix(" target")
    mark = "! " if off else ""
    if room >= 9:
        parts.append((f"{mark}{words}"[:room], "bold $watch" if off else "$muted"))
    elif off:
        parts.append(("!", "bold $watch"))
    return styled(*parts)


def addition_lines(facts: SandBalanceFacts, width: int) -> Lines:
    """The newest recommendation: sentence, kilograms as sums of their parts, doubts."""
    lines = wrapped(facts.advice_words, width, "bold")
    for dose in facts.doses:
        one = dose.addition
        change = f"{one.change_text} kg" if one.change_kg else "as now"
        lines.append(Content(""))
        lines.append(
            styled(f" {short_name(one.label):<18}", (f"{one.text:>8} kg", "bold"), (f"   {change}", "$muted"))
        )
        lines += wrapped(f"  = {dose.words}", width, indent="    ") if dose.words else []
        lines += wrapped(f"  held by: {one.binds}", width, "$watch", indent="    ") if one.binds else []
    lines.append(Content(""))
    for flag in facts.flags:
        lines += wrapped(f"- {flag}", width, "$watch", indent="  ")
    lines += slow_lines(facts.slow, width)
    return lines


def slow_lines(slow: Sequence[EstimateFacts], width: int) -> Lines:
    """What changes slowly, with its bands."""
    lines = [styled((" What changes slowly, learned from the tests, 90 % band", "bold"))]
    for one in slow:
        unit = (f" {one.unit}", "$muted") if width >= 90 else ""
        lines.append(styled(f"  {one.label:<40.40}{one.text:<26}", unit))
    return lines


def forecast_lines(facts: SandForecastFacts, width: int, mark: str) -> Lines:
    """The words of a what-if: jobs, settings, cost, steady state, new sand."""
    ratio, core, hours = (
        format_number(value, places, mark=mark)
        for value, places in ((facts.sand_to_metal, 2), (facts.core_sand_t_per_t, 3), (facts.running_h, 0))
    )
    settings = ", ".join(f"{one.label.lower()} {one.text}" for one in facts.settings)
    way = f"sand to metal {ratio}, core sand {core} t/t"
    lines = wrapped(f"Jobs {facts.job}: {way}; {hours} h of running.", width)
    lines += wrapped(f"A batch gets {settings} kg. {facts.cost_words}", width)
    if facts.new_sand is not None:
        lines += wrapped(facts.new_sand.words, width, "$data")
    lines.append(styled((f" After {facts.days:g} days, 90 % band", "bold")))
    for course in facts.courses:
        value, _, off = course.words.partition(":")
        lines.append(
            styled(f" {course.label:<20.20}{value:<24}", (off, "$watch" if "outside" in off else "$muted"))
        )
    lines.append(styled((" In the long run", "bold")))
    for one in facts.settling:
        lines += wrapped(f"{one.label:<19} {one.words}", width, indent=" " * 20)
    return lines


def fitted_lines(facts: IdentificationFacts, width: int) -> Lines:
    """The identification report: what was found, value by value, and what the window cannot tell."""
    lines: Lines = []
    for one in facts.values:
        lines += fitted_line(one, width)
    lines.append(Content(""))
    for remark in facts.remarks:
        lines += wrapped(f"- {remark}", width, "$watch", indent="  ")
    if facts.acceptable:
        lines += wrapped(
            "F8 accepts what the window tells, with your reason; until then nothing changes.", width
        )
    return lines


def fitted_line(one: FittedFacts, width: int) -> Lines:
    """One value with its limits, and beside it, or below on a narrow screen, what follows."""
    style = "$watch" if one.proposed is not None else "$muted"
    head: list[Part | str] = [f" {one.label:<36.36}", (f"{one.text:<25}", "bold" if one.identified else "")]
    if width >= 100:
        return [styled(*head, (one.words[: width - 62], style))]
    short = one.words.partition(":")[0].partition(",")[0] if one.identified else "not told"
    return [styled(*head, (short, style))]


def books_lines(facts: BooksFacts, width: int, mark: str) -> Lines:
    """Whether the books close, the accounts beside each other, additives per t of metal."""
    lines: Lines = []
    for finding in facts.findings:
        lines += wrapped(finding, width, "$watch")
    lines += account_table(facts.accounts, mark)
    for account in facts.accounts:
        lines += wrapped(account.words, width, "" if account.closes else "$watch")
    lines += [Content(""), styled((" Additives            kg per t of metal     kg in all", "$muted"))]
    for used in facts.used:
        lines.append(styled(f" {used.label:<20}{used.text:>18}{format_number(used.kg, 0, mark=mark):>14}"))
    return lines


def account_table(accounts: Sequence[AccountFacts], mark: str) -> Iterator[Content]:
    """A column of kg for each component; what goes out has a minus."""
    if not accounts:
        return
    yield styled((f" {'kg':<20}" + "".join(f"{one.label:>14}" for one in accounts), "$muted"))
    names = dict.fromkeys(name for one in accounts for name in one.brought)
    rows: list[tuple[str, list[float]]] = [
        (f"{name} in", [one.brought.get(name, 0.0) for one in accounts]) for name in names
    ]
    if any(one.formed_kg for one in accounts):
        rows.append(("formed in the mould", [one.formed_kg for one in accounts]))
    rows += [
        ("burned", [-one.burned_kg for one in accounts]),
        ("dust", [-one.dust_kg for one in accounts]),
        ("carried out", [-one.left_kg for one in accounts]),
        ("from or into stock", [-one.gained_kg for one in accounts]),
    ]
    for name, values in rows:
        yield styled(f" {name:<20}" + "".join(_kg(value, mark) for value in values))
    yield styled((f" {'left over':<20}" + "".join(_kg(one.closing_kg, mark) for one in accounts), "bold"))


def _kg(value: float, mark: str) -> str:
    text = format_number(value, 0, mark=mark)
    return f"{'' if text.strip('-0') == '' else text:>14}"
