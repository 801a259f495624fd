"""Writes of the accounts application. Keyword-only, atomic, told the time by whoever calls."""
