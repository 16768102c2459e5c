"""Measurements: `make bench` runs them and prints ratios against the plain way."""
