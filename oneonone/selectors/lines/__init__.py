"""Reads: who meets whom."""
