"""Rows and transactions: everything recorded, written down for good."""

from sandlab.store.opening import open_store
from sandlab.store.store import Store

__all__ = ["Store", "open_store"]
