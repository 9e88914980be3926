"""Sheets executed, re-checked and made in batches."""
