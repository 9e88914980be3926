"""Dynamic effects of hoisting and slewing, and the gross load."""
