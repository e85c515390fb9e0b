"""The screens that are loaded while the first one is looked at."""

from __future__ import annotations


def load_others(_lab: object) -> bool:
    """Import the other screens in the lab's thread, so that opening them does not wait."""
    from importlib import import_module

    for name in (
        "saved",
        "balance_screen",
        "charts_screen",
        "chart_screen",
        "figures",
        "muller_screen",
        "sheet",
        "advice",
        "readings",
    ):
        import_module(f"sandlab.screens.{name}")
    return True
