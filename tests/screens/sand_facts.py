"""Invented answers of the balance that never change, so that pictures of its screen hold still."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import sin

from sandlab.lab.facts import (
    AccountFacts,
    AdditionFacts,
    ArmFacts,
    BooksFacts,
    CourseFacts,
    DoseFacts,
    EstimateFacts,
    FittedFacts,
    FlowFacts,
    IdentificationFacts,
    NewSandFacts,
    SandBalanceFacts,
    SandForecastFacts,
    SeenFacts,
    SettingFacts,
    SettlingFacts,
    StationFacts,
    UsedFacts,
)

NOW = datetime(2026, 3, 4, 13, 7, tzinfo=UTC)
SAND = (
    ("active_clay", "Active clay", 2, 7.62, 0.11, (8.0, 0.6)),
    ("volatiles", "Volatiles", 2, 1.39, 0.05, (1.4, 0.3)),
    ("fixed_carbon", "Fixed carbon", 2, 2.21, 0.14, None),
    ("inert_fines", "Inert fines", 2, 4.31, 0.30, (3.0, 1.0)),
    ("moisture", "Temper water needed", 2, 3.36, 0.04, None),
    ("sand_temperature", "Sand temperature", 0, 34.0, 0.8, (34.0, 8.0)),
)


def estimate(name: str, label: str, decimals: int, value: float, sd: float, aim: object) -> EstimateFacts:
    """One estimate; what lies more than a tolerance off says so."""
    target, width = aim if isinstance(aim, tuple) else (None, 0.0)
    low, high = value - 1.645 * sd, value + 1.645 * sd
    words = ""
    if target is not None:
        off = value - target
        side = "above" if off > 0 else "below"
        words = f"{abs(off):.{decimals}f} {side} target" if abs(off) > 0.25 * width else "on target"
        words += ", outside tolerance" if abs(off) > width else ""
    return EstimateFacts(
        name=name,
        label=label,
        unit="C" if name == "sand_temperature" else "%",
        decimals=decimals,
        value=value,
        sd=sd,
        low=low,
        high=high,
        text=f"{value:.{decimals}f} ({low:.{decimals}f} to {high:.{decimals}f})",
        target=target,
        tolerance=None if target is None else (target - width, target + width),
        words=words,
    )


def course(one: EstimateFacts, *, past: bool) -> CourseFacts:
    """Six days behind and three ahead, every three hours; it sinks and its band grows."""
    steps = range(-48 if past else 0, 25)
    mean = [one.value - 0.02 * one.sd * max(0, step) * 5 + one.sd * sin(step / 6.0) for step in steps]
    half = [1.645 * one.sd * (1.0 + 0.06 * max(0, step)) for step in steps]
    return CourseFacts(
        name=one.name,
        label=one.label,
        unit=one.unit,
        decimals=one.decimals,
        now=NOW,
        at=tuple(NOW + timedelta(hours=3 * step) for step in steps),
        mean=tuple(mean),
        low=tuple(m - h for m, h in zip(mean, half, strict=True)),
        high=tuple(m + h for m, h in zip(mean, half, strict=True)),
        tests=tuple(
            SeenFacts(at=NOW - timedelta(hours=8 * n), value=one.value + one.sd * sin(n * 1.9))
            for n in range(18 if past else 0)
        ),
        target=one.target,
        tolerance=one.tolerance,
        words=f"{one.text} {one.unit}: {one.words}",
    )


def arm(name: str, label: str, kg: float) -> ArmFacts:
    """One stream."""
    return ArmFacts(name=name, label=label, kg_per_h=kg, text=f"{kg:.0f}")


def station(
    label: str, text: str, comes: tuple[ArmFacts, ...] = (), leaves: tuple[ArmFacts, ...] = ()
) -> StationFacts:
    """One place on the sand's way."""
    return StationFacts(name=label.lower(), label=label, text=text, comes=comes, leaves=leaves)


def flow() -> FlowFacts:
    """A line of thirty tonnes an hour."""
    comes = (
        arm("water", "Water", 560.0),
        arm("bentonite", "Bentonite", 220.0),
        arm("carbon", "Coal dust", 200.0),
        arm("new_sand", "New sand", 400.0),
    )
    stations = (
        station("Muller", "30.2", comes, (arm("steam", "steam", 90.0),)),
        station("Moulding", "metal 4.9"),
        station(
            "Pouring, shake-out",
            "",
            (arm("core_sand", "Core sand", 145.0),),
            (arm("burned_out", "burned out", 130.0), arm("steam", "steam", 500.0)),
        ),
        station("Cooling, dust", "", (), (arm("dust", "dust", 140.0),)),
        station("Silo", "120 t in all", (), (arm("carried_out", "carried out", 665.0),)),
    )
    return FlowFacts(
        since=NOW - timedelta(hours=13),
        until=NOW,
        batches=240,
        hours=12.0,
        stations=stations,
        prepared_t_per_h=30.2,
        returned_t_per_h=29.4,
        metal_t_per_h=4.9,
        comes_kg_per_h=1525.0,
        leaves_kg_per_h=1525.0,
        cycle_h=4.1,
        heads=("comes in, kg/h", "the sand, dry t/h", "leaves, kg/h"),
        returned_words=("return sand", "29.4"),
        sum_text="1525",
        around="once round in 4.1 h",
        words="240 batches, 00:00 to 13:00: 1525 kg an hour of running come in and leave.",
    )


def dose(name: str, label: str, kg: float, change: float, words: str, binds: str = "") -> DoseFacts:
    """One addition with its parts."""
    addition = AdditionFacts(
        feeder=name,
        material=name,
        label=label,
        kg=kg,
        text=f"{kg:.1f}",
        decimals=1,
        change_kg=change,
        change_text=f"{change:+.1f}",
        parts_kg={},
        binds=binds,
    )
    return DoseFacts(addition=addition, words=words)


def state(_lab: object) -> SandBalanceFacts:
    """Clay a little low, too many fines, one feeder under suspicion."""
    prepared = tuple(estimate(*one) for one in SAND)
    wear = estimate("clay_wear_factor", "Wear factor of clay", 3, 0.338, 0.02, None)
    return SandBalanceFacts(
        now=NOW,
        last_batch_at=NOW,
        words="Inert fines 4.31 %: 1.31 above target, outside tolerance. Bentonite seems to feed 9 % less "
        "than is written down.",
        prepared=prepared,
        returned=tuple(estimate(n, label, d, v - 0.3, sd, None) for n, label, d, v, sd, _ in SAND[:4]),
        slow=(wear.model_copy(update={"unit": "kg/100 kg, 1 %"}),),
        flow=flow(),
        doses=(
            dose("bentonite", "Bentonite, lot B-17", 11.5, 1.0, "5.1 dilution +6.2 burn out +0.2 correction"),
            dose("carbon", "Coal dust", 9.5, 0.0, "2.0 dilution +7.4 burn out +0.1 limits", "minimum 9.5 kg"),
            dose("water", "Water", 29.0, -0.5, "60.2 level +1.0 evaporation -32.2 return sand"),
        ),
        advised_at=NOW,
        advice_words="Worked out 12:50, released. Active clay 7.62 % against 8 %: bentonite up 1 kg.",
        flags=("bentonite seems to feed 9 % less than is written down",),
        courses=tuple(course(one, past=True) for one in prepared),
    )


def ahead() -> SandForecastFacts:
    """Three days of a job that burns much."""
    prepared = tuple(estimate(*one) for one in SAND)
    return SandForecastFacts(
        now=NOW,
        until=NOW + timedelta(days=3),
        days=3.0,
        running_h=52.0,
        job="gully grate",
        sand_to_metal=5.6,
        core_sand_t_per_t=0.02,
        settings=(
            SettingFacts(
                feeder="bentonite", label="Bentonite", kg=11.5, now_kg=10.5, text="11.5", kg_per_t_metal=43.9
            ),
        ),
        words="Active clay leaves its tolerance after 31 h and will be 7.21 %.",
        courses=tuple(course(one, past=False) for one in prepared),
        cost_per_t_sand=4.6,
        cost_per_t_metal=27.0,
        cost_now_per_t_metal=25.4,
        cost_words="Additions cost 27.00 per t of metal, with the settings of now 25.40.",
        settling=(
            SettlingFacts(
                name="active_clay",
                label="Active clay",
                unit="%",
                value=7.05,
                text="7.05 %",
                hours=96.0,
                words="7.05 %, nine tenths of the way after 96 h of running; 0.95 below target",
            ),
        ),
        new_sand=NewSandFacts(
            fines=3.0,
            reached=3.0,
            kg_per_batch=41.0,
            kg_per_t_metal=156.0,
            binds="",
            words="41 kg of new sand a batch (156 kg per t of metal) hold the inert fines at 3.0 %.",
        ),
    )


def found() -> IdentificationFacts:
    """Two values: one differs, one cannot be told."""
    wear = FittedFacts(
        name="clay_wear_factor",
        label="Wear factor of clay",
        unit="kg/100 kg, 1 %",
        value=0.301,
        low=0.290,
        high=0.312,
        start=0.330,
        identified=True,
        proposed=0.301,
        text="0.301 (0.290 to 0.312)",
        words="assumed is 0.330: accept 0.301?",
    )
    heat = wear.model_copy(
        update={
            "name": "demand_temperature",
            "label": "Moisture for heat above 40 C",
            "identified": False,
            "proposed": None,
            "text": "0.000 (-0.029 to 0.029)",
            "words": "cannot be told from this window; 0.000 stays",
        }
    )
    return IdentificationFacts(
        window_from=NOW - timedelta(days=25),
        window_to=NOW,
        results=512,
        samples=380,
        misfit=1.1,
        values=(wear, heat),
        acceptable={"clay_wear_factor": 0.301},
        acceptable_sd={"clay_wear_factor": 0.0056},
        words="512 results of 25 days differ from what is assumed in wear factor of clay.",
        remarks=("The window does not tell: moisture for heat above 40 C.",),
    )


def week(_lab: object) -> BooksFacts:
    """Books that do not close."""
    clay = AccountFacts(
        name="active_clay",
        label="Active clay",
        brought={"Bentonite": 21700.0},
        formed_kg=0.0,
        burned_kg=13100.0,
        dust_kg=1090.0,
        left_kg=4660.0,
        gained_kg=-1150.0,
        closing_kg=4000.0,
        sd_kg=1900.0,
        closes=False,
        words="Active clay does not close: 4000 kg missing, up to 3800 kg are chance.",
    )
    return BooksFacts(
        window_from=NOW - timedelta(days=7),
        window_to=NOW,
        batches=2160,
        dry_in_t=105.0,
        metal_t=550.0,
        words="The books of active clay do not close, 25 Feb to 4 Mar: look at the feeder and for leaks.",
        accounts=(clay,),
        used=(
            UsedFacts(feeder="bentonite", label="Bentonite", kg=24100.0, kg_per_t_metal=43.8, text="43.8"),
        ),
        findings=(
            "Active clay: 4000 kg (18 % of what was logged) is missing: Bentonite may feed less than it "
            "shows, or sand leaves where nobody weighs it.",
        ),
    )
