"""Errors, units, check rows and where the data lie: what every other room rests on."""
