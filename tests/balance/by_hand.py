"""The equations of loop and batch written out in plain numbers, sharing no line with the code under test.

Source: conservation of mass and energy; wear factors as in the foundry lexicon, entry "Wear factor".
"""

from __future__ import annotations

from collections.abc import Mapping

from sandlab.balance import Loop, PlantModel


def pass_through_loop(
    a: float, v: float, k: float, f: float, loop: Loop
) -> tuple[list[float], dict[str, float]]:
    """Return sand (a, v, k, f, grain) in % and the masses of one pass per 100 kg of prepared sand."""
    ba = (1 - loop.spill) * min(loop.clay_wear_factor / loop.sand_to_metal, 0.95)
    bv = (1 - loop.spill) * min(loop.carbon_wear_factor / loop.sand_to_metal, 0.95)
    wk = loop.carbon_wear_factor if loop.fixed_carbon_wear_factor is None else loop.fixed_carbon_wear_factor
    bk = (1 - loop.spill) * min(wk / loop.sand_to_metal, 0.95)
    h, s = loop.bound_water, loop.burnt_clay_to_fines
    a1, v1, k1 = a - a * ba, v - v * bv, k - k * bk + loop.coke_yield * v * bv
    f1 = f + s * (1 - h) * ba * a + loop.volatiles_ash * bv * v + loop.carbon_ash * bk * k
    grain1 = (100 - a - v - k - f) + (1 - s) * (1 - h) * ba * a
    gas = h * ba * a + (1 - loop.coke_yield - loop.volatiles_ash) * bv * v + (1 - loop.carbon_ash) * bk * k
    after = [a1, v1, k1, f1, grain1]
    shares = [
        loop.dust_active_clay,
        loop.dust_volatiles,
        loop.dust_fixed_carbon,
        loop.dust_inert_fines,
        loop.dust_grain,
    ]
    z = [kg * (1 - share) for kg, share in zip(after, shares, strict=True)]
    core = [loop.core_active_clay, loop.core_volatiles, loop.core_fixed_carbon, loop.core_inert_fines]
    core.append(100 - sum(core))
    c = loop.core_retention * loop.core_sand_t_per_t / loop.sand_to_metal
    returned = [kg + c * share for kg, share in zip(z, core, strict=True)]
    total = sum(returned)
    masses = {"gas": gas, "dust": sum(after) - sum(z), "core": 100 * c, "returned": total}
    return [100 * kg / total for kg in returned], masses


def batch_moisture(model: PlantModel, kg: Mapping[str, float], moisture: float, temperature: float) -> float:
    """Moisture of the batch after evaporation [% of moist], discharge temperature estimated from eta."""
    muller = model.muller
    out = muller.ambient_temperature + (1 - muller.discharge_eta) * (temperature - muller.ambient_temperature)
    dry = muller.batch_kg * (1 - moisture / 100)
    water = muller.batch_kg - dry
    heat = (0.85 * dry + 4.19 * water) * (temperature - out)
    charged = muller.batch_kg
    for one in model.feeders:
        weighed, u = kg[one.id], one.material.moisture / 100
        heat += (0.85 * weighed * (1 - u) + 4.19 * weighed * u) * (one.material.temperature - out)
        dry += weighed * (1 - u)
        water += weighed * u
        charged += 0.0 if one.material.kind == "water" else weighed
    heat += muller.work_kwh_per_t * 3600 * charged / 1000
    water -= max(0.0, heat / (2418 - 2.4 * (out - 35)))
    return 100 * water / (water + dry)
