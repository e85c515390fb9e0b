"""What instruments show: values offered for the form, batches offered for the log, and how each line is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from sandlab.errors import InputError, Problem
from sandlab.exchange.instruments import Heard, Journal, LineState
from sandlab.lab.facts import BatchOfferFacts, InstrumentFacts, InstrumentsFacts, OfferFacts
from sandlab.lab.listening import is_listened_to
from sandlab.lab.opening import Lab
from sandlab.lab.showing import clock_text, display_unit, shown_unit, text_of, to_display
from sandlab.quantities import format_number
from sandlab.records import Batch
from sandlab.specs import Instrument

# Batches among which one that is reported again is looked for: about a day's.
REMEMBERED = 500


def instruments(lab: Lab) -> InstrumentsFacts:
    """How every instrument is, and what is offered."""
    journal = Journal(lab.folder)
    listened, states = is_listened_to(lab), journal.states()
    return InstrumentsFacts(
        instruments=tuple(
            _instrument(lab, key, entry, states.get(key), listened=listened)
            for key, entry in lab.specs.instruments.items()
        ),
        offers=offers(lab),
        batches=batch_offers(lab),
        listening=listened and bool(lab.specs.instruments),
        log=str(journal.folder / "unread.jsonl"),
    )


def offers(lab: Lab) -> tuple[OfferFacts, ...]:
    """The newest value offered for each property or reading at each point, newest last."""
    found: dict[tuple[str, str], OfferFacts] = {}
    for heard, entry in _offered(lab, "tests"):
        for named in heard.values:
            key = (entry.point, named.name)
            found.pop(key, None)
            if not named.censored:
                found[key] = _offer(lab, heard, entry, named.name, named.value)
    return tuple(found.values())


def batch_offers(lab: Lab) -> tuple[BatchOfferFacts, ...]:
    """The batches that the muller reported and nobody has logged, oldest first, each once."""
    waiting = [_batch(lab, heard, entry) for heard, entry in _offered(lab, "batch")]
    if not waiting:
        return ()
    logged = {(one.number, *sorted(one.added_kg.items())) for one in _logged_lately(lab)}
    found: dict[tuple[object, ...], BatchOfferFacts] = {}
    for one in waiting:
        key = (one.number, *sorted(one.added_kg.items()))
        if one.number is None:
            found[(one.reading,)] = one
        elif key not in logged:
            found.setdefault(key, one)
    return tuple(found.values())


def _logged_lately(lab: Lab) -> tuple[Batch, ...]:
    return lab.store.records(Batch, lab.system, last=REMEMBERED)


def take(lab: Lab, readings: Sequence[str], *, by: str) -> None:
    """Say that a person has taken readings over, so that they are offered no more."""
    Journal(lab.folder).take(tuple(readings), by, lab.now())


def log_offered_batches(lab: Lab, *, by: str) -> tuple[Batch, ...]:
    """Log every batch that is offered, as the muller reported it; raises InputError with every problem."""
    waiting = batch_offers(lab)
    problems = [] if by.strip() else [Problem("operator", "no initials", "give your initials")]
    problems += [Problem("batches", "none is waiting", "see sandlab instruments")] if not waiting else []
    for one in waiting:
        problems += [
            Problem(one.words, f"{name} {kg:g} kg is impossible", f"its feeder gives 0 to {most:g} kg")
            for name, kg in one.added_kg.items()
            if kg > (most := lab.sand.feeders[name].maximum_kg)
        ]
    if problems:
        raise InputError(problems)
    last = lab.store.records(Batch, lab.system, last=1)
    number, now = last[-1].number if last else 0, lab.now()
    batches = []
    for one in waiting:
        number = number + 1 if one.number is None else one.number
        full = lab.sand.muller.batch_kg
        batches.append(
            Batch(
                id=lab.new_id(),
                system=lab.system,
                at=one.at,
                by=by.strip(),
                recorded_at=now,
                number=number,
                return_sand_kg=full if one.return_sand_kg is None else one.return_sand_kg,
                added_kg=one.added_kg,
            )
        )
    lab.store.save(batches)
    take(lab, [one.reading for one in waiting], by=by)
    return tuple(batches)


def _offered(lab: Lab, gives: str) -> list[tuple[Heard, Instrument]]:
    """What was heard lately from instruments that give this, with their specs."""
    if not any(one.gives == gives for one in lab.specs.instruments.values()):
        return []
    now = lab.now()
    found = []
    for heard in Journal(lab.folder).waiting():
        entry = lab.specs.instruments.get(heard.instrument)
        if entry is None or entry.gives != gives:
            continue
        # Batches wait until they are logged: a material book with holes would be worse than an old line.
        if gives == "batch" or now - heard.at <= timedelta(minutes=entry.offered_min):
            found.append((heard, entry))
    return found


def _offer(lab: Lab, heard: Heard, entry: Instrument, name: str, value: float) -> OfferFacts:
    key, _, reading = name.partition(".")
    if reading:
        spec = lab.specs.methods[key].readings[reading]
        shown, text = value, format_number(value, spec.decimals, mark=lab.mark)
        unit = shown_unit(spec.unit)
    else:
        shown, text = to_display(lab.specs, name, value), text_of(lab.specs, name, value)
        unit = shown_unit(display_unit(lab.specs, name))
    when = clock_text(heard.at, lab.zone, lab.now())
    return OfferFacts(
        reading=heard.id,
        instrument=heard.instrument,
        label=entry.label,
        point=entry.point,
        target=name,
        value=shown,
        text=text,
        unit=unit,
        at=heard.at,
        words=f"{entry.label} shows {text} {unit}".rstrip() + f" since {when}",
    )


def _batch(lab: Lab, heard: Heard, entry: Instrument) -> BatchOfferFacts:
    values = {named.name: named.value for named in heard.values}
    added = {name: values[f"{name}_kg"] for name in lab.sand.feeders if f"{name}_kg" in values}
    number = int(values["number"]) if "number" in values else None
    told = ", ".join(
        f"{name.replace('_', ' ')} {format_number(kg, 1, mark=lab.mark)} kg" for name, kg in added.items()
    )
    which = f"batch {number}" if number is not None else "a batch"
    return BatchOfferFacts(
        reading=heard.id,
        instrument=heard.instrument,
        label=entry.label,
        at=heard.at,
        number=number,
        return_sand_kg=values.get("return_sand_kg"),
        added_kg=added,
        words=f"{entry.label} reports {which} at {clock_text(heard.at, lab.zone, lab.now())}: {told}",
    )


def _instrument(
    lab: Lab, key: str, entry: Instrument, state: LineState | None, *, listened: bool
) -> InstrumentFacts:
    word = "not_listened_to" if state is None or not listened else "connected" if state.connected else "lost"
    return InstrumentFacts(
        instrument=key,
        label=entry.label,
        connection=entry.connection,
        port=entry.port,
        state=word,
        since=state.since if state else None,
        heard_at=state.heard_at if state else None,
        line=state.line if state else "",
        heard=state.heard if state else 0,
        repeated=state.repeated if state else 0,
        unread=state.unread if state else 0,
        words=_state_words(lab, entry, state, lab.now(), listened=listened),
    )


def _state_words(
    lab: Lab, entry: Instrument, state: LineState | None, now: datetime, *, listened: bool
) -> str:
    if state is None or not listened:
        return f"{entry.label}: nobody listens; open sandlab, or run: sandlab instruments --listen"
    since = clock_text(state.since, lab.zone, now)
    heard = (
        f"last heard {clock_text(state.heard_at, lab.zone, now)}" if state.heard_at else "nothing heard yet"
    )
    if not state.connected:
        return (
            f"{entry.label}: line lost since {since} ({state.why}), {heard}; it is tried again all the time"
        )
    unread = f", {state.unread} lines not read" if state.unread else ""
    return f"{entry.label}: connected since {since}, {heard}{unread}"
