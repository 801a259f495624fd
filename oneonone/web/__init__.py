"""The HTML face: pages over the services and selectors."""
