"""Pure functions on quantities: no database, no pages, no clock; limits come in as arguments."""
