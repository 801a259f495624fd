"""Writes: who meets whom."""
