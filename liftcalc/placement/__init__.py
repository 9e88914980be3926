"""Where to stand."""
