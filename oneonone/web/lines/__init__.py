"""Pages: who meets whom."""
