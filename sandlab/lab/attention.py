"""What the first screen points to, from everything that waits for a person."""

from __future__ import annotations

from sandlab.lab.charting import overview
from sandlab.lab.facts import AttentionFacts, PropertyFacts
from sandlab.lab.handing import handover
from sandlab.lab.opening import Lab
from sandlab.lab.reacting import next_step, steps_due

CALLING = ("past_reaction_limit", "signal")


def attention(lab: Lab) -> AttentionFacts:
    """Notes nobody has read, steps nobody has taken, and the chart that calls first."""
    steps = steps_due(lab)
    calling = [one for one in overview(lab, rate=False).properties if one.state in CALLING]
    return AttentionFacts(
        empty=not lab.store.samples(lab.system, last=1),
        unread=handover(lab).unread,
        open_steps=steps.open,
        next_step=next_step(steps.steps),
        chart=calling[0].property if calling else "",
        chart_state=calling[0].state if calling else "",
        chart_words=_chart_words(calling[0]) if calling else "",
        charts=len(calling),
    )


def _chart_words(one: PropertyFacts) -> str:
    """What the chart says, always with the name of its property."""
    if one.state == "past_reaction_limit":
        return f"{one.label} {one.last_text} {one.unit}".rstrip()
    words = one.words.rstrip(".")
    return words if words.startswith(one.label) else f"{one.label}: {words[:1].lower()}{words[1:]}"
