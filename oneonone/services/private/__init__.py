"""Writes: margin, logbook, preparation, keys."""
