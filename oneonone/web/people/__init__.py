"""Pages: people, the organisation, administration, contacts, settings."""
