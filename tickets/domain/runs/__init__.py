"""Runs: a print set up, measured, approved, counted, and compared with another."""
