"""What paper says, before it is drawn."""
