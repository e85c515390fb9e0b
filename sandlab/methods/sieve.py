"""Sieve analysis: grain fineness number, fines and the share on each sieve; the sieve set is data."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from sandlab.errors import Problem, nearest
from sandlab.methods.outcome import Outcome, flagged, not_negative, positive, require

Sieves = Mapping[str, Mapping[str, float]]


def grain_fineness_number(sample_g: float, sieves: Sieves, sum_within: float, **retained_g: float) -> Outcome:
    """Grain fineness number, about the mesh of the sieve that would just pass the mean grain.

    ``sum(retained_g multiplier) / sum(retained_g)``

    sample_g: sand before sieving [g]
    sieves: the set, each with opening_um and multiplier, the pan included [um, 1]
    sum_within: by how much the sum may miss the sample before it is flagged [% of sample_g]
    retained_g: mass left on each sieve, named as in sieves [g]
    returns: grain fineness number [1]

    Shapes: one retained_g for each sieve of the set.
    Validity: dried sand, washed free of AFS clay; flagged when the sum does not agree with the sample.
    Errors: InputError when a sieve is missing, unknown or negative, or nothing was retained at all.
    Example:
    >>> sieves = {"sieve_50": {"opening_um": 300, "multiplier": 40},
    ...           "pan": {"opening_um": 0, "multiplier": 300}}
    >>> grain_fineness_number(100.0, sieves, 1.0, sieve_50=95.0, pan=5.0).value
    53.0

    Source: gfn_sheet, grain fineness number.
    """
    total = _total(sample_g, sieves, sum_within, retained_g)
    weighted = math.fsum(mass * sieves[name]["multiplier"] for name, mass in retained_g.items())
    return flagged(weighted / total, _sum_flag(total, sample_g, sum_within))


def fines(
    sample_g: float, sieves: Sieves, sum_within: float, fine_sieves: Sequence[str], **retained_g: float
) -> Outcome:
    """Share of the sand on the sieves that the plant counts as fines.

    ``100 sum(retained_g on fine_sieves) / sum(retained_g)``

    sample_g: sand before sieving [g]
    sieves: the set, each with opening_um and multiplier, the pan included [um, 1]
    sum_within: by how much the sum may miss the sample before it is flagged [% of sample_g]
    fine_sieves: names of the sieves that count as fines, for example 200, 270 and pan [names in sieves]
    retained_g: mass left on each sieve, named as in sieves [g]
    returns: fines [% of the sieved sand]

    Shapes: one retained_g for each sieve of the set.
    Validity: numbers counted over different sieves cannot be compared; flagged as the grain fineness number.
    Errors: InputError as for the grain fineness number, and when fine_sieves names a sieve not in the set.
    Example:
    >>> sieves = {"sieve_50": {"opening_um": 300, "multiplier": 40},
    ...           "pan": {"opening_um": 0, "multiplier": 300}}
    >>> fines(100.0, sieves, 1.0, ["pan"], sieve_50=95.0, pan=5.0).value
    5.0

    Source: common_practice, sum of the finest sieves and the pan.
    """
    unknown = [name for name in fine_sieves if name not in sieves]
    require(*(Problem("fine_sieves", f"no sieve '{name}'", nearest(name, list(sieves))) for name in unknown))
    total = _total(sample_g, sieves, sum_within, retained_g)
    fine = math.fsum(retained_g[name] for name in fine_sieves)
    return flagged(100.0 * fine / total, _sum_flag(total, sample_g, sum_within))


def retained_percent(sieves: Sieves, **retained_g: float) -> dict[str, float]:
    """Share of the sieved sand on each sieve, in the order of the set.

    ``100 retained_g / sum(retained_g)``

    sieves: the set, each with opening_um and multiplier, the pan included [um, 1]
    retained_g: mass left on each sieve, named as in sieves [g]
    returns: shares that add up to 100 [% of the sieved sand]

    Shapes: one share for each sieve of the set.
    Validity: as for the grain fineness number.
    Errors: InputError when a sieve is missing, unknown or negative, or nothing was retained at all.
    Example:
    >>> sieves = {"sieve_50": {"opening_um": 300, "multiplier": 40},
    ...           "pan": {"opening_um": 0, "multiplier": 300}}
    >>> retained_percent(sieves, sieve_50=38.0, pan=2.0)
    {'sieve_50': 95.0, 'pan': 5.0}

    Source: gfn_sheet, retained weights in per cent.
    """
    total = _retained_total(sieves, retained_g)
    return {name: 100.0 * retained_g[name] / total for name in sieves}


def _total(sample_g: float, sieves: Sieves, sum_within: float, retained_g: Mapping[str, float]) -> float:
    """The sieved mass, after checking the sample and the tolerance of the sum too."""
    require(positive("sample_g", sample_g), not_negative("sum_within", sum_within))
    return _retained_total(sieves, retained_g)


def _retained_total(sieves: Sieves, retained_g: Mapping[str, float]) -> float:
    """The sieved mass; raises InputError naming every sieve that is missing, unknown or impossible."""
    names = list(sieves)
    total = math.fsum(mass for mass in retained_g.values() if math.isfinite(mass))
    require(
        *(
            Problem(name, "no such sieve in the set", nearest(name, names))
            for name in retained_g
            if name not in sieves
        ),
        *(
            Problem(name, "no mass entered", "enter 0 for an empty sieve")
            for name in names
            if name not in retained_g
        ),
        *(not_negative(name, mass) for name, mass in retained_g.items()),
        *(
            Problem(name, f"the set gives it no {key}", "complete the sieve set")
            for name in names
            for key in ("opening_um", "multiplier")
            if key not in sieves[name]
        ),
        positive("sum of the sieves", total),
    )
    return total


def _sum_flag(total: float, sample_g: float, sum_within: float) -> str:
    """The sentence about a sum that does not agree with the sample; empty when it does."""
    missed = 100.0 * (total - sample_g) / sample_g
    if abs(missed) <= sum_within + 1e-9:
        return ""
    return f"the sieves add up to {total:g} g, {missed:+.1f} % off the sample of {sample_g:g} g: weigh again"
