"""Rows and transactions: everything recorded, written down for good."""

from sandlab.store.opening import open_store
from sandlab.store.schema import KINDS
from sandlab.store.store import Store

__all__ = ["KINDS", "Store", "open_store"]
