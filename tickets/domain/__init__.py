"""Frozen values and the rules between them: no database, no pages; the clock and the person are arguments."""
