"""Writes. Each service takes rows already fetched through ``access``, plus ``actor`` and ``now``."""
