"""Reads busy times from people's own iCalendar files."""
