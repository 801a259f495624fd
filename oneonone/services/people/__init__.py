"""Writes: people, the organisation, administration, contacts, settings."""
