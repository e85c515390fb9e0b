"""Each kind of test as a view of the prepared sand: what it should show, and how far it may be off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from sandlab.balance.composition import COMPONENTS, Floats
from sandlab.balance.stream import PlantModel

KPA_PER_PSI = 6.894757
WASHED_CARBON, WASHED_SD = 0.5, 0.12  # share of volatiles and fixed carbon in the AFS fines; 0.3 to 0.7
BOUND_SD = 0.006  # of the clay's bound water, a share of the clay; 0.045 to 0.065
SCALE_SD = 0.03  # of the laboratory's methylene-blue scale over active clay
LASTING = ("loss_on_ignition", "afs_clay")  # tests that always show the same beside their components
DOUBTFUL_FACTOR = 4.0  # variance of a result that somebody doubts: it counts for a quarter
BOND_EXTRA = 1.3  # strength has more on its mind than clay and compactability


@dataclass(frozen=True, slots=True)
class View:
    """One result: value, variance of its noise, and how prepared sand shows in it.

    result: as the laboratory reported it; `value` is what it says of the sand
    weights: by component, shape (4,); `bond` True when the view is the working bond over exp(state)
    lasting: place in LASTING of what each such test shows beside its components, -1 for nothing
    """

    taken_us: int
    property: str
    value: float
    result: float
    variance: float
    weights: Floats
    bond: bool = False
    lasting: int = -1

    def expected(self, prepared: Floats, bond: float) -> tuple[float, Floats, float]:
        """Expected value and its derivatives by prepared sand and by the bond state."""
        value = float(self.weights @ prepared)
        if not self.bond:
            return value, self.weights, 0.0
        ratio = exp(bond)
        return ratio * value, ratio * self.weights, ratio * value


def shown_by(bound_water: float) -> dict[str, Floats]:
    """Test -> its weights by component, shape (4,); `bound_water` is a share of the clay."""
    return {
        "loss_on_ignition": np.array([bound_water, 1.0, 1.0, 0.0]),
        "afs_clay": np.array([1.0, WASHED_CARBON, WASHED_CARBON, 1.0]),
    } | {name: np.eye(len(COMPONENTS))[place] for place, name in enumerate(COMPONENTS)}


def views(results: Sequence[tuple[int, str, float, int, bool]], plant: PlantModel) -> Iterator[View]:
    """The views that the results of one batch's sand give, in the order of the results."""
    loose = {(taken, name): value for taken, name, value, _, _ in results}
    linear = shown_by(plant.loop.bound_water)
    for taken, name, value, _, doubtful in results:
        lab = plant.lab(name)
        if lab is None:
            continue
        factor = DOUBTFUL_FACTOR if doubtful else 1.0
        if name in linear:
            lasting = LASTING.index(name) if name in LASTING else -1
            yield View(taken, name, value, value, factor * lab.sd**2, linear[name], lasting=lasting)
        elif name == "green_compression_strength":
            yield _bond(plant, taken, value, loose.get((taken, "compactability")), factor)


def _bond(
    plant: PlantModel, taken: int, strength: float, compactability: float | None, factor: float
) -> View:
    """Working bond 15.29 GCS / (132.1 - CB), GCS in psi (ICRI report 610), as a view of active clay."""
    compact, lab = plant.lab("compactability"), plant.lab("green_compression_strength")
    spread = compact.sd if compact else 1.2
    if compactability is None:
        compactability = next(t.target for t in plant.targets if t.property == "compactability")
        spread = sqrt(spread**2 + 9.0)
    room = 132.1 - compactability
    value = 15.29 * strength / KPA_PER_PSI / room
    relative = ((lab.sd if lab else 5.0) / strength) ** 2 + (spread / room) ** 2
    variance = factor * BOND_EXTRA**2 * value**2 * relative
    weights = np.array([1.0, 0.0, 0.0, 0.0])
    return View(taken, "green_compression_strength", value, strength, variance, weights, bond=True)


def lasting_sds(usual: Floats) -> Floats:
    """How far a loss on ignition and an AFS clay may lastingly lie beside what their components show.

    ``bound_sd a`` and ``sqrt((washed_sd (v + k))^2 + (scale_sd a)^2)``: a plant's share of bound water, of
    combustibles washed out and its laboratory's scale stay what they are, however many tests are made.

    usual: usual prepared sand, active clay a, volatiles v, fixed carbon k, inert fines [% of dry]
    returns: prior standard deviations in the order of LASTING [%]

    Shapes: usual (4,), returned (2,).
    Validity: bound water 0.045 to 0.065 of the clay, 0.3 to 0.7 of the combustibles washed out.
    Errors: none.
    Example:
    >>> lasting_sds(np.array([8.0, 1.4, 3.6, 7.0])).round(3).tolist()
    [0.048, 0.646]

    Source: common_practice, ranges of both shares.
    """
    clay, carbon = float(usual[0]), float(usual[1] + usual[2])
    return np.array([BOUND_SD * clay, sqrt((WASHED_SD * carbon) ** 2 + (SCALE_SD * clay) ** 2)])
