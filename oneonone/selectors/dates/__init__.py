"""Reads: the calendar of a line: coming meetings, proposed times, where a meeting can move."""
