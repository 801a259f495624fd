"""Pages: what a lead sees, finding times, load, absence."""
