"""Shared test settings."""
