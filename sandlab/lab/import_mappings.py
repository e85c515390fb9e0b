"""The mapping for a file: the one named, a kept one with the same heads, or a proposed one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from sandlab.errors import ImportRefused, Problem
from sandlab.exchange import Mapping, load_mapping, read_grid
from sandlab.exchange.proposing import Proposal, fitting_mapping, mapping_text, propose_mapping
from sandlab.lab.opening import Lab

FOLDER = "mappings"


@dataclass(frozen=True, slots=True)
class Chosen:
    """A mapping, where it is kept, and the reasons for it when it has just been proposed."""

    path: Path
    mapping: Mapping
    proposal: Proposal | None = None


def choose_mapping(lab: Lab, path: Path, given: Path | None) -> Chosen:
    """The mapping to read a file by; raises ImportRefused, also when a kept mapping cannot be read."""
    if given is not None:
        return Chosen(given, load_mapping(given, lab.specs))
    sheets = read_grid(path, None)
    kept = {one.name: load_mapping(one, lab.specs) for one in kept_mappings(lab)}
    # The mapping named like the file is looked at first.
    order = sorted(kept, key=lambda name: (name != f"{_stem(path)}.toml", name))
    found = fitting_mapping(path.name, sheets, {name: kept[name] for name in order}, lab.specs)
    if found is not None:
        name, mapping = found
        return Chosen(lab.folder / FOLDER / name, mapping)
    first = next(iter(lab.sand.schedule.values()), None)
    point = first.point if first else next(iter(lab.sand.points))
    proposal = propose_mapping(path.name, sheets, lab.specs, lab.system, point)
    return Chosen(_keep(lab, path, proposal), proposal.mapping, proposal)


def kept_mappings(lab: Lab) -> list[Path]:
    """The mapping files of the plant, by name."""
    return sorted((lab.folder / FOLDER).glob("*.toml"))


def _keep(lab: Lab, path: Path, proposal: Proposal) -> Path:
    """Write a proposal beside the others, never over one that a person may have corrected."""
    folder = lab.folder / FOLDER
    try:
        folder.mkdir(parents=True, exist_ok=True)
        taken = {one.name for one in folder.iterdir()}
        names = (f"{_stem(path)}{f'_{number}' if number > 1 else ''}.toml" for number in range(1, 1000))
        kept = folder / next(name for name in names if name not in taken)
        kept.write_text(mapping_text(proposal), encoding="utf-8")
    except OSError as error:
        what = f"the proposed mapping cannot be written: {error.strerror}"
        raise ImportRefused(Problem(str(folder), what, "check the rights of the folder")) from error
    return kept


def _stem(path: Path) -> str:
    return re.sub(r"[^\w-]+", "_", path.stem).strip("_").casefold() or "mapping"
