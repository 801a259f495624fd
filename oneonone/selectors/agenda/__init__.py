"""Topics, their order, and the page of an agenda: what is read."""
