"""What the manager asks of the whole shop."""
