"""A real IPP printer on this machine: `ippeveprinter` of the CUPS project, which keeps what it was sent."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from tickets.domain.printer import Target
from tickets.queries import ipp
from tickets.queries.ipp import PrinterFault

PROGRAM = shutil.which("ippeveprinter", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
BUS = shutil.which("dbus-daemon")
"""ippeveprinter asks for a message bus before it begins, and gets one of its own here."""
needs_printer = pytest.mark.skipif(
    not (PROGRAM and BUS), reason="no ippeveprinter here: apt-get install cups-ipp-utils dbus-daemon"
)

LABELS = """ATTR keyword media-supported "oe_rolls_100x50mm","iso_a4_210x297mm","na_letter_8.5x11in"
ATTR keyword sides-supported "one-sided","two-sided-long-edge"
ATTR mimeMediaType document-format-default "application/pdf"
ATTR mimeMediaType document-format-supported "application/pdf"
ATTR keyword print-scaling-supported "auto","none"
"""
"""What a printer of labels says of itself, as far as it is asked."""


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class IppPrinter:
    """A printer that is running: where it listens, what it keeps."""

    def __init__(self, port: int, spool: Path, lines: Path) -> None:
        self.target = Target("127.0.0.1", port, "/ipp/print")
        self.spool, self._lines = spool, lines

    @property
    def uri(self) -> str:
        return self.target.uri

    def received(self, number: int, seconds: float = 20) -> list[bytes]:
        """The first so many PDFs that it was sent, in their order; fewer, where no more came in so many seconds."""
        until = time.monotonic() + seconds
        while len(found := self._files()) < number and time.monotonic() < until:
            time.sleep(0.1)
        return [path.read_bytes() for path in found]

    def _files(self) -> list[Path]:
        return sorted(self.spool.glob("*.pdf"), key=lambda path: int(path.name.partition("-")[0]))

    def sent_along(self, name: str) -> list[str]:
        """What came with the jobs under the name of an attribute, as the printer's own lines say it."""
        lines = self._lines.read_text("utf-8", "replace").splitlines()
        return [line.split(") ", 1)[1].strip() for line in lines if line.strip().startswith(f"{name} (")]


@contextmanager
def ipp_printer(folder: Path, about: str = LABELS, command: str = "") -> Iterator[IppPrinter]:
    """A printer on a free port, with attributes of its own and a command that prints (a shell script's text)."""
    folder.mkdir(parents=True)
    spool, conf, lines, port = folder / "spool", folder / "about.conf", folder / "lines", _free_port()
    spool.mkdir()
    conf.write_text(about, "ascii")
    bus = subprocess.Popen([str(BUS), "--session", "--nofork", "--print-address"], stdout=-1, stderr=-3, text=True)
    assert bus.stdout is not None
    own = {**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": bus.stdout.readline().strip()}
    script = folder / "print.sh"
    script.write_text(command or "#!/bin/sh\nexit 0\n", "ascii")
    script.chmod(0o755)
    # a name that leads to 127.0.0.1 and ::1: it listens on both or not at all
    options = ["-r", "off", "-n", "localhost", "-p", str(port), "-d", str(spool), "-k"]
    more = ["-a", str(conf), "-c", str(script), "-vv", "Tried"]
    with lines.open("wb") as out:
        server = subprocess.Popen([str(PROGRAM), *options, *more], env=own, stdout=out, stderr=out)
    try:
        found = IppPrinter(port, spool, lines)
        _answers(found, server)
        yield found
    finally:
        for one in (server, bus):
            one.kill()
            one.wait()
        bus.stdout.close()


def _answers(printer: IppPrinter, server: subprocess.Popen[bytes]) -> None:
    for _try in range(100):
        assert server.poll() is None, printer._lines.read_text("utf-8", "replace")
        with suppress(PrinterFault):
            ipp.printer(printer.target)
            return
        time.sleep(0.1)
    sys.exit("the printer did not come up")
