"""Pages: topics and their order."""
