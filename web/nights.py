"""What a server does by itself: the backup of the night and the daily mail, each in a process of its own, so that no
phone waits for it."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path

from tickets import store
from tickets.actions import mail, nightly

BY_ITSELF = {"nightly": nightly.due, "mail": mail.due}
"""The commands that are given by themselves, and when."""
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
    """Looks every minute whether a backup or a mail is due, and has it made."""

    def __init__(self, folder: Path, every: float = EVERY) -> None:
        super().__init__(name="nights", daemon=True)
        self._folder = folder
        self._every = every
        self._over = threading.Event()
        self._at_work: subprocess.Popen[bytes] | None = None

    def run(self) -> None:
        """Until `end`; what goes wrong is noted by the one that makes the backup, and tried again."""
        while not self._over.wait(self._every):
            for name in BY_ITSELF:  # one that fails keeps no other from its work
                with contextlib.suppress(Exception):
                    self._look(name)

    def _look(self, name: str) -> None:
        db = store.look(self._folder)
        try:
            wanted = BY_ITSELF[name](db, datetime.now(UTC))
        finally:
            db.close()
        if wanted and not self._over.is_set():
            command = [sys.executable, "-c", NICE, name, "--when-due", "--data", str(self._folder)]
            nowhere = subprocess.DEVNULL
            self._at_work = subprocess.Popen(command, stdin=nowhere, stdout=nowhere, stderr=nowhere)
            self._at_work.wait()

    def end(self) -> None:
        """Ends it, and what is being made: of a backup nothing stays, and it is made at the next start; a mail that was
        not handed over yet is tried again."""
        self._over.set()
        if self._at_work is not None and self._at_work.poll() is None:
            self._at_work.kill()
        self.join(5)
