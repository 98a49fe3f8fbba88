"""What a server does by itself at night: the backup, in a process of its own, so that no phone waits for it."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path

from tickets import store
from tickets.actions import nightly

EVERY = 60.0
"""Seconds between two looks at the clock."""
NICE = (
    "import os, sys\n"
    "getattr(os, 'nice', int)(19)\n"  # phones come first, and have the machine whenever they want it
    "from tickets.cli import main\n"
    "sys.argv = ['tickets', *sys.argv[1:]]\n"
    "main()"
)


class Nights(threading.Thread):
    """Looks every minute whether a backup is due, and has it made."""

    def __init__(self, folder: Path, every: float = EVERY) -> None:
        super().__init__(name="nights", daemon=True)
        self._folder = folder
        self._every = every
        self._over = threading.Event()
        self._at_work: subprocess.Popen[bytes] | None = None

    def run(self) -> None:
        """Until `end`; what goes wrong is noted by the one that makes the backup, and tried again."""
        while not self._over.wait(self._every):
            with contextlib.suppress(Exception):
                self._look()

    def _look(self) -> None:
        db = store.look(self._folder)
        try:
            wanted = nightly.due(db, datetime.now(UTC))
        finally:
            db.close()
        if wanted:
            command = [sys.executable, "-c", NICE, "nightly", "--when-due", "--data", str(self._folder)]
            nowhere = subprocess.DEVNULL
            self._at_work = subprocess.Popen(command, stdin=nowhere, stdout=nowhere, stderr=nowhere)
            self._at_work.wait()

    def end(self) -> None:
        """Ends it, and a backup that is being made: nothing of it stays, and it is made at the next start."""
        self._over.set()
        if self._at_work is not None and self._at_work.poll() is None:
            self._at_work.kill()
        self.join(5)
