"""sandlab keeps a foundry's moulding sand right: tests, charts, balance, additions."""

__version__ = "0.1.0"
