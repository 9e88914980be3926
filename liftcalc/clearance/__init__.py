"""Distances between bodies, overhead lines and the load path."""
