"""The commands: each opens the plant, calls one verb of the lab, and prints its facts."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path

from sandlab.cli import text
from sandlab.cli.words import SCHEMAS, pairs, readings_of, sides
from sandlab.errors import StoreError, impossible, nearest
from sandlab.lab import advising, batches, charting, correcting, entry, rounds
from sandlab.lab import facts as answers
from sandlab.lab.checking import check as check_specs
from sandlab.lab.opening import DATABASE, DOUBTS, Lab, open_lab, plant_folder
from sandlab.lab.wall_clock import moment_of
from sandlab.quantities import parse_number


def folder_of(args: Namespace, *, name: str = "plant") -> Path:
    """The plant folder that the options and the environment name."""
    return plant_folder(args.plant, os.environ, name=name)


@contextmanager
def opened(args: Namespace, *, reads: bool = False) -> Iterator[Lab]:
    """The lab of the plant folder, closed afterwards; a command that only reads needs no right to write."""
    folder = folder_of(args)
    new = not (folder / DATABASE).exists()
    try:
        lab = open_lab(folder, system=args.system)
    except StoreError:
        if not reads or new:
            raise
        lab = open_lab(folder, system=args.system, readonly=True)
    if new:
        print(f"A new plant begins in {folder}", file=sys.stderr)
    if lab.doubts:
        print(f"{DOUBTS}:", *lab.doubts, sep="\n", file=sys.stderr)
    try:
        yield lab
    finally:
        lab.close()


def show(args: Namespace, facts: answers.Facts, lines: Iterable[str]) -> int:
    """Print facts as JSON when asked, else as lines."""
    if args.json:
        print(facts.model_dump_json(indent=2))
    else:
        for line in lines:
            print(line)
    return 0


def local_time(lab: Lab, written: str) -> datetime:
    """An ISO time as written; without an offset it is the plant's wall clock."""
    return moment_of(written, lab.zone)


def day_of(lab: Lab, written: str) -> date:
    """A day at the plant: today, yesterday, or an ISO date."""
    today = lab.now().astimezone(lab.zone).date()
    named = {"today": today, "yesterday": today - timedelta(days=1)}
    if written in named:
        return named[written]
    try:
        return date.fromisoformat(written)
    except ValueError:
        hint = "write today, yesterday or for example 2026-03-04"
        raise impossible("--day", f"'{written}' is not a day", hint) from None


def require_terminal() -> None:
    """The screens need a keyboard and a terminal; without them a process would wait for keys for ever."""
    in_browser = os.environ.get("TEXTUAL_DRIVER", "").endswith("WebDriver")
    if not (in_browser or (sys.stdin.isatty() and sys.stdout.isatty())):
        hint = "start it at a terminal; every fact is also a command, see sandlab --help"
        raise impossible("terminal", "input or output is not a terminal", hint)


def open_screens(args: Namespace) -> int:
    """Open the terminal tool."""
    require_terminal()
    from sandlab.screens.app import run

    return run(folder_of(args), system=args.system)


def due(args: Namespace) -> int:
    """What is due now."""
    with opened(args, reads=True) as lab:
        facts = rounds.due(lab)
    return show(args, facts, text.due_lines(facts))


def sheet(args: Namespace) -> int:
    """The latest samples."""
    with opened(args, reads=True) as lab:
        facts = rounds.sheet(lab, last=args.last, day=day_of(lab, args.day) if args.day else None)
    lines = [line for one in facts.samples for line in text.sample_lines(one, lab.zone)]
    lines = [facts.words, *lines] if facts.words else lines
    return show(args, facts, lines)


def additions(args: Namespace) -> int:
    """What the muller operator reads."""
    with opened(args, reads=True) as lab:
        facts = advising.muller(lab)
    return show(args, facts, text.additions_lines(facts, lab.zone))


def schema(args: Namespace) -> int:
    """The JSON Schema of a command's answer."""
    import json

    if args.command not in SCHEMAS:
        raise impossible(args.command, "prints no JSON", nearest(args.command, list(SCHEMAS)))
    kind: type[answers.Facts] = getattr(answers, SCHEMAS[args.command])
    print(json.dumps(kind.model_json_schema(), indent=2, sort_keys=True))
    return 0


def record(args: Namespace) -> int:
    """Log a sample."""
    methods = pairs(args.method)
    entries = [
        entry.Entry(name, method=methods[name], readings=readings_of(value))
        if name in methods
        else entry.Entry(name, value)
        for name, value in sides(args.values)
    ]
    with opened(args) as lab:
        first = next(iter(lab.sand.schedule.values()), None)
        point = args.point or (first.point if first else next(iter(lab.sand.points)))
        facts = entry.record_sample(
            lab,
            point=point,
            by=args.by,
            entries=entries,
            taken_at=local_time(lab, args.at) if args.at else None,
            note=args.note,
            confirmed=args.confirm,
        )
    return show(args, facts, text.saved_lines(facts, lab.zone))


def correct(args: Namespace) -> int:
    """Correct or void a value of an earlier sample."""
    ((name, value),) = sides([args.value])
    with opened(args) as lab:
        if value:
            facts = correcting.correct(
                lab,
                sample=args.sample,
                property=name,
                text=value,
                by=args.by,
                reason=args.reason,
                confirmed=args.confirm,
            )
        else:
            facts = correcting.void(lab, sample=args.sample, property=name, by=args.by, reason=args.reason)
    return show(args, facts, text.saved_lines(facts, lab.zone))


def event(args: Namespace) -> int:
    """Put a note on the time line."""
    with opened(args) as lab:
        facts = charting.add_event(lab, text=args.text, by=args.by, kind=args.kind)
    return show(args, facts, [f"{text.moment(facts.at, lab.zone)}  {facts.text} ({facts.by})"])


def advise(args: Namespace) -> int:
    """Compute additions for the next batches."""
    if args.stream:
        from sandlab.cli.stream_command import stream

        return stream(args)
    if not (args.by or "").strip():
        raise impossible("--by", "is missing", "give your initials: sandlab advise --by INITIALS")
    with opened(args) as lab:
        facts = advising.advise(lab, by=args.by)
    return show(args, facts, text.advice_lines(facts, lab.zone, mark=lab.mark))


def release(args: Namespace) -> int:
    """Let the muller see the last computed additions."""
    with opened(args) as lab:
        latest = advising.latest_advice(lab)
        if latest is None:
            raise impossible("release", "nothing has been computed", "run: sandlab advise --by INITIALS")
        facts = advising.release(lab, recommendation=latest.recommendation, by=args.by)
    return show(args, facts, text.additions_lines(facts, lab.zone))


def acknowledge(args: Namespace) -> int:
    """The operator has set the released additions."""
    with opened(args) as lab:
        facts = advising.acknowledge(lab, by=args.by)
    return show(args, facts, text.additions_lines(facts, lab.zone))


def override(args: Namespace) -> int:
    """The operator runs other kilograms."""
    with opened(args) as lab:
        facts = advising.override(lab, by=args.by, added_kg=_kilograms(args.kg), reason=args.reason)
    return show(args, facts, text.additions_lines(facts, lab.zone))


def batch(args: Namespace) -> int:
    """Log the kilograms of a batch."""
    with opened(args) as lab:
        made = batches.log_batch(
            lab,
            added_kg=_kilograms(args.kg),
            by=args.by,
            return_sand_kg=_optional("return sand", args.return_sand),
            at=local_time(lab, args.at) if args.at else None,
        )
        facts = batches.batch_facts(lab, made)
    return show(args, facts, [facts.text])


def _optional(where: str, written: str | None) -> float | None:
    return None if written is None else parse_number(written, where=where).value


def _kilograms(written: Iterable[str]) -> Mapping[str, float]:
    return {name: parse_number(value, where=name).value for name, value in sides(written)}


def check(args: Namespace) -> int:
    """Report every problem of the spec files."""
    facts = check_specs(Path(args.folder) if args.folder else folder_of(args))
    show(args, facts, text.check_lines(facts))
    return 0 if facts.ok else 1


def demo(args: Namespace) -> int:
    """Open the tool on an invented foundry."""
    from sandlab.cli.demo import run

    return run(args)
