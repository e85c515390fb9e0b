"""Files out: exports and reading them back, evidence packs, reports as pages."""

from sandlab.reporting.columns import Exported, described
from sandlab.reporting.places import fresh_file, fresh_folder
from sandlab.reporting.tables import write_folder

__all__ = ["Exported", "described", "fresh_file", "fresh_folder", "write_folder"]
