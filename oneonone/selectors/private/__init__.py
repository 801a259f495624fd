"""Reads: margin, logbook, preparation, keys."""
