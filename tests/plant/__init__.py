"""Checks of the simulated foundry."""
