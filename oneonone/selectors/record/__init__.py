"""Reads: what was said and decided, closing, additions."""
