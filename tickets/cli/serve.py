"""`tickets serve` and `tickets demo`."""

from __future__ import annotations

import errno
import signal
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from tickets.cli import root
from tickets.cli.given import DEMO_FOLDER, Call, folder_of, opened
from tickets.cli.options import Whole, option
from tickets.cli.refused import Stopped
from tickets.cli.reply import command
from tickets.i18n import N_
from tickets.i18n import gettext as _

PORT = 8600

LARGEST_POST = 50_000_000
"""Bytes of a request that the server takes at all; the pages refuse far less than that, in words of their own."""


@command(
    root,
    "serve",
    N_("Serves a shop to the phones of its network; an empty folder gets a new one."),
    option("--host", help=N_("The address to listen on: 0.0.0.0 (all), behind a proxy 127.0.0.1.")),
    option("--port", default=PORT, show_default=True, type=Whole(0, 65535), help=N_("The port.")),
    option("--host-name", multiple=True, help=N_("A name that phones may call this server by; give it once for each.")),
    option("--behind-proxy", is_flag=True, help=N_("A proxy on this machine takes HTTPS and tells who asks.")),
    json=False,
)
def serve(call: Call, host: str | None, port: int, host_name: tuple[str, ...], behind_proxy: bool) -> None:
    from tickets import store
    from tickets.actions import people
    from tickets.queries import shop_rules
    from tickets.store.settings import setting
    from web.nights import Nights

    folder = folder_of(call.folder)
    host = host or ("127.0.0.1" if behind_proxy else "0.0.0.0")
    lock = store.ServeLock(folder)
    try:
        with opened(folder, call.now, make=True) as db:
            if setting(db, "demo"):
                raise Stopped(
                    [_("{folder} holds the demo. Serve it with: tickets demo --data DIR").format(folder=folder)]
                )
            store.quick_check(db)
            token = people.first_manager_token(db, call.now)
            address = str(setting(db, "address"))
            doubt = shop_rules.clock_doubt(db, call.now)
            clock = shop_rules.clock_told(db, doubt) if doubt else ""
        server = _server(folder, host, port, host_name, behind_proxy)
        base = _base(host, server.effective_port)
        click.echo(_("Serving the shop in {folder} at {address}").format(folder=folder, address=base))
        if clock:
            click.echo(clock)
            click.echo(
                _("Set it; or, where it is right, the manager says so at {address}").format(address=f"{base}/clock")
            )
        if address and address != base:
            click.echo(_("Tags and tickets lead to {address}").format(address=address))
        if not address:
            click.echo(
                _("Set the address that tags and tickets carry with: tickets address {address}").format(address=base)
            )
        if token:
            click.echo(_("Nobody manages this shop yet. Make the manager here, once, within a day:"))
            click.echo(f"  {base}/first-manager/{token}")
        nights = Nights(folder)
        nights.start()
        try:
            _run(server)
        finally:
            nights.end()
    finally:
        lock.release()


FORWARDED = {"x-forwarded-for", "x-forwarded-host", "x-forwarded-proto"}
"""What is believed of a proxy on this machine: who asks, for which name, and that it was asked by HTTPS."""


def _server(folder: Path, host: str, port: int, names: Sequence[str] = (), behind_proxy: bool = False) -> Any:
    """A waitress server of the shop, bound to its port and not yet running. `names`: it answers by them too."""
    import socket
    import sqlite3

    from waitress.server import create_server

    from tickets.domain.refusal import NotNow
    from web import connections, create_app

    app = create_app(folder, host_names=names)
    proxy: dict[str, Any] = {"trusted_proxy": "127.0.0.1", "trusted_proxy_headers": FORWARDED} if behind_proxy else {}
    try:
        server: Any = create_server(
            app,
            host=host,
            port=port,
            **connections.LIMITS,
            ident="",
            clear_untrusted_proxy_headers=True,
            **proxy,
            max_request_body_size=LARGEST_POST,
        )
    except socket.gaierror as error:
        raise NotNow(
            _("{host} is not an address of this machine ({error}).").format(host=host, error=error.strerror)
        ) from None
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise NotNow(_("Port {port} is in use: choose another one with --port.").format(port=port)) from None
        if error.errno in {errno.EACCES, errno.EPERM}:
            raise NotNow(
                _("Port {port} is not allowed here: choose one above 1023 with --port.").format(port=port)
            ) from None
        raise NotNow(
            _("{host}:{port} cannot be listened on: {error}.").format(host=host, port=port, error=error.strerror)
        ) from None
    if not hasattr(server, "effective_port"):  # a name with several addresses has several sockets
        server.effective_port = server.effective_listen[0][1]
    connections.watch(server)
    app.logger.info("serving at %s, SQLite %s", _base(host, server.effective_port), sqlite3.sqlite_version)
    return server


def _base(host: str, port: int) -> str:
    """The address that a phone types for a server listening there."""
    if host in {"0.0.0.0", "::", "*", ""}:
        from tickets.queries.addresses import lan_address

        host = lan_address() or "127.0.0.1"
    return f"http://{f'[{host}]' if ':' in host else host}" + ("" if port == 80 else f":{port}")


def _run(server: Any) -> None:
    """Serves until somebody ends it."""

    def end(_signal: int, _frame: Any) -> None:
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, end)
    sys.stdout.flush()
    try:
        server.run()
    finally:
        server.close()


@command(
    root,
    "demo",
    N_("Serves an invented shop with history, rebuilt with dates from today; on this machine alone, unless --lan."),
    option("--port", default=PORT, show_default=True, type=Whole(0, 65535), help=N_("The port.")),
    option("--lan", is_flag=True, help=N_("Serve on the network, for trying it with phones. Its PINs are public.")),
    option("--keep", is_flag=True, help=N_("Keep what was done in the demo, instead of building it again.")),
    json=False,
)
def demo(call: Call, port: int, lan: bool, keep: bool) -> None:
    from tickets import demo as invented
    from tickets import store
    from tickets.actions import shop
    from tickets.domain.person import role_said
    from tickets.domain.refusal import NotNow
    from tickets.queries import addresses

    folder = folder_of(call.folder, DEMO_FOLDER)
    _refuse_what_is_no_demo(folder, call.now)
    host = "127.0.0.1"
    if lan:
        host = addresses.lan_address() or ""
        if not host:
            raise NotNow(_("This machine is on no network: leave --lan away, or connect it first."))
    lock = store.ServeLock(folder)
    try:
        if not keep or not store.exists(folder):
            click.echo(_("Making an invented shop with four months of history: a few seconds."))
            _build_aside(folder, lambda aside: invented.build(aside, call.now))
        server = _server(folder, "0.0.0.0" if lan else host, port)
        base = _base(host, server.effective_port)
        with opened(folder, call.now) as db:
            shop.set_up(db, shop.command_line(db, call.now), "address", base, now=call.now)
        click.echo(_("DEMO: an invented shop, at {address}").format(address=base))
        for name, role, secret in invented.people_shown():
            click.echo(f"  {name:<16} {role_said(role):<12} {secret}")
        if lan:
            click.echo(_("Anybody on this network can sign in: these PINs are public. Enter nothing real."))
            click.echo(addresses.terminal_qr(base))
        _run(server)
    finally:
        lock.release()


_BUILDING = "building-"


def _refuse_what_is_no_demo(folder: Path, now: datetime) -> None:
    """The demo is rebuilt by throwing the old one away, so it goes nowhere near anything else."""
    from tickets import store
    from tickets.domain.refusal import NotNow
    from tickets.store.settings import setting

    message = _("{folder} is not a demo shop: give another folder with --data.").format(folder=folder)
    if store.exists(folder):
        with opened(folder, now) as db:
            if not setting(db, "demo"):
                raise NotNow(message)
    elif folder.exists() and any(not _ours(item.name) for item in folder.iterdir()):
        raise NotNow(message)


def _ours(name: str) -> bool:
    return name in {"serving.lock", "working.lock", "shop.txt", "log", "pictures"} or name.startswith(_BUILDING)


def _build_aside(folder: Path, build: Callable[[Path], None]) -> None:
    """Builds the demo beside the old one and puts it in its place when it is whole."""
    import shutil
    import tempfile

    for left in folder.glob(f"{_BUILDING}*"):
        shutil.rmtree(left, ignore_errors=True)
    with tempfile.TemporaryDirectory(prefix=_BUILDING, dir=folder) as aside:
        build(Path(aside))
        for name in ("shop.db", "shop.db-wal", "shop.db-shm"):
            (folder / name).unlink(missing_ok=True)
        for item in Path(aside).iterdir():
            if item.is_dir() and (folder / item.name).is_dir():
                shutil.copytree(item, folder / item.name, dirs_exist_ok=True)
            else:
                item.replace(folder / item.name)
