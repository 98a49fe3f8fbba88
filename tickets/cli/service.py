"""`tickets service`: what starts the server with the machine, and again when it dies."""

from __future__ import annotations

import html
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import click

from tickets.cli import root
from tickets.cli.given import Call, folder_of
from tickets.cli.options import Whole, option
from tickets.cli.reply import Reply, command
from tickets.cli.serve import PORT
from tickets.i18n import N_
from tickets.i18n import gettext as _

NAME = "shop-tickets"
"""What the unit, or the task, is called."""
AGAIN_S = 5
"""Seconds until it is started again (judgement: a port that was just left is free by then)."""
SYSTEM_UNITS = Path("/etc/systemd/system")


@command(
    root,
    "service",
    N_("Prints what starts the server with the machine; with --install sets it up (systemd, or a Windows task)."),
    option("--install", is_flag=True, help=N_("Set it up and start it: for the whole machine as root, else for you.")),
    option(
        "--for",
        "system",
        type=click.Choice(["systemd", "windows"]),
        default="windows" if sys.platform == "win32" else "systemd",
        show_default=True,
        help=N_("For which system."),
    ),
    option("--port", default=PORT, show_default=True, type=Whole(1, 65535), help=N_("The port.")),
    option("--host-name", multiple=True, help=N_("A name that phones may call this server by; give it once for each.")),
    option("--behind-proxy", is_flag=True, help=N_("A proxy on this machine takes HTTPS and tells who asks.")),
    json=False,
)
def service(call: Call, install: bool, system: str, port: int, host_name: tuple[str, ...], behind_proxy: bool) -> Reply:
    from tickets.domain.refusal import NotNow

    folder = folder_of(call.folder).absolute()
    started = [sys.executable, "-m", "tickets.cli", "serve", "--data", str(folder), "--port", str(port)]
    started += [part for name in host_name for part in ("--host-name", name)]
    started += ["--behind-proxy"] if behind_proxy else []
    if any("\n" in part or "\r" in part for part in started):
        raise NotNow(_("A name with a line break in it cannot be started by a service."))
    if system == "windows":
        text = task(started)
        return Reply(lines=_scheduled(text, folder)) if install else Reply(lines=text.splitlines())
    alone = hasattr(os, "geteuid") and os.geteuid() == 0
    text = unit(started, _owner(folder) if alone else "")
    return Reply(lines=_set_up(text, alone)) if install else Reply(lines=text.splitlines())


def _owner(folder: Path) -> str:
    """Whose folder it is: the server runs as them, never with more rights than its records need."""
    there = next(one for one in (folder, *folder.parents) if one.exists())
    try:
        owner = there.owner()
    except (KeyError, NotImplementedError):
        owner = ""
    return os.environ.get("SUDO_USER", "root") if owner in ("", "root") else owner


# systemd (systemd.service(5), systemd.exec(5)) -----------------------------------------------------------------------


def quoted(parts: Sequence[str]) -> str:
    """A command line as a unit takes it: each part whole, whatever signs it has (systemd.syntax(7))."""
    marked = (part.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$") for part in parts)
    return " ".join(f'"{part}"' for part in marked)


def unit(started: Sequence[str], owner: str = "") -> str:
    """The unit. `owner`: whom it runs as, for the whole machine; empty: for whoever sets it up."""
    lines = [
        "[Unit]",
        "Description=Job tickets of the shop",
        "Wants=network-online.target",
        "After=network-online.target",
        "StartLimitIntervalSec=0",
        "",
        "[Service]",
        f"ExecStart={quoted(started)}",
        "Restart=always",
        f"RestartSec={AGAIN_S}",
        "UMask=0077",
        "NoNewPrivileges=yes",
        *([f"User={owner}", "PrivateTmp=yes"] if owner else []),
        "",
        "[Install]",
        f"WantedBy={'multi-user.target' if owner else 'default.target'}",
    ]
    return "\n".join(lines) + "\n"


def _set_up(text: str, alone: bool) -> list[str]:
    """Writes the unit, and has systemd start it now and with the machine."""
    from tickets.domain.refusal import NotNow

    config = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    file = (SYSTEM_UNITS if alone else config / "systemd" / "user") / f"{NAME}.service"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise NotNow(_("{out} cannot be written: {error}.").format(out=file, error=error.strerror)) from None
    mine = [] if alone else ["--user"]
    _run(["systemctl", *mine, "daemon-reload"])
    _run(["systemctl", *mine, "enable", "--now", f"{NAME}.service"])
    if not alone:
        _run(["loginctl", "enable-linger"])  # else it would end when nobody is logged in
    see = " ".join(["systemctl", *mine, "status", NAME])
    return [str(file), _("The server runs, and starts with the machine. How it is: {command}").format(command=see)]


# Windows (Task Scheduler schema 1.2) ----------------------------------------------------------------------------------


def task(started: Sequence[str]) -> str:
    """The scheduled task: at the start of the machine, again a minute after it ended, without an end."""
    program, *rest = started
    arguments = subprocess.list2cmdline(rest)
    return f"""<?xml version="1.0"?>
<Task version="1.2" xmlns="http://schemas.microsoft.com/windows/2004/02/mit/task">
  <RegistrationInfo><Description>Job tickets of the shop</Description></RegistrationInfo>
  <Triggers><BootTrigger><Enabled>true</Enabled></BootTrigger></Triggers>
  <Principals><Principal id="shop"><UserId>S-1-5-19</UserId></Principal></Principals>
  <Settings>
    <MultipleInstancesPolicy>IgnoreNew</MultipleInstancesPolicy>
    <DisallowStartIfOnBatteries>false</DisallowStartIfOnBatteries>
    <StopIfGoingOnBatteries>false</StopIfGoingOnBatteries>
    <ExecutionTimeLimit>PT0S</ExecutionTimeLimit>
    <RestartOnFailure><Interval>PT1M</Interval><Count>999</Count></RestartOnFailure>
  </Settings>
  <Actions Context="shop"><Exec>
    <Command>{html.escape(program, quote=False)}</Command>
    <Arguments>{html.escape(arguments, quote=False)}</Arguments>
  </Exec></Actions>
</Task>
"""


def _scheduled(text: str, folder: Path) -> list[str]:
    """Writes the task, and has Windows start it now and with the machine. (As the machine's local service: it must be
    let into the folder.)"""
    from tickets.domain.refusal import NotNow

    file = folder / f"{NAME}.xml"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-16")
    except OSError as error:
        raise NotNow(_("{out} cannot be written: {error}.").format(out=file, error=error.strerror)) from None
    _run(["icacls", str(folder), "/grant", "*S-1-5-19:(OI)(CI)M"])
    _run(["schtasks", "/Create", "/F", "/TN", NAME, "/XML", str(file)])
    _run(["schtasks", "/Run", "/TN", NAME])
    return [str(file), _("The server runs, and starts with the machine. How it is: {command}").format(
        command=f"schtasks /Query /TN {NAME}")]  # fmt: skip


def _run(asked: list[str]) -> None:
    """Has the system do something. Raises NotNow with what it said."""
    from tickets.domain.refusal import NotNow

    try:
        done = subprocess.run(asked, capture_output=True, text=True, check=False, timeout=60)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise NotNow(
            _("This could not be done: {command} ({error}).").format(command=" ".join(asked), error=error)
        ) from None
    if done.returncode:
        said = " ".join((done.stderr or done.stdout).split())[:200]
        raise NotNow(_("This could not be done: {command} ({error}).").format(command=" ".join(asked), error=said))
