"""Lists that a shop has already, as files of any spreadsheet: their cells, and which column is which."""
