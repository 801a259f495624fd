"""Pages: pages that only the demo has."""
