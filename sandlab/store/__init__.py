"""Rows and transactions: everything recorded, written down for good."""

from sandlab.store.opening import open_store
from sandlab.store.store import Store
from sandlab.store.tables import KINDS

__all__ = ["KINDS", "Store", "open_store"]
