"""The machine by itself: outriggers, masses, boom, stability, charts and rated capacity."""
