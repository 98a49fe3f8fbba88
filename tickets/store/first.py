"""How far a new shop has come: what is there of what its first days need, each asked of an index."""

from __future__ import annotations

from sqlite_utils import Database

THERE = {
    "people": "SELECT 1 FROM people WHERE left_at IS NULL AND secret IS NOT NULL AND role <> 'manager'",
    "presses": "SELECT 1 FROM places WHERE kind = 'press' AND retired_at IS NULL",
    "racks": "SELECT 1 FROM places WHERE kind <> 'press' AND retired_at IS NULL",
    "frames": "SELECT 1 FROM screens",
    "tags": "SELECT 1 FROM printed WHERE kind = 'screen'",
    "job": "SELECT 1 FROM jobs",
    "scan": "SELECT 1 FROM entries WHERE screen IS NOT NULL AND signed <> 'command line' "
    "AND step NOT IN ('stretch', 'found', 'tension', 'rack', 'note')",
}
"""By what is asked for: the question that has an answer once it is there. That a tag was scanned leaves no trace; that
a step was logged at a screen does."""


def there(db: Database) -> frozenset[str]:
    """Which of them are there."""
    asked = ", ".join(f"EXISTS ({sql})" for sql in THERE.values())
    row = db.execute(f"SELECT {asked}").fetchone()
    return frozenset(name for name, found in zip(THERE, row, strict=True) if found)
