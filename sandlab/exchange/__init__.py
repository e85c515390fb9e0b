"""Files in: a workbook or text table with a mapping becomes records and a report; nothing is saved here."""

from sandlab.exchange.books import content_of, key_of
from sandlab.exchange.gather import NAMESPACE, sample_id
from sandlab.exchange.grid import Sheet, read_grid
from sandlab.exchange.mapping import Mapping
from sandlab.exchange.mapping_file import load_mapping
from sandlab.exchange.notes import BookRecord, Counts, ImportPlan, RowNote, Tell, quiet
from sandlab.exchange.plan import plan_import
from sandlab.exchange.report import report_lines

__all__ = [
    "NAMESPACE",
    "BookRecord",
    "Counts",
    "ImportPlan",
    "Mapping",
    "RowNote",
    "Sheet",
    "Tell",
    "content_of",
    "key_of",
    "load_mapping",
    "plan_import",
    "quiet",
    "read_grid",
    "report_lines",
    "sample_id",
]
