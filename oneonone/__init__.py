"""The agenda server: project package and domain app."""
