"""Checks of files in: grids, mappings, moments, plans and reports."""
