"""Distributions, samples of a lift and what they make of its checks."""
