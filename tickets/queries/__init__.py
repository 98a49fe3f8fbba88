"""What pages, papers, files and commands show, gathered; nothing here writes."""
