"""Pages: what was taken on, its dates, carrying, handing over."""
