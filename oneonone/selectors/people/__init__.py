"""Reads: people, the organisation, administration, contacts, settings."""
