"""The screens that are loaded while the first one is looked at."""

from __future__ import annotations


def load_others(_lab: object) -> bool:
    """Import the other screens in the lab's thread, so that opening them does not wait."""
    from importlib import import_module

    from sandlab.screens.desk import unswept

    names = (
        "saved",
        "balance_screen",
        "charts_screen",
        "chart_screen",
        "figures",
        "muller_screen",
        "sheet",
        "advice",
        "readings",
    )
    with unswept():
        for name in names:
            import_module(f"sandlab.screens.{name}")
    return True
