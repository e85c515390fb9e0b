"""Checks of pictures, cells, marks and digits."""
