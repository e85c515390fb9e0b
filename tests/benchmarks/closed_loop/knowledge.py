"""What a controller is told of a simulated plant: the model to start from, and events made of plain outputs.

Start values that nobody at a plant knows are the middle of the published or usual range, the same for every
controller; assays are those of the certificates, on the laboratory's scale.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from sandlab.balance.answer import Addition
from sandlab.balance.inputs import Feeder, Muller, Target
from sandlab.balance.loop import Loop
from sandlab.balance.materials import Material
from sandlab.balance.stream import (
    HOUR_US,
    MINUTE_US,
    Outlook,
    PlannedJob,
    PlantModel,
    Production,
    Receipt,
    Recommendation,
)
from sandlab.plant.closed import Case, Line

BATCH_US = 3 * MINUTE_US
SHIFT_US = 8 * HOUR_US
OUTLOOK_US = 12 * HOUR_US
CLAY_WEAR, CARBON_WEAR = 0.33, 1.1
MIDDLE = Loop(
    sand_to_metal=6.0,
    core_retention=0.65,
    spill=0.05,
    clay_wear_factor=CLAY_WEAR,
    carbon_wear_factor=CARBON_WEAR,
    fixed_carbon_wear_factor=0.9,
    bound_water=0.055,
    burnt_clay_to_fines=0.6,
    coke_yield=0.2,
    carbon_ash=0.15,
    dust_active_clay=0.005,
    dust_volatiles=0.006,
    dust_fixed_carbon=0.006,
    dust_inert_fines=0.08,
    dust_grain=0.001,
    core_volatiles=0.65,
    core_fixed_carbon=0.35,
    core_inert_fines=0.6,
)


def plant_model(case: Case) -> PlantModel:
    """The start model of a case."""
    papers, plant = case.papers, case.plant
    materials = {
        "water": Material("water", "water", 100.0, temperature=15.0),
        "bentonite": Material("bentonite", "clay", 10.0, clay_assay(case, 0), cost_per_t=260.0),
        "carbon": Material("carbon", "carbon", 3.0, coal_assay(case, 0), cost_per_t=340.0),
        "new_sand": Material("new_sand", "new_sand", 0.2, {"inert_fines": 0.3}, cost_per_t=45.0),
    }
    feeders = tuple(
        Feeder(
            id=name,
            material=material,
            minimum_kg=0.0,
            maximum_kg=papers.greatest[name],
            resolution_kg=papers.resolution[name],
            greatest_step_kg=papers.greatest[name],
            present_kg=papers.recipe[name],
        )
        for name, material in materials.items()
    )
    return PlantModel(
        feeders=feeders,
        targets=(
            Target("compactability", plant.compactability_target, 3.0),
            Target("active_clay", plant.clay_target, 0.5),
            Target("volatiles", plant.volatiles_target, 0.2),
        ),
        muller=Muller(
            papers.charge_kg,
            ambient_temperature=papers.ambient,
            return_moisture=papers.return_moisture,
            return_temperature=papers.return_temperature,
        ),
        loop=_start_loop(case),
        stock_t=papers.stock_kg / 1000.0,
        batches_per_h=20.0,
        usual=papers.usual,
    )


def _start_loop(case: Case) -> Loop:
    return replace(MIDDLE, sand_to_metal=case.papers.sand_to_metal, core_sand_t_per_t=case.papers.core_share)


def clay_assay(case: Case, lot: int) -> dict[str, float]:
    """What the certificate of a bentonite lot says, on the laboratory's scale."""
    one = case.luck.clay_lots[lot]
    active = 100.0 * one.assay * case.plant.clay_calibration * one.certificate
    return {"active_clay": active, "inert_fines": max(0.0, 100.0 - active)}


def coal_assay(case: Case, lot: int) -> dict[str, float]:
    """What the certificate of a coal lot says, on the laboratory's scale."""
    one = case.luck.coal_lots[lot]
    volatile = 100.0 * one.assay * case.plant.volatiles_calibration * one.certificate
    ash = 100.0 * case.plant.coal_ash
    return {"volatiles": volatile, "fixed_carbon": 100.0 - ash - volatile, "inert_fines": ash}


def receipts(case: Case) -> list[Receipt]:
    """Deliveries after the first, each known when it is fed."""
    at = case.luck.at_us
    clay = [
        Receipt(int(at[one.first]), "bentonite", f"B{number}", clay_assay(case, number))
        for number, one in enumerate(case.luck.clay_lots)
    ]
    coal = [
        Receipt(int(at[one.first]), "carbon", f"C{number}", coal_assay(case, number))
        for number, one in enumerate(case.luck.coal_lots)
    ]
    return [receipt for receipt in (*clay, *coal) if receipt.at_us > int(at[0])]


def shift_parts(case: Case) -> list[tuple[int, int, int]]:
    """Pieces of lots between shift changes: first batch, batch after, time at which it is written down."""
    at = case.luck.at_us
    shift = (at - at[0]) // SHIFT_US
    bounds = [0, *(np.flatnonzero(np.diff(case.luck.run) + np.diff(shift)) + 1).tolist(), at.size]
    return [(first, after, int(at[0] + (shift[first] + 1) * SHIFT_US)) for first, after in pairwise(bounds)]


def production(line: Line, column: int, first: int, after: int) -> Production:
    """What was poured with the batches from `first` to before `after`."""
    case = line.case
    run = case.luck.runs[int(case.luck.run[first])]
    metal = float(line.metal_t[column, first:after].sum())
    return Production(
        int(case.luck.at_us[first]),
        int(case.luck.at_us[after - 1]) + BATCH_US,
        run.job,
        metal,
        run.sand_to_metal * case.plant.known_metal,
        metal * run.core_share,
    )


def schedule(case: Case) -> list[PlannedJob]:
    """All jobs as planned; the weekend parts a job."""
    at, jobs = case.luck.at_us, []
    for run in case.luck.runs:
        times = at[run.first : run.after]
        breaks = [0, *(np.flatnonzero(np.diff(times) > 2 * HOUR_US) + 1).tolist(), times.size]
        for first, after in pairwise(breaks):
            jobs.append(
                PlannedJob(
                    int(times[first]),
                    int(times[after - 1]) + BATCH_US,
                    run.job,
                    run.planned_metal * case.plant.known_metal,
                    run.planned_core,
                )
            )
    return jobs


def outlook(jobs: list[PlannedJob], at_us: int) -> Outlook:
    """The jobs of the coming hours."""
    return Outlook(tuple(job for job in jobs if job.until_us > at_us and job.from_us < at_us + OUTLOOK_US))


def settings(at_us: int, model: PlantModel, kg: dict[str, float]) -> Recommendation:
    """A bare recommendation of a simple controller; a feeder that is not named keeps its recipe."""
    return Recommendation(
        at_us,
        tuple(
            Addition(one.id, one.material.id, one.material.kind, amount, 0.0, amount, (), (), False)
            for one in model.feeders
            if one.id != "water"
            for amount in (kg.get(one.id, one.present_kg),)
        ),
    )
