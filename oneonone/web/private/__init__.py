"""Pages: margin, logbook, preparation, keys."""
