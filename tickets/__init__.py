"""Job tickets, screen logs and press checks for a screen-printing shop."""

__version__ = "0.1.0"
