"""The demo: an invented foundry, simulated up to the last full hour, opened like any other plant."""

from __future__ import annotations

import shutil
from argparse import Namespace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sandlab import plant
from sandlab.cli.commands import folder_of, require_terminal
from sandlab.errors import Problem, StoreError
from sandlab.lab import advising, charting, plant_log
from sandlab.lab.deriving import derived
from sandlab.lab.opening import DATABASE, Lab, open_lab
from sandlab.labels import data_folder
from sandlab.records import Production

MARKER = "about.toml"
ENGINEER = "A. Tremayne"
TECHNICIAN = "M. Oduya"
FOREMAN = "H. Lindqvist"


def run(args: Namespace) -> int:
    """Make the demo plant if there is none (or a fresh one), then open the screens on it."""
    folder = folder_of(args, name="demo")
    if args.fresh or (folder / DATABASE).exists():
        _require_demo(folder)
    if args.fresh and folder.exists():
        shutil.rmtree(folder)
    if not (folder / DATABASE).exists():
        print(f"Simulating 90 days of an invented foundry in {folder} ...", flush=True)
        make(folder, seed=args.seed, now=datetime.now(UTC))
    if args.no_screen:
        print(f"Demo plant in {folder}")
        return 0
    require_terminal()
    from sandlab.screens.app import run as open_screens

    return open_screens(folder, system=args.system)


def make(folder: Path, *, seed: int, now: datetime) -> None:
    """Simulate the foundry into a folder beside, complete, and only then put it in place."""
    if folder.exists() and any(folder.iterdir()):
        raise StoreError(
            Problem(str(folder), "is not empty and holds no demo", "name an empty folder with --plant")
        )
    building = folder.with_name(f"{folder.name}.building")
    if building.exists():
        shutil.rmtree(building)
    shutil.copytree(data_folder("sample_data") / "specs", building / "specs")
    lab = open_lab(building)
    try:
        until = now.replace(minute=0, second=0, microsecond=0)
        _fill(lab, seed, until)
        _plan(lab, until)
        _freeze(lab, until)
        advice = advising.advise(lab, by=TECHNICIAN)
        advising.release(lab, recommendation=advice.recommendation, by=TECHNICIAN)
    finally:
        lab.close()
    shutil.copy(data_folder("sample_data") / MARKER, building / MARKER)
    if folder.exists():
        folder.rmdir()
    building.rename(folder)


def _fill(lab: Lab, seed: int, until: datetime) -> None:
    """The whole history in one transaction, with the results that follow from others."""
    history = plant.simulate(seed, until, specs_hash=lab.specs.hash, system=lab.system)
    samples = [
        one.model_copy(update={"results": (*one.results, *derived(lab.specs, one.results))})
        for one in history.samples
    ]
    lab.store.save(
        [*samples, *history.receipts, *history.production, *history.batches, *history.events],
        specs_texts={lab.specs.hash: lab.specs.canonical_text},
    )


def _plan(lab: Lab, until: datetime) -> None:
    """The next two jobs of the schedule, four hours each, from those that were poured last."""
    poured = lab.store.records(Production, lab.system, last=40)
    jobs = {one.job: one for one in poured if one.metal_t > 0.0}
    for number, one in enumerate(list(jobs.values())[:2]):
        start = until + timedelta(hours=4 * number)
        plant_log.plan_job(
            lab,
            job=one.job,
            start=start,
            until=start + timedelta(hours=4),
            sand_to_metal=one.sand_to_metal,
            core_sand_t_per_t=round(one.core_sand_t / one.metal_t, 3),
            by=FOREMAN,
        )


def _freeze(lab: Lab, until: datetime) -> None:
    """Limits of every charted property with enough tests in the quiet window."""
    start, end = plant.quiet_baseline(until)
    for key, entry in lab.specs.properties.items():
        if entry.chart == "none":
            continue
        known = charting.chart(lab, key, last=2000).points
        if sum(point.at is not None and start <= point.at <= end for point in known) >= 8:
            charting.freeze_baseline(
                lab,
                key,
                window_from=start,
                window_to=end,
                by=ENGINEER,
                reason="first quiet weeks of the demo",
            )


def _require_demo(folder: Path) -> None:
    """A folder that is there and is not a demo is neither thrown away nor shown as one."""
    if folder.exists() and not (folder / MARKER).exists():
        raise StoreError(
            Problem(
                str(folder),
                f"holds no demo (no {MARKER})",
                "name another folder with --plant, which goes before $SANDLAB_PLANT",
            )
        )
