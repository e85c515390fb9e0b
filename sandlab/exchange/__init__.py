"""Files in: a workbook or text table with a mapping becomes records and a report; nothing is saved here."""

from sandlab.exchange.gather import NAMESPACE
from sandlab.exchange.grid import Sheet, read_grid
from sandlab.exchange.mapping import Mapping
from sandlab.exchange.mapping_file import load_mapping
from sandlab.exchange.notes import Counts, ImportPlan, RowNote
from sandlab.exchange.plan import plan_import
from sandlab.exchange.report import report_lines

__all__ = [
    "NAMESPACE",
    "Counts",
    "ImportPlan",
    "Mapping",
    "RowNote",
    "Sheet",
    "load_mapping",
    "plan_import",
    "read_grid",
    "report_lines",
]
