"""Kept mappings: which of them fits a file with the same heads, also when its sheets have other names."""

from __future__ import annotations

from collections.abc import Mapping as Table
from collections.abc import Sequence

from sandlab.errors import ImportRefused
from sandlab.exchange.grid import Sheet
from sandlab.exchange.layout import lay_out
from sandlab.exchange.mapping import Mapping, Place, SheetMap
from sandlab.exchange.targets import targets
from sandlab.specs import Specs


def fitting_mapping(
    file: str, sheets: Sequence[Sheet], kept: Table[str, Mapping], specs: Specs
) -> tuple[str, Mapping] | None:
    """The first kept mapping whose every sheet is found in the file with the same heads.

    A sheet of another name (next month's) is taken where its heads fit, in the place of a missing one or
    beside those that are there.
    """
    for name, mapping in kept.items():
        fitted = _fitted(file, sheets, mapping, specs)
        if fitted is not None:
            return name, fitted
    return None


def _fitted(file: str, sheets: Sequence[Sheet], mapping: Mapping, specs: Specs) -> Mapping | None:
    wanted = {sheet_map.name for sheet_map in mapping.sheets.values()}
    free = [sheet for sheet in sheets if sheet.name not in wanted]
    found: dict[str, SheetMap] = {}
    for key, sheet_map in mapping.sheets.items():
        named = [sheet for sheet in sheets if sheet_map.name in (None, sheet.name)]
        fit = next((sheet for sheet in named or free if _fits(file, sheet, sheet_map, mapping, specs)), None)
        if fit is None:
            return None
        if sheet_map.name is None:
            found[key] = sheet_map
            continue
        found[key] = sheet_map.model_copy(update={"name": fit.name})
        free = [sheet for sheet in free if sheet is not fit]
    # A book that has grown by a month: its new sheets are laid out as one of the old ones.
    for sheet in free if None not in wanted else ():
        for key, sheet_map in mapping.sheets.items():
            if _fits(file, sheet, sheet_map, mapping, specs):
                found[f"{key}: {sheet.name}"] = sheet_map.model_copy(update={"name": sheet.name})
                break
    return mapping.model_copy(update={"sheets": found})


def _fits(file: str, sheet: Sheet, sheet_map: SheetMap, mapping: Mapping, specs: Specs) -> bool:
    """Whether every head of the map stands in the sheet; a map by letters alone proves nothing."""
    blocks = sheet_map.blocks.values()
    places: list[Place] = [place for block in blocks for place in block.columns.values()]
    places += [block.value for block in blocks if block.value is not None]
    if not any(place.head for place in places):
        return False
    try:
        lay_out(file, sheet, sheet_map, targets(sheet_map.kind, specs, mapping.system))
    except ImportRefused:
        return False
    return True
