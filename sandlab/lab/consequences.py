"""What saving a result led to, a plain sentence per consequence, and the next thing to do."""

from __future__ import annotations

from collections.abc import Collection

from sandlab.lab.charting import alarms_at
from sandlab.lab.facts import SavedFacts
from sandlab.lab.opening import Lab
from sandlab.lab.rounds import due, sample_facts
from sandlab.lab.showing import with_unit
from sandlab.reactions import triggered
from sandlab.records import Sample

NOTHING = "Nothing calls for action."


def saved_facts(lab: Lab, sample: Sample) -> SavedFacts:
    """The facts after a save: reactions due, chart signals at this sample, and what comes next."""
    reactions = _reaction_words(lab, sample)
    signals = _signal_words(lab, sample, told=reactions)
    consequences = (*reactions.values(), *signals) or (NOTHING,)
    return SavedFacts(
        sample=sample_facts(lab, sample),
        consequences=consequences,
        next=_next(lab, bool(reactions)),
    )


def _reaction_words(lab: Lab, sample: Sample) -> dict[str, str]:
    """A sentence per property that is past a reaction limit."""
    newest = {one.property: one.value for one in sample.results if one.value is not None}
    found = triggered(lab.specs.reactions, lab.sand.targets, newest=newest, alarms={})
    return {
        one.property: f"{lab.specs.properties[one.property].label} "
        f"{with_unit(lab.specs, one.property, one.value, apart_from=one.limit)} is past the reaction limit "
        f"{with_unit(lab.specs, one.property, one.limit)}: the muller screen says HOLD. "
        f"Within {one.within_min} min: {'; '.join(one.steps)}."
        for one in found
    }


def _signal_words(lab: Lab, sample: Sample, *, told: Collection[str]) -> tuple[str, ...]:
    """Chart alarms that this sample's results completed, of properties not told of already."""
    alarms = [(key, reason) for key, reason in alarms_at(lab, sample) if key not in told]
    return tuple(f"{lab.specs.properties[key].label}: {reason}." for key, reason in alarms)


def _next(lab: Lab, reacting: bool) -> str:
    if reacting:
        return "React first: take a fresh sample and repeat the test."
    now_due = [one for one in due(lab).sets if one.state in ("overdue", "due")]
    if now_due:
        return f"{now_due[0].words}."
    return "Compute the additions and release them to the muller."
