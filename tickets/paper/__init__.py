"""How a ticket is drawn: the only place that knows reportlab and segno. What it says comes from `domain.papers`."""
