"""Writes: erasing, renewal of keys, clocks, retention."""
