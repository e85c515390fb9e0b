"""Checks of the control charts."""
