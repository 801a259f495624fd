"""Reads: intervals, coming dates, moving, calling off, starting, under way."""
