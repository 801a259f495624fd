"""Topics and their order: what is written."""
