"""What goes into a batch: moisture, assay, temperature and price of one material."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sandlab.balance.composition import COMPONENTS, Floats, composition_problems, vector
from sandlab.errors import Problem, impossible, nearest

KINDS = ("clay", "carbon", "premix", "new_sand", "dust", "water")

# A clay assay is on the scale of the calibration bentonite and may pass 100 %, never by more than this.
ASSAY_CEILING = 150.0

_MUST_CARRY = {"clay": ("active_clay",), "carbon": ("volatiles", "fixed_carbon"), "premix": COMPONENTS[:3]}


@dataclass(frozen=True, slots=True)
class Material:
    """One material as delivered.

    id: name in the specs
    kind: one of KINDS
    moisture: water of the material as weighed [% of moist]; 100 for water itself
    assay: component -> content [% of dry]; active clay on the scale of the lab's calibration
    temperature: as fed to the muller [C]
    cost_per_t: price, only to choose between near-equal answers [money/t]
    """

    id: str
    kind: str
    moisture: float
    assay: Mapping[str, float] = field(default_factory=dict)
    temperature: float = 20.0
    cost_per_t: float = 0.0

    @property
    def dry_share(self) -> float:
        """Dry mass of one kg as weighed."""
        return 1.0 - self.moisture / 100.0

    @property
    def assay_vector(self) -> Floats:
        """The assay in the order of COMPONENTS, % of dry."""
        return vector(self.assay)


def material_problems(material: Material) -> list[Problem]:
    """Everything that makes a material unusable in a balance."""
    where = f"material {material.id}"
    problems = composition_problems(f"{where}, assay", material.assay, ceiling=ASSAY_CEILING)
    if material.kind not in KINDS:
        problems.append(Problem(where, f"'{material.kind}' is not a kind", nearest(material.kind, KINDS)))
    wet = material.kind == "water"
    if not 0.0 <= material.moisture <= 100.0 or (material.moisture == 100.0) != wet:
        problems.append(
            Problem(
                f"{where}, moisture",
                f"{material.moisture} % is not possible for {material.kind}",
                "give 100 % for water and 0 to below 100 % for anything else",
            )
        )
    carried = _MUST_CARRY.get(material.kind, ())
    if carried and not any(material.assay.get(name, 0.0) > 0.0 for name in carried):
        problems.append(
            Problem(
                f"{where}, assay",
                f"a {material.kind} with no {' or '.join(carried)} cannot correct anything",
                "enter the assay of its certificate",
            )
        )
    if not -40.0 <= material.temperature <= 400.0:
        problems.append(
            Problem(f"{where}, temperature", f"{material.temperature} C is not possible", "give -40 to 400 C")
        )
    if not material.cost_per_t >= 0.0:
        problems.append(Problem(f"{where}, cost_per_t", "the price is below 0", "give 0 or more"))
    return problems


def clay_assay(calibration_moisture: float, methylene_blue: float = 1.0, calibration: float = 1.0) -> float:
    """Assay of a dry kg of bentonite on the scale of the lab's own calibration.

    ``100 (methylene_blue / calibration) / (1 - calibration_moisture/100)``

    calibration_moisture: moisture of the calibration bentonite as it was weighed, 0 if dried [%]
    methylene_blue: methylene-blue value of this lot, dry [mg/g]
    calibration: methylene-blue value of the calibration bentonite, dry [mg/g]
    returns: assay, above 100 for the calibration bentonite itself if it was weighed moist [%]

    Shapes: scalars.
    Validity: both values by the same method.
    Errors: InputError when the moisture is not below 100 % or a value is impossible.
    Example:
    >>> round(clay_assay(10.0), 1)
    111.1

    Source: mb_instruction, calibration mix; derived.
    """
    if not (0.0 <= calibration_moisture < 100.0 and methylene_blue >= 0.0 and calibration > 0.0):
        raise impossible(
            "clay assay",
            f"moisture {calibration_moisture} %, values {methylene_blue} and {calibration} mg/g",
            "give a moisture below 100 % and methylene-blue values above 0",
        )
    return 100.0 * (methylene_blue / calibration) / (1.0 - calibration_moisture / 100.0)
