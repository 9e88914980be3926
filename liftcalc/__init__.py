"""Calculations for mobile-crane lifts on unequal outrigger bases.

A planning aid: the manufacturer's rated capacity chart and the rated capacity limiter govern,
and a competent person decides.
"""

__version__ = "0.2.0"
