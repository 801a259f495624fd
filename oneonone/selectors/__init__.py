"""Reads. The reader is a required argument; answers are querysets or frozen dataclasses."""
