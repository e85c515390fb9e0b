"""Commands that write down what the sand goes through, each one verb of the lab."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from datetime import datetime, tzinfo

from sandlab.cli.commands import local_time, opened, show
from sandlab.cli.text import moment
from sandlab.cli.words import sides
from sandlab.errors import impossible, nearest
from sandlab.lab import accepting, plant_log
from sandlab.lab.facts import AcceptedFacts, WrittenFacts
from sandlab.lab.opening import Lab
from sandlab.quantities import parse_number

PROBES = ("moisture", "temperature")


def produced(args: Namespace) -> int:
    """Write down what was poured."""
    with opened(args) as lab:
        facts = plant_log.log_production(
            lab,
            job=args.job,
            start=local_time(lab, args.start),
            until=local_time(lab, args.until),
            metal_t=_number("metal", args.metal),
            sand_to_metal=_number("sand:metal", args.sand_to_metal),
            core_sand_t=_number("core sand", args.core_sand),
            by=args.by,
        )
        return show(args, facts, written_lines(facts, lab.zone))


def planned(args: Namespace) -> int:
    """A job of the schedule."""
    with opened(args) as lab:
        facts = plant_log.plan_job(
            lab,
            job=args.job,
            start=local_time(lab, args.start),
            until=local_time(lab, args.until),
            sand_to_metal=_number("sand:metal", args.sand_to_metal),
            core_sand_t_per_t=_number("core share", args.core_share),
            by=args.by,
        )
        return show(args, facts, written_lines(facts, lab.zone))


def receipt(args: Namespace) -> int:
    """A delivery with its certificate."""
    with opened(args) as lab:
        facts = plant_log.log_receipt(
            lab,
            material=args.material,
            lot=args.lot,
            kg=_number("kg", args.kg),
            assay={name: _number(name, value) for name, value in sides(args.assay)},
            moisture=None if args.moisture is None else _number("moisture", args.moisture),
            fed_from=local_time(lab, args.fed_from) if args.fed_from else None,
            by=args.by,
        )
        return show(args, facts, written_lines(facts, lab.zone))


def probe(args: Namespace) -> int:
    """What the belt probes show."""
    values = {name: _number(name, value) for name, value in sides(args.values)}
    for name in values:
        if name not in PROBES:
            raise impossible(name, "is not read by a belt probe", nearest(name, PROBES))
    with opened(args) as lab:
        facts = plant_log.log_probe(
            lab,
            moisture=values.get("moisture"),
            temperature=values.get("temperature"),
            at=_at(lab, args),
            by=args.by,
        )
        return show(args, facts, written_lines(facts, lab.zone))


def counted(args: Namespace) -> int:
    """What is really in a silo."""
    with opened(args) as lab:
        facts = plant_log.count_stock(
            lab, material=args.material, kg=_number("kg", args.kg), at=_at(lab, args), by=args.by
        )
        return show(args, facts, written_lines(facts, lab.zone))


def weighed(args: Namespace) -> int:
    """A feeder weighed out."""
    with opened(args) as lab:
        facts = plant_log.weigh_feeder(
            lab,
            feeder=args.feeder,
            shown_kg=_number("shown", args.shown),
            weighed_kg=_number("came", args.came),
            at=_at(lab, args),
            by=args.by,
        )
        return show(args, facts, written_lines(facts, lab.zone))


def accept(args: Namespace) -> int:
    """Plant values that the balance starts from."""
    values = {name: _number(name, value) for name, value in sides(args.values)}
    with opened(args) as lab:
        facts = accepting.accept(
            lab,
            values=values or None,
            window_from=local_time(lab, args.window_from),
            window_to=local_time(lab, args.window_to),
            by=args.by,
            reason=args.reason,
        )
        return show(args, facts, accepted_lines(facts, lab.zone))


def written_lines(facts: WrittenFacts, zone: tzinfo) -> Iterator[str]:
    """What was written down, and what of it looks doubtful."""
    yield f"{moment(facts.at, zone)}  {facts.text} ({facts.by})"
    yield from (f"- {doubt}" for doubt in facts.doubts)


def accepted_lines(facts: AcceptedFacts, zone: tzinfo) -> Iterator[str]:
    """Accepted values beside those before."""
    window = f"{moment(facts.window_from, zone)} to {moment(facts.window_to, zone)}"
    yield f"Accepted {moment(facts.at, zone)} by {facts.by} from {window}: {facts.reason}"
    for one in facts.values:
        yield f"  {one.name:30} {one.text:>8} {one.unit}, before {one.before_text}"


def _at(lab: Lab, args: Namespace) -> datetime | None:
    return local_time(lab, args.at) if args.at else None


def _number(where: str, written: str) -> float:
    return parse_number(written, where=where).value
