"""The command `tickets`: the shop from a terminal, and the server.

Only click and the standard library are imported here; each command imports what it uses, so that `tickets --version`
and the calculator start at once. What is refused becomes one line a fault on standard error, exit status 2, in one
place (`_Root`).
"""

from __future__ import annotations

import errno
import json
import re
import secrets
import signal
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from sqlite_utils import Database

    from tickets.calculator.verdict import Verdict
    from tickets.floor.posting import Form
    from tickets.records.entry import Entry
    from tickets.records.person import Actor
    from tickets.store.screens import Screen

PORT = 8600
SHOP_FOLDER, DEMO_FOLDER = "tickets", "tickets-demo"
LARGEST_POST = 100_000_000
"""Bytes of a request that the server takes at all; the pages refuse far less than that, in words of their own."""
_MOST = 2**31
"""The largest number that a list or a thing is asked for by."""
_ID = "abcdefghijklmnopqrstuvwxyz0123456789"

Function = TypeVar("Function", bound=Callable[..., Any])


def _(text: str) -> str:
    from tickets.words import gettext

    return gettext(text)


def ngettext(one: str, many: str, count: int) -> str:
    from tickets.words import ngettext

    return ngettext(one, many, count)


def N_(text: str) -> str:
    return text


def _now() -> datetime:
    return datetime.now(UTC)


# What goes wrong ----------------------------------------------------------------------------------------------------


class Stopped(click.ClickException):
    """What is wrong, a line a fault, on standard error; exit status 2. With --json it stands on standard output too, as
    `{"refused": [{"place", "said"}]}`, whatever was refused; `beside`: what that object says more."""

    exit_code = 2
    as_json = False

    def __init__(
        self,
        lines: Iterable[str],
        refused: Iterable[tuple[str, str]] | None = None,
        beside: Mapping[str, Any] | None = None,
    ) -> None:
        lines = [" ".join(line.split()) for line in lines]
        super().__init__("\n".join(lines))
        told = refused if refused is not None else [("", line) for line in lines]
        self.data = {**(beside or {}), "refused": [{"place": place, "said": said} for place, said in told]}

    def show(self, file: Any = None) -> None:
        """The lines alone, without a usage text around them."""
        click.echo(self.message, file=file or sys.stderr)
        if self.as_json:
            _print_json(self.data)


ANSWERS = {
    "in_hand": N_("If it is, add: --in_hand yes"),
    "head_taken": N_("If it is, add: --head_taken yes"),
    "override": N_("To go past it, add: --override REASON"),
}
"""How a verdict that needs an answer is answered, by the field that is wanted."""


def _stopped(error: Exception) -> Stopped | None:
    """How an error is said; None: it is a defect of the program, and its traceback is wanted."""
    import sqlite3

    from tickets.floor.posting import Asks, Doubt, Worse
    from tickets.records.refusal import Refused, SentBefore, Trouble
    from tickets.store.trouble import trouble_of

    beside: dict[str, Any] = dict(getattr(error, "beside", {}))
    before: list[str] = []
    if isinstance(error, Asks):
        told = [("in_hand", f"{one} " + _("If so, add: --in_hand yes")) for one in error.in_hand]
        told += [("still_needed", f"{one} " + _("To go on all the same, add: --still_needed yes"))
                 for one in error.still_needed]  # fmt: skip
    elif isinstance(error, Doubt) and not error.again and getattr(error, "opens", True):
        field = error.faults[0].where
        ways = [f"--{field} {answer} ({_(said)})" for answer, said in error.answers.items()]
        what_to_add = _("Add one of: {ways}").format(ways=", ".join(ways)) if ways else ""
        what_to_add = what_to_add or _("If so, add: --{field} yes").format(field=field)
        told = [(field, f"{error.question} {what_to_add}")]
    elif isinstance(error, Worse):
        fault = error.faults[0]
        before, beside = _verdict_lines(error.verdict), {**beside, "verdict": error.verdict.to_dict()}
        told = [(fault.where, f"{fault.message} {_(ANSWERS[fault.where]) if fault.where in ANSWERS else ''}".strip())]
    elif isinstance(error, Refused):
        told = [(fault.where, fault.message) for fault in error.faults]
        return Stopped([str(fault) for fault in error.faults], told, beside)
    elif isinstance(error, SentBefore):
        told = [("entry", f"{error.message} " + _("To log it as well, give it an --entry of its own."))]
    elif (known := error if isinstance(error, Trouble) else trouble_of(error)) is not None:
        told = [("", known.message)]
    elif isinstance(error, sqlite3.Error):
        told = [("", _("The shop file cannot be used: {error}.").format(error=error))]
    elif isinstance(error, OSError) and error.errno != errno.EPIPE:
        where = str(error.filename or "")
        told = [(where, f"{error.strerror or error}.")]
        return Stopped([f"{where}: {told[0][1]}" if where else told[0][1]], told, beside)
    else:
        return None
    return Stopped([*before, *(said for _place, said in told)], told, beside)


@contextmanager
def _beside(**told: Any) -> Iterator[None]:
    """What the JSON of a refusal says more."""
    try:
        yield
    except Exception as error:
        error.__dict__["beside"] = told
        raise


class Findings(Stopped):
    """It was done, and these are what is not sound, on standard error; exit status 1. With --json what was done stands
    on standard output, these among it."""

    exit_code = 1

    def show(self, file: Any = None) -> None:
        """The lines alone."""
        click.echo(self.message, file=file or sys.stderr)


def _not_sound(verdict: Any, lines: Sequence[str]) -> None:
    """Exit status 1 where what was asked about is refused unless somebody goes past it."""
    from tickets.records.person import to_pass

    if to_pass(verdict):
        raise Findings(list(lines))


class _Root(click.Group):
    """The command itself: loads the calculator only when it is asked for, and says what is refused."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [*self.commands, "calc"]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name == "calc":
            from tickets.calc import group

            return group
        return super().get_command(ctx, cmd_name)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        wanted = "--json" in args
        ctx.meta["tickets.json"] = wanted
        with _refusals(wanted):
            return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        with _refusals(bool(ctx.meta["tickets.json"])):
            return super().invoke(ctx)


@contextmanager
def _refusals(as_json: bool) -> Iterator[None]:
    """Whatever is refused, in the one shape of `Stopped`."""
    try:
        yield
    except click.UsageError as error:
        if type(error).__name__ == "NoArgsIsHelpError":
            raise
        path = error.ctx.command_path if error.ctx else "tickets"
        said = error.format_message()
        named = re.search(r"--[a-z][a-z_-]*", said)
        stopped = Stopped([f"{said} ({path} --help)"], [(named[0] if named else "", said)])
    except click.Abort:
        stopped = Stopped([_("Stopped; nothing was written.")])
    except Stopped as error:
        stopped = error
    except click.exceptions.Exit:
        raise
    except click.ClickException as error:
        if error.exit_code != 2:
            raise
        lines = error.format_message().splitlines()  # of the calculator: the option first
        parts = [re.fullmatch(r"(--[a-z][a-z_-]*): (.*)", line) for line in lines]
        stopped = Stopped(
            lines, [(part[1], part[2]) if part else ("", line) for part, line in zip(parts, lines, strict=True)]
        )
    except Exception as error:
        known = _stopped(error)
        if known is None:
            raise
        stopped = known
    else:
        return
    stopped.as_json = as_json and not isinstance(stopped, Findings)  # what was done was printed as JSON already
    raise stopped from None


class _Whole(click.IntRange):
    """A whole number, read as everywhere: no `1_000`, nothing that is not plain digits."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number, or click's usage error with what would do."""
        if isinstance(value, str):
            from tickets.calculator.units import NotAQuantity, whole

            try:
                value = whole(value)
            except NotAQuantity as fault:
                self.fail(str(fault), param, ctx)
        return super().convert(value, param, ctx)


class _Command(click.Command):
    """A command whose help is said in the reader's language."""

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        said, self.help = self.help, _(self.help or "")
        super().format_help_text(ctx, formatter)
        self.help = said


class _Option(click.Option):
    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        said, self.help = self.help, _(self.help or "")
        record = super().get_help_record(ctx)
        self.help = said
        return record


# What every command takes -------------------------------------------------------------------------------------------


def option(*names: str, **settings: Any) -> Callable[[Function], Function]:
    """click.option, its help said in the reader's language."""
    return click.option(*names, cls=_Option, **settings)


_DATA = option(
    "--data",
    "folder",
    metavar="DIR",
    envvar="TICKETS_DATA",
    type=click.Path(path_type=Path, file_okay=False),
    help=N_("The folder of the shop. [env: TICKETS_DATA; default: the user's data folder]"),
)
_JSON = option("--json", "as_json", is_flag=True, help=N_("Print JSON."))
_BY = option("--by", metavar="NAME", help=N_("Who does it. [default: command line]"))
_ENTRY = option("--entry", metavar="ID", help=N_("An id of your own (16 to 32 of a-z, 0-9, -): sent twice, done once."))
_AT = option("--at", metavar="TIME", help=N_("When it was done, such as 2026-03-09T14:05. [default: now]"))


def command(
    group: click.Group, name: str, about: str, *options: Callable[[Any], Any], **settings: Any
) -> Callable[[Callable[..., Any]], click.Command]:
    """A command of a group, with --data and the options given, in that order."""

    def make(function: Callable[..., Any]) -> click.Command:
        for each in reversed([*options, _DATA]):
            function = each(function)
        return group.command(name, cls=_Command, help=about, **settings)(function)

    return make


def _group(name: str, about: str) -> click.Group:
    made = click.Group(name, help=about)
    root.add_command(made)
    return made


def _version(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
    if value and not ctx.resilient_parsing:
        from tickets import __version__

        click.echo(f"tickets {__version__}")
        ctx.exit()


@click.group(cls=_Root, help=N_("Job tickets, screen logs and the right screen at the press."))
@option("--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help=N_("The version."))
def root() -> None:
    pass


def _folder(folder: Path | None, name: str = SHOP_FOLDER) -> Path:
    if folder is not None:
        return folder
    from platformdirs import user_data_path

    return user_data_path(name, appauthor=False)


@contextmanager
def _shop(folder: Path | None, *, make: bool = False) -> Iterator[Database]:
    """The shop of a folder, spoken in its language. `make`: an empty folder gets one; else it is refused."""
    from tickets import store, words
    from tickets.floor.shop import open_shop
    from tickets.store.settings import setting

    folder = _folder(folder)
    if not make and not store.exists(folder):
        raise _no_shop(folder)
    db = open_shop(folder, _now())
    try:
        words.use(setting(db, "language"))
        yield db
    finally:
        db.close()


def _no_shop(folder: Path) -> Exception:
    from tickets.records.refusal import NotNow

    return NotNow(
        _(
            "There is no shop in {folder}: name its folder with --data, or make one with: tickets serve --data {folder}"
        ).format(folder=folder)
    )


def _actor(db: Database, by: str | None) -> Actor:
    """Who acts: somebody of the shop, or the built-in person."""
    from tickets.floor import shop
    from tickets.records.person import Actor
    from tickets.records.refusal import NotFound
    from tickets.store import people

    if by is None or people.name_key(by) == people.COMMAND_LINE:
        return shop.command_line(db, _now())
    person = people.find(db, by)
    if person is None or person.left_at is not None:
        names = ", ".join(one.name for one in people.every(db)) or _("nobody yet")
        raise NotFound(_("There is no “{name}” here; there are: {names}.").format(name=by[:60], names=names), "--by")
    return Actor(person.id, person.name, person.role, "command line")


def _manager(db: Database, by: str | None, text: str) -> Actor:
    from tickets.records.refusal import NotAllowed

    actor = _actor(db, by)
    if not actor.manages:
        raise NotAllowed(text)
    return actor


def _post(entry: str | None = None) -> str:
    return entry or "".join(secrets.choice(_ID) for _unused in range(24))


def _form(**sent: Any) -> Form:
    from tickets.floor.posting import form

    return form({name: value for name, value in sent.items() if value not in (None, "", ())})


def _screen_of(db: Database, text: str) -> Screen:
    """The screen of a code or of a painted mark; a fault names the codes one slip away."""
    from tickets.floor import screens as floor
    from tickets.records.refusal import Fault, Refused
    from tickets.store import screens

    try:
        return floor.find(db, text)
    except Refused as refused:
        marked = screens.many(db, screens.by_mark(db, text))
        if len(marked) == 1:
            return marked[0]
        if marked:
            there = ", ".join(_shown(one.code) for one in marked)
            message = _("Several screens have the mark {text}: {codes}. Name one by its code.")
            raise Refused(message.format(text=text[:40], codes=there), "code") from None
        there = ", ".join(_shown(code) for code in _near(db, text, "screen"))
        if there:
            hint = _("Is it {codes}?").format(codes=there)
            refused.faults = tuple(Fault(fault.where, f"{fault.message} {hint}") for fault in refused.faults)
        raise


def _near(db: Database, text: str, kind: str) -> list[str]:
    """Issued codes one slip away from what was typed, 6 at most."""
    from tickets.records.code import fold, near
    from tickets.store import codes

    return [str(one.current) for one in codes.issued_among(db, near(fold(text))) if one.kind == kind][:6]


@contextmanager
def _as_typed(names: Mapping[str, str]) -> Iterator[None]:
    """Faults named by the options that were typed, not by the fields behind them."""
    from tickets.records.refusal import Fault, Refused

    try:
        yield
    except Refused as refused:
        refused.faults = tuple(Fault(names.get(fault.where, fault.where), fault.message) for fault in refused.faults)
        raise


def _collected(arguments: Sequence[str]) -> dict[str, list[str]]:
    """`--FIELD VALUE ...` by hand: a field may repeat, or take several values in a row; `-` in a name is `_`."""
    found: dict[str, list[str]] = {}
    name = ""
    for text in arguments:
        if text.startswith("--") and len(text) > 2:
            field, equals, value = text[2:].partition("=")
            stem, dot, rest = field.partition(".")
            setting = re.fullmatch("s[0-9]+|run", stem) is not None  # elsewhere a code may follow the dot
            name = stem.replace("-", "_") + dot + (rest.replace("-", "_") if setting else rest)
            found.setdefault(name, [])
            if equals:
                found[name].append(value)
        elif name:
            found[name].append(text)
        else:
            raise click.UsageError(_("“{text}” stands alone: values are typed as --FIELD VALUE.").format(text=text))
    for field, values in found.items():
        if not values:
            raise click.UsageError(_("--{field} needs a value.").format(field=field))
    return found


# What is printed ----------------------------------------------------------------------------------------------------


def _print_json(value: Any) -> None:
    click.echo(json.dumps(value, ensure_ascii=False, allow_nan=False, default=str))


def _table(rows: Sequence[Sequence[Any]], empty: str) -> None:
    """Columns side by side; a line saying so when there is nothing."""
    if not rows:
        click.echo(empty)
        return
    cells = [["–" if cell in (None, "") else str(cell) for cell in row] for row in rows]
    widths = [max(len(row[column]) for row in cells) for column in range(len(cells[0]))]
    for row in cells:
        click.echo("  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip())


def _verdict_lines(verdict: Verdict, system: str = "metric") -> list[str]:
    """The word first, the reason second, with its numbers, what to do last; the worst reason first."""
    from tickets.calculator.verdict import WORDS, say

    lines = []
    for reason in verdict.reasons:
        said = say(reason, system)
        text = " ".join(part for part in (f"{said.word}:", said.sentence, said.advice) if part)
        lines.append(text.replace("\N{NO-BREAK SPACE}", " "))
    return lines or [f"{_(WORDS[verdict.level])}."]


def _local(db: Database, text: str | None) -> str:
    """A time in the shop's zone."""
    from tickets.floor.posting import zone
    from tickets.records.entry import read_stamp

    return read_stamp(text).astimezone(zone(db)).strftime("%Y-%m-%d %H:%M") if text else ""


def _units(db: Database) -> str:
    from tickets.store.settings import setting

    return str(setting(db, "units"))


def _shown(code: str) -> str:
    from tickets.records.code import shown

    return shown(code)


def _log(db: Database, thing: str, number: int) -> list[dict[str, Any]]:
    """The entries of a thing as data, newest first."""
    from tickets.floor import shop
    from tickets.store import codes, people, places

    names, place_names = people.names(db), places.names(db)

    def named(values: Mapping[str, Any]) -> dict[str, Any]:
        """Things as the export names them: a bucket by its code, a place by its name."""
        said = dict(values)
        if isinstance(said.get("bucket"), int):
            said["bucket"] = codes.current(db, "bucket", said["bucket"])
        for name in ("place", "press"):
            if isinstance(said.get(name), int):
                said[name] = place_names.get(said[name])
        return said

    def one(line: Entry, crossed: Entry | None) -> dict[str, Any]:
        return {
            "entry": line.entry,
            "step": line.step,
            **({"screen": codes.current(db, "screen", line.screen)} if line.screen and thing == "run" else {}),
            "at": line.at.isoformat(),
            "saved_at": line.saved_at.isoformat(),
            "person": names.get(line.person, str(line.person)),
            "signed": line.signed,
            "run": line.run,
            "values": named(line.values),
            "typed": dict(line.typed),
            "verdict": line.verdict,
            "override": line.override,
            "crossed_out_by": crossed.entry if crossed else None,
        }

    return [one(line, crossed) for line, crossed in shop.log_of(db, thing, number)]


def _print_log(db: Database, log: Sequence[Mapping[str, Any]]) -> None:
    for line in log:
        told = line["values"] if line["step"] != "sheet" else {}  # the settings stand above, one print order a line
        values = ", ".join(f"{name} {json.dumps(value, ensure_ascii=False)}" for name, value in told.items())
        level = f"[{line['verdict']['level']}]" if line["verdict"] else ""
        crossed = _("(crossed out)") if line["crossed_out_by"] else ""
        past = line["override"] or {}
        why = _("overridden by {who}: {why}").format(**{"who": "–", **past}) if past.get("why") else ""
        code = _shown(line["screen"]) if line.get("screen") else ""
        parts = (_local(db, line["at"]), line["step"], code, level, values, line["person"], why, crossed)
        click.echo("  " + "  ".join(part for part in parts if part))


# Serving ------------------------------------------------------------------------------------------------------------


@command(
    root,
    "serve",
    N_("Serves a shop to the phones of its network; an empty folder gets a new one."),
    option("--host", default="0.0.0.0", show_default=True, help=N_("The address to listen on.")),
    option("--port", default=PORT, show_default=True, type=_Whole(0, 65535), help=N_("The port.")),
)
def serve(host: str, port: int, folder: Path | None) -> None:
    from tickets import store
    from tickets.floor import people
    from tickets.store.settings import setting
    from web.nights import Nights

    folder = _folder(folder)
    lock = store.ServeLock(folder)
    try:
        with _shop(folder, make=True) as db:
            if setting(db, "demo"):
                raise Stopped(
                    [_("{folder} holds the demo: serve it with: tickets demo --data DIR").format(folder=folder)]
                )
            store.quick_check(db)
            token = people.first_manager_token(db, _now())
            address = str(setting(db, "address"))
        server = _server(folder, host, port)
        base = _base(host, server.effective_port)
        click.echo(_("Serving the shop in {folder} at {address}").format(folder=folder, address=base))
        if address and address != base:
            click.echo(_("Its tickets lead to {address}").format(address=address))
        if not address:
            click.echo(_("Set the address that tickets carry with: tickets address {address}").format(address=base))
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


def _server(folder: Path, host: str, port: int) -> Any:
    """A waitress server of the shop, bound to its port and not yet running."""
    import socket
    import sqlite3

    from waitress.server import create_server

    from tickets.records.refusal import NotNow
    from web import create_app

    app = create_app(folder)
    try:
        server: Any = create_server(
            app,
            host=host,
            port=port,
            threads=8,
            ident="",
            clear_untrusted_proxy_headers=True,
            max_request_body_size=LARGEST_POST,
        )
    except socket.gaierror as error:
        raise NotNow(
            _("{host} is no address of this machine ({error}).").format(host=host, error=error.strerror)
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
    app.logger.info("serving at %s, SQLite %s", _base(host, server.effective_port), sqlite3.sqlite_version)
    return server


def _base(host: str, port: int) -> str:
    """The address that a phone types for a server listening there."""
    if host in {"0.0.0.0", "::", "*", ""}:
        from tickets.floor.printing import lan_address

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
    option("--port", default=PORT, show_default=True, type=_Whole(0, 65535), help=N_("The port.")),
    option("--lan", is_flag=True, help=N_("Serve on the network, for trying it with phones. Its PINs are public.")),
    option("--keep", is_flag=True, help=N_("Keep what was done in the demo, instead of building it anew.")),
)
def demo(port: int, lan: bool, keep: bool, folder: Path | None) -> None:
    from tickets import demo as invented
    from tickets import store
    from tickets.floor import printing, shop
    from tickets.records.refusal import NotNow

    folder = _folder(folder, DEMO_FOLDER)
    _refuse_what_is_no_demo(folder)
    host = "127.0.0.1"
    if lan:
        host = printing.lan_address() or ""
        if not host:
            raise NotNow(_("This machine is on no network: leave --lan away, or connect it first."))
    lock = store.ServeLock(folder)
    try:
        if not keep or not store.exists(folder):
            _build_aside(folder, invented.build)
        server = _server(folder, "0.0.0.0" if lan else host, port)
        base = _base(host, server.effective_port)
        with _shop(folder) as db:
            shop.set_up(db, shop.command_line(db, _now()), "address", base, now=_now())
        click.echo(_("DEMO: an invented shop, at {address}").format(address=base))
        for name, role, secret in invented.people_shown():
            click.echo(f"  {name:<16} {_(role):<12} {secret}")
        if lan:
            click.echo(_("Anybody on this network can sign in: these PINs are public. Enter nothing real."))
            click.echo(printing.terminal_qr(base))
        _run(server)
    finally:
        lock.release()


_BUILDING = "building-"


def _refuse_what_is_no_demo(folder: Path) -> None:
    """The demo is rebuilt by throwing the old one away, so it goes nowhere near anything else."""
    from tickets import store
    from tickets.records.refusal import NotNow
    from tickets.store.settings import setting

    message = _("{folder} is no demo shop: name another folder with --data.").format(folder=folder)
    if store.exists(folder):
        with _shop(folder) as db:
            if not setting(db, "demo"):
                raise NotNow(message)
    elif folder.exists() and any(not _ours(item.name) for item in folder.iterdir()):
        raise NotNow(message)


def _ours(name: str) -> bool:
    return name in {"serving.lock", "working.lock", "shop.txt", "log", "pictures"} or name.startswith(_BUILDING)


def _build_aside(folder: Path, build: Callable[[Path, datetime], None]) -> None:
    """Builds the demo beside the old one and puts it in its place when it is whole."""
    import shutil
    import tempfile

    for left in folder.glob(f"{_BUILDING}*"):
        shutil.rmtree(left, ignore_errors=True)
    with tempfile.TemporaryDirectory(prefix=_BUILDING, dir=folder) as aside:
        build(Path(aside), _now())
        for name in ("shop.db", "shop.db-wal", "shop.db-shm"):
            (folder / name).unlink(missing_ok=True)
        for item in Path(aside).iterdir():
            if item.is_dir() and (folder / item.name).is_dir():
                shutil.copytree(item, folder / item.name, dirs_exist_ok=True)
            else:
                item.replace(folder / item.name)


@command(root, "address", N_("Sets the address that QR codes carry, such as http://192.168.1.20:8600."), _BY, _JSON)
@click.argument("url")
def address(url: str, by: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import printing
    from tickets.store.settings import setting

    with _shop(folder, make=True) as db:
        warnings = printing.set_address(db, _actor(db, by), url, now=_now())
        kept, behind = setting(db, "address"), printing.left_behind(db)
        if as_json:
            _print_json({"address": kept, "warnings": list(warnings), "left_behind": behind})
            return
        click.echo(_("Tickets lead to {address}").format(address=kept))
        for warning in warnings:
            click.echo(warning, err=True)
        if behind:
            click.echo(_("These carry the old address; print them again:"))
            _table([[_shown(one["code"]), _(one["kind"]), one["address"]] for one in behind], "")


# Screens ------------------------------------------------------------------------------------------------------------

screen = _group("screen", N_("Screens: register, list, show, log."))

_STRETCH = {
    "mesh_count_as_labelled": "--count",
    "thread_um": "--thread",
    "mesh_colour": "--mesh-colour",
    "frame": "--frame",
    "frame_size_mm": "--frame-size",
    "mark": "--mark",
    "by": "--stretched-by",
    "opening_um": "--opening",
    "open_area_pct": "--open-area",
    "fabric_thickness_um": "--thickness",
    "ink_volume_cm3_m2": "--ink-volume",
    "in_use": "--in-use",
    "uses_before": "--uses-before",
    "number": "--number",
    "at": "--at",
    "entry": "--entry",
}
"""Fields of `stretch`, and the options of `screen add` that they are typed as."""


@command(
    screen,
    "add",
    N_("Registers screens, each with its stretch entry."),
    option("--count", required=True, help=N_("Mesh count as labelled, such as 230/in or 90/cm.")),
    option("--frame", required=True, help=N_("aluminium, wood or roller.")),
    option("--thread", help=N_("Thread, such as 48 um; left away: not known.")),
    option("--number", default=1, type=_Whole(), show_default=True, help=N_("How many.")),
    option("--mark", help=N_("The painted mark; counted up for several: A 12, A 13.")),
    option("--mesh-colour", help=N_("white or dyed.")),
    option("--frame-size", help=N_("Such as 585 x 790.")),
    option("--stretched-by", help=N_("us or supplier.")),
    option("--opening", help=N_("Maker's sheet: opening, such as 65 um.")),
    option("--open-area", help=N_("Maker's sheet: open area, such as 33 %.")),
    option("--thickness", help=N_("Maker's sheet: fabric thickness, such as 75 um.")),
    option("--ink-volume", help=N_("Maker's sheet: ink volume in cm3/m2.")),
    option("--in-use", help=N_("yes: the mesh was in use before and has settled.")),
    _AT,
    _ENTRY,
    _BY,
    _JSON,
)
def screen_add(folder: Path | None, as_json: bool, by: str | None, entry: str | None, number: int, **sent: Any) -> None:
    from tickets.floor import screens as floor

    options = {field: sent.get(name[2:].replace("-", "_")) for field, name in _STRETCH.items()}
    form = _form(**{**options, "number": None, "entry": None, "at": sent["at"]})
    with _shop(folder, make=True) as db, _as_typed(_STRETCH):
        made = floor.add(db, _actor(db, by), form, post=_post(entry), now=_now(), number=number)
        lives = [floor.find(db, code) for code in made]
        rows = [
            {
                "code": one.code,
                "shown": _shown(one.code),
                "mark": one.life.mark,
                "mesh": one.life.mesh.said if one.life.mesh else "",
            }
            for one in lives
        ]
    if as_json:
        _print_json(rows)
    else:
        _table([[row["shown"], row["mark"], row["mesh"]] for row in rows], "")


@command(
    screen,
    "import",
    N_("Brings in a list of frames from a CSV file, all or none; --dry-run only shows what would happen."),
    click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False)),
    option("--dry-run", is_flag=True, help=N_("Write nothing.")),
    _ENTRY,
    _BY,
    _JSON,
)
def screen_import(
    folder: Path | None, as_json: bool, by: str | None, entry: str | None, dry_run: bool, file: Path
) -> None:
    from tickets.floor import frame_list
    from tickets.records.refusal import Refused

    text = frame_list.decoded(file.read_bytes())
    with _shop(folder, make=True) as db:
        found = frame_list.read(db, text, _now())
        made: list[str] = []
        if not dry_run and not found.faults:
            made = frame_list.take_in(db, _actor(db, by), text, post=_post(entry), now=_now())
    rows = [
        {
            "line": frame.number,
            "code": made[place] if made else None,
            "mark": frame.mark,
            "mesh": frame.stretch["mesh_count_as_labelled"],
            "steps": frame.notes,
        }
        for place, frame in enumerate(found.frames)
    ]
    if as_json and not found.faults:
        _print_json({"dry_run": dry_run, "frames": rows, "refused": []})
    elif not as_json and (made or dry_run):
        lines = [
            [row["line"], row["code"] and _shown(row["code"]), row["mark"], row["mesh"], ", ".join(row["steps"])]
            for row in rows
        ]
        _table(lines, _("There is no frame in the list."))
        if dry_run:
            said = ngettext(
                "{number} frame would be brought in; nothing was written.",
                "{number} frames would be brought in; nothing was written.",
                len(rows),
            )
            click.echo(said.format(number=len(rows)))
    with _beside(dry_run=dry_run, frames=rows):
        if found.faults:
            raise Refused(list(found.faults))


@command(
    screen,
    "list",
    N_("Lists screens in the order of their numbers, a page at a time."),
    option("--standing", help=N_("Only those at this stage, such as ready.")),
    option("--mesh", help=N_("Only those of this mesh count, such as 230/in (within 3 %).")),
    option("--place", help=N_("Only those at this place (name or code).")),
    option("--job", help=N_("Only those that carry something of this job.")),
    option(
        "--separation", type=_Whole(1, _MOST), help=N_("Only those that carry this separation (its number).")
    ),
    option("--mark", help=N_("Only those with this painted mark.")),
    option(
        "--due",
        type=click.Choice(("slack", "tension", "coated", "unclear", "missing", "keep", "worn")),
        help=N_("Only those that are due: under the floor, tension to measure, coated too long, log unclear, missing "
                "since a stock-take, kept past the day, mesh near its end."),
    ),
    option("--after", metavar="CODE", help=N_("Only those after this one.")),
    option("--limit", type=_Whole(1, _MOST), help=N_("How many. [default: 50; with --json all]")),
    _JSON,
)
def screen_list(folder: Path | None, as_json: bool, after: str | None, limit: int | None, **asked: Any) -> None:
    from tickets.records.refusal import Refused
    from tickets.records.screen import Standing
    from tickets.store import places, screens

    standing, mark = asked["standing"] or "", asked["mark"]
    if standing not in {"", *Standing}:
        raise Refused(_("One of: {choices}.").format(choices=", ".join(Standing)), "--standing")
    with _shop(folder) as db:
        wanted = _wanted(db, standing, asked)
        marked = set(screens.by_mark(db, mark)) if mark else None
        last = _screen_of(db, after).id if after else 0
        most = limit or (_MOST if as_json else 50)
        rows: list[screens.Row] = []
        more = False
        while True:
            page = screens.inventory(db, wanted, last, 500)
            rows += [row for row in page if marked is None or row.id in marked]
            more = len(rows) > most or len(page) == 500
            if len(rows) >= most or len(page) < 500:
                break
            last = page[-1].id
        more, rows = more and len(rows) > most, rows[:most]
        names = places.names(db)
        if as_json:
            _print_json(
                [
                    {
                        "code": row.code,
                        "shown": _shown(row.code),
                        "mark": row.mark,
                        "mesh": row.mesh,
                        "thread_um": row.thread_um,
                        "frame": row.frame,
                        "standing": row.standing,
                        "since": row.since,
                        "place": names.get(row.place) if row.place else None,
                        "minimum_n_per_cm": row.minimum_n_per_cm,
                        "tension_at": row.tension_at or None,
                        "uses": row.uses,
                        "impressions": row.impressions,
                    }
                    for row in rows
                ]
            )
            return
        _table(
            [
                [_shown(row.code), row.mark, row.mesh, row.standing, names.get(row.place or 0), row.minimum_n_per_cm]
                for row in rows
            ],
            _("No screens."),
        )
        if more:
            click.echo(_("More: add --after {code}").format(code=_shown(rows[-1].code)))


def _wanted(db: Database, standing: str, asked: Mapping[str, Any]) -> Any:
    from tickets.floor import jobs as floor_jobs
    from tickets.floor import screens as floor
    from tickets.floor.due import due_list
    from tickets.records.refusal import Refused
    from tickets.records.steps import count_per_cm, mesh_label

    count = None
    if asked["mesh"]:
        try:
            count = count_per_cm(mesh_label(asked["mesh"]))
        except ValueError as fault:
            raise Refused(str(fault), "--mesh") from None
    return due_list(
        db,
        asked["due"] or "",
        _now(),
        standing=standing,
        count_low=count * 0.97 if count else None,
        count_high=count * 1.03 if count else None,
        place=floor.find_place(db, asked["place"]).id if asked["place"] else None,
        job=floor_jobs.find(db, asked["job"]).id if asked["job"] else None,
        separation=asked["separation"],
    )


@command(screen, "show", N_("Shows a screen: what it is, how far it is, what it carries, what is due, its log."), _JSON)
@click.argument("code")
def screen_show(code: str, as_json: bool, folder: Path | None) -> None:
    with _shop(folder) as db:
        found = _screen_of(db, code)
        shown = _screen(db, found)
        if as_json:
            _print_json(shown)
            return
        mesh = found.life.mesh.said if found.life.mesh else _("mesh not known")
        click.echo(
            " · ".join(part for part in (shown["shown"], shown["mark"], mesh, shown["mesh"].get("frame", "")) if part)
        )
        since = _("since {time}").format(time=_local(db, shown["since"])) if shown["since"] else ""
        click.echo("  ".join(part for part in (shown["standing"], since, shown["place"] or "") if part))
        for separation in shown["separations"]:
            click.echo(_("carries {number}: {name}").format(number=separation["separation"], name=separation["said"]))
        if shown["tension"]:
            click.echo(
                _("tension: mean {mean}, lowest {low} N/cm, {time}").format(
                    mean=f"{shown['tension']['mean_n_per_cm']:g}",
                    low=f"{shown['tension']['minimum_n_per_cm']:g}",
                    time=_local(db, shown["tension"]["at"]),
                )
            )
        for due in shown["due"]:
            click.echo(due["said"])
        click.echo(_("next: {step}").format(step=shown["next"] or _("the press")))
        _print_log(db, shown["log"])


def _screen(db: Database, found: Screen) -> dict[str, Any]:
    """A screen as data; a computed value says so, a maker's value says that."""
    from tickets.store import jobs, places
    from tickets.store.settings import setting

    life = found.life
    separations = jobs.separations(db, list(life.stencil.separations) if life.stencil else [])
    from tickets.records.screen import next_step

    tension = life.tension
    return {
        "code": found.code,
        "shown": _shown(found.code),
        "mark": life.mark,
        "standing": str(life.standing),
        "since": life.since,
        "mesh": _mesh(life.mesh),
        "place": places.names(db).get(life.place or 0),
        "run": life.run,
        "head": life.head,
        "tension": tension
        and {
            "readings_n_per_cm": list(tension.readings_n_per_cm),
            "readings_weft_n_per_cm": list(tension.readings_weft_n_per_cm),
            "mean_n_per_cm": round(tension.mean_n_per_cm, 3),
            "minimum_n_per_cm": tension.minimum_n_per_cm,
            "at": tension.at,
            "stencils_since": tension.stencils_since,
        },
        "separations": [
            {
                "separation": number,
                "name": one.name,
                "customer": one.customer,
                "art": one.art,
                "revision": one.revision,
                "width_mm": one.width_mm,
                "said": f"{one.name} · {one.art} {one.revision} · {one.width_mm} mm · {one.customer}",
            }
            for number, one in separations.items()
        ],
        "uses": life.uses,
        "impressions": life.impressions,
        "cycles": life.cycles,
        "torn": life.torn,
        "fault": life.fault,
        "gaps": [{"entry": entry, "missing": list(missing)} for entry, missing in life.gaps],
        "conflicts": list(life.conflicts),
        "next": next_step(life, setting(db, "steps")),
        "due": _due(db, found),
        "log": _log(db, "screen", found.id),
    }


def _mesh(mesh: Any) -> dict[str, Any]:
    """The mesh as labelled; opening, open area and the like as the maker's sheet gives them, else computed."""
    if mesh is None:
        return {}
    from tickets.calculator.mesh import geometry
    from tickets.calculator.units import CannotBe, magnitude, quantity

    values: dict[str, Any] = {
        "count_as_labelled": mesh.count_as_labelled,
        "count_per_cm": round(mesh.count_per_cm, 3),
        "thread_um": mesh.thread_um,
        "colour": mesh.colour,
        "frame": mesh.frame,
        "frame_size_mm": mesh.frame_size_mm,
        "stretched_at": mesh.stretched_at,
        "by": mesh.by,
        "fabric_thickness_um": mesh.fabric_thickness_um,
    }
    computed: dict[str, float] = {}
    if mesh.thread_um:
        thickness = quantity(mesh.fabric_thickness_um, "um") if mesh.fabric_thickness_um else None
        try:
            found = geometry(quantity(mesh.count_per_cm, "/cm"), quantity(mesh.thread_um, "um"), thickness)
        except CannotBe:
            found = None
        if found is not None:
            computed = {"opening_um": magnitude(found.opening, "um"), "open_area_pct": magnitude(found.open_area, "%")}
            if found.ink_volume is not None:
                computed["ink_volume_cm3_m2"] = magnitude(found.ink_volume, "cm3/m2")
    for name in ("opening_um", "open_area_pct", "ink_volume_cm3_m2"):
        sheet = getattr(mesh, name)
        if sheet is not None:
            values[name] = {"value": sheet, "computed": False, "source": "maker's sheet"}
        elif name in computed:
            values[name] = {"value": round(computed[name], 2), "computed": True}
        else:
            values[name] = None
    return values


def _due(db: Database, found: Screen) -> list[dict[str, Any]]:
    """What the screen waits for: tension to be measured again, drying."""
    from tickets.calculator.verdict import Level, judge, say
    from tickets.floor.asked import work_of
    from tickets.floor.posting import the_spec
    from tickets.floor.screens import air_of
    from tickets.records import checks
    from tickets.records.entry import stamp

    work = work_of(db, found.life)
    due: list[dict[str, Any]] = []
    for reason in judge(checks.tension(found.life, work, the_spec(db), _now())).reasons:
        if reason.level is not Level.OK:
            said = say(reason, _units(db))
            text = " ".join(part for part in (f"{said.word}:", said.sentence, said.advice) if part)
            due.append({"key": reason.key, "level": str(reason.level), "said": text})
    wet = checks.drying(found.life, the_spec(db), air_of(db, found.life, _now()))
    if wet is not None and wet.ready_at > _now():
        text = _("drying until about {time}").format(time=_local(db, stamp(wet.ready_at)))
        due.append({"key": "drying", "until": stamp(wet.ready_at), "said": text})
    return due


_FREE = {"ignore_unknown_options": True, "allow_extra_args": True}


@command(screen, "steps", N_("Lists the steps of a screen with their fields, as `screen log` takes them."), _JSON)
def screen_steps(as_json: bool, folder: Path | None) -> None:
    from tickets.calculator.units import unit_of
    from tickets.records.cautions import texts
    from tickets.records.steps import SCREEN_STEPS

    if as_json:
        _print_json(
            [
                {
                    "step": step.name,
                    "title": _(step.title),
                    "fields": [
                        {
                            "field": field.name,
                            "label": _(field.label),
                            "unit": unit_of(field.name),
                            "required": field.required,
                            "choices": [key for key, _word in field.choices],
                        }
                        for field in (*step.fields, *step.also)
                    ],
                    "cautions": texts(step.cautions),
                }
                for step in SCREEN_STEPS.values()
            ]
        )
        return
    for step in SCREEN_STEPS.values():
        click.echo(f"{step.name}: {_(step.title)}")
        for field in (*step.fields, *step.also):
            choices = ", ".join(key for key, _word in field.choices)
            needed = _("needed") if field.required else _(field.hint) if field in step.also else ""
            parts = (f"--{field.name}", _(field.label), unit_of(field.name) or "", choices, needed)
            click.echo("  " + "  ".join(part for part in parts if part))
        for text in texts(step.cautions):
            click.echo(f"  ! {text}")


@command(
    screen,
    "log",
    N_("Logs one step of a screen, as its page does: tickets screen log CODE STEP --FIELD VALUE ..."),
    _AT,
    _ENTRY,
    option("--by", multiple=True, metavar="NAME", help=N_("Who did it. [default: command line]")),
    _JSON,
    context_settings=_FREE,
)
@click.argument("code")
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def screen_log(
    code: str,
    step: str,
    fields: tuple[str, ...],
    at: str | None,
    entry: str | None,
    by: tuple[str, ...],
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import screens as floor
    from tickets.floor.posting import form

    sent: dict[str, Any] = _collected(fields)
    names = list(by)
    if step == "stretch":  # its field `by` (us, supplier) is typed as the option that names the person
        sent["by"] = [name for name in names if name in {"us", "supplier"}] or None
        names = [name for name in names if name not in {"us", "supplier"}]
    if step == "cross-out" and "crosses" not in sent:  # its field `entry` names the wrong one
        sent["crosses"], entry = entry, None
    if at:
        sent["at"] = at
    with _shop(folder, make=True) as db:
        actor, now = _actor(db, names[-1] if names else None), _now()
        found = _screen_of(db, code)
        logged = floor.log(db, actor, found, step, form(sent), post=_post(entry), now=now)
        after = floor.find(db, found.code)
        if as_json:
            _print_json(
                {
                    "entries": list(logged.entries),
                    "verdict": logged.verdict.to_dict() if logged.verdict else None,
                    "again": logged.again,
                    "code": after.code,
                    "standing": str(after.life.standing),
                }
            )
            return
        for line in _verdict_lines(logged.verdict, _units(db)) if logged.verdict else ():
            click.echo(line)
        done = _("{code}: {step} was logged before; it stays so.") if logged.again else _("{code}: {step} logged.")
        click.echo(
            " ".join(
                (
                    done.format(code=_shown(after.code), step=step),
                    _("Now: {standing}.").format(standing=after.life.standing),
                    _("Entry {entry}.").format(entry=", ".join(logged.entries)),
                )
            )
        )


# Jobs ---------------------------------------------------------------------------------------------------------------

job = _group("job", N_("Jobs: check, enter, change, list, show."))
_FILES = click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))


def _remarks_on(db: Database, job: Any) -> list[dict[str, Any]]:
    """The remarks on a job of the shop, as its page and its ticket have them."""
    from tickets.floor import target

    return _remarks(target.remarked(db, job, _now()), _units(db))


def _remarks(remarked: Iterable[Any], system: str = "metric") -> list[dict[str, Any]]:
    from tickets.calculator.verdict import say

    found = []
    for remark in remarked:
        said = say(remark.reason, system)
        found.append(
            {
                "place": remark.place,
                "key": remark.reason.key,
                "level": str(remark.reason.level),
                "sentence": said.sentence,
                "advice": said.advice,
                "source": remark.source,
                "said": " ".join(part for part in (f"{said.word}:", said.sentence, said.advice) if part),
            }
        )
    return found


def _presses(folder: Path | None) -> list[Any]:
    """The presses of the shop in a folder; none where there is no shop."""
    from tickets import store
    from tickets.store import places

    if not store.exists(_folder(folder)):
        return []
    with _shop(folder) as db:
        return places.every(db, "press")


@command(job, "check", N_("Reads job files and remarks on them; saves nothing."), _JSON)
@_FILES
def job_check(files: tuple[Path, ...], as_json: bool, folder: Path | None) -> None:
    from tickets.records.job import read_files
    from tickets.records.job_remarks import remarks

    sheets = read_files(files)
    _look_at_pictures(files, sheets)
    presses = [one.press for one in _presses(folder)]
    found: list[dict[str, Any]] = [
        {"file": str(path), "title": sheet.title, "remarks": _remarks(remarks(sheet, presses=presses))}
        for path, sheet in zip(files, sheets, strict=True)
    ]
    if as_json:
        _print_json(found)
        return
    for each in found:
        click.echo(f"{Path(each['file']).name}: {each['title']}")
        for remark in each["remarks"]:
            click.echo(f"  {remark['place']}: {remark['said']} ({remark['source']})")
        if not each["remarks"]:
            click.echo("  " + _("no remarks"))


def _look_at_pictures(files: Sequence[Path], sheets: Sequence[Any]) -> None:
    """Raises Refused, with the faults of all, for the pictures that `job add` would refuse."""
    from tickets.floor.pictures import make
    from tickets.records.job import LARGEST_PICTURE
    from tickets.records.refusal import Fault, Refused

    faults: list[Fault] = []
    for file, sheet in zip(files, sheets, strict=True):
        if sheet.art.picture:
            try:
                make((file.parent / sheet.art.picture).read_bytes(), f"{file.name}: art.picture", LARGEST_PICTURE)
            except Refused as refused:
                faults += refused.faults
    if faults:
        raise Refused(faults)


@command(
    job,
    "add",
    N_("Enters jobs from files, all or none."),
    option("--twice", help=N_("yes: enter a job a second time that is here already.")),
    _ENTRY,
    _BY,
    _JSON,
)
@_FILES
def job_add(
    files: tuple[Path, ...],
    twice: str | None,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import jobs as floor
    from tickets.floor import pictures
    from tickets.records.job import read_files

    sheets = read_files(files)
    with _shop(folder, make=True) as db:
        actor, now = _actor(db, by), _now()
        art = pictures.beside(db, actor, files, sheets, now=now)
        again = "yes" if _form(twice=twice).yes("twice") else ""
        made = floor.add(db, actor, sheets, post=_post(entry), now=now, pictures=art, twice=again)
        remarked = [_remarks_on(db, floor.find(db, code)) for code in made]
    if as_json:
        _print_json(
            [
                {"code": code, "shown": _shown(code), "title": sheet.title, "reference": sheet.reference}
                for code, sheet in zip(made, sheets, strict=True)
            ]
        )
        return
    for code, sheet, told in zip(made, sheets, remarked, strict=True):
        click.echo("  ".join(part for part in (_shown(code), sheet.title, sheet.reference) if part))
        for remark in told:
            click.echo(f"  {remark['place']}: {remark['said']}")


@command(job, "change", N_("Changes a job to what a file says, until it has been printed."), _ENTRY, _BY, _JSON)
@click.argument("code")
@click.argument("file", type=click.Path(path_type=Path))
def job_change(code: str, file: Path, entry: str | None, by: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import jobs as floor
    from tickets.floor import pictures, printing
    from tickets.records.job import read_file

    sheet = read_file(file)
    with _shop(folder, make=True) as db:
        found = floor.find(db, code)
        actor, now = _actor(db, by), _now()
        (art,) = pictures.beside(db, actor, [file], [sheet], now=now)
        version = floor.change(db, actor, found, sheet, post=_post(entry), now=now, picture=art or None)
        stale = [one for one in printing.outdated_jobs(db) if one["code"] == found.code]
        remarked = _remarks_on(db, floor.find(db, code))
    if as_json:
        _print_json({"code": found.code, "version": version, "ticket_outdated": bool(stale)})
        return
    click.echo(_("{code} is at version {version}.").format(code=_shown(found.code), version=version))
    for remark in remarked:
        click.echo(f"  {remark['place']}: {remark['said']}")
    if stale:
        click.echo(_("Its printed ticket says version {version}: print it again.").format(version=stale[0]["printed"]))


@command(
    job,
    "list",
    N_("Lists the open jobs by due date."),
    option("--closed", is_flag=True, help=N_("The closed ones instead, newest first.")),
    option("--limit", type=_Whole(1, _MOST), help=N_("How many. [default: 50; with --json all]")),
    _JSON,
)
def job_list(closed: bool, limit: int | None, as_json: bool, folder: Path | None) -> None:
    from dataclasses import asdict

    from tickets.store import jobs

    with _shop(folder) as db:
        rows = jobs.listed(db, None, limit or (_MOST if as_json else 50), closed)
    if as_json:
        _print_json(
            [
                {**{name: value for name, value in asdict(row).items() if name != "id"}, "shown": _shown(row.code)}
                for row in rows
            ]
        )
    else:
        _table([[_shown(row.code), row.due, row.title, row.customer, row.reference] for row in rows], _("No jobs."))


@command(
    job,
    "show",
    N_("Shows a job: its print order, the numbers of its separations, the screens that carry them."),
    option("--toml", is_flag=True, help=N_("Print its job file.")),
    _JSON,
)
@click.argument("code")
def job_show(code: str, toml: bool, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import jobs as floor
    from tickets.records.job import to_toml

    with _shop(folder) as db:
        found = floor.find(db, code)
        if toml:
            click.echo(to_toml(found.sheet), nl=False)
            return
        shown = _job(db, found)
        if as_json:
            _print_json(shown)
            return
        head = (shown["shown"], shown["title"], shown["customer"], shown.get("reference"))
        click.echo(" · ".join(filter(None, head)))
        click.echo(_("due {date}, version {version}").format(date=shown["due"], version=shown["version"]))
        for placement in shown["placements"]:
            click.echo(f"{placement['placement']} {placement['name']}")
            for station in placement["stations"]:
                if station["does"] != "print":
                    click.echo(f"  {station['station']} {_(station['does'])} {station.get('time', '')}".rstrip())
                    continue
                carried = ", ".join(_shown(one["code"]) for one in station["screens"]) or _("no screen yet")
                text = _("separation {number}: {name}").format(number=station["separation"], name=station["name"])
                click.echo(f"  {station['station']} {text} · {station['mesh_wanted']} · {station['ink']} · {carried}")
        for one in shown["will_differ"]:
            for differs in one["differences"]:
                if differs["level"] != "ok" or "within" in differs:
                    click.echo(f"{one['placement']}: {differs['said']}")
        for remark in shown["remarks"]:
            click.echo(f"{remark['place']}: {remark['said']}")


def _job(db: Database, found: Any) -> dict[str, Any]:
    """A job as data: the keys of its file, the stations with the number of their separation and its screens."""
    from tickets.store import jobs, runs, screens

    said = found.sheet.to_dict()
    placements = []
    for number, (placement, words) in enumerate(zip(found.sheet.placements, said["placement"], strict=True), 1):
        asked = {one.number: one for one in jobs.asked(db, found, number)}
        stations = []
        for station, own in zip(placement.stations, words["station"], strict=True):
            row: dict[str, Any] = {"station": station.number, **own}
            if station.prints:
                want = asked[station.number]
                row |= {
                    "separation": want.separation,
                    "name": station.separation,
                    "mesh_wanted": want.mesh,
                    "work": want.work,
                    "screens": [
                        {"code": one.code, "mark": one.life.mark, "standing": str(one.life.standing)}
                        for one in screens.carrying(db, want.separation)
                    ],
                }
            stations.append(row)
        rest = {name: value for name, value in words.items() if name != "station"}
        placements.append({"placement": number, **rest, "stations": stations})
    repeats = jobs.get(db, found.repeats) if found.repeats else None
    return {
        "code": found.code,
        "shown": _shown(found.code),
        **{name: value for name, value in said.items() if name not in {"placement", "garment", "colourway", "repeats"}},
        "version": found.version,
        "closed_at": found.closed_at,
        "repeats": repeats.code if repeats else None,
        "will_differ": _ahead(db, found) if repeats and not found.closed_at else [],
        "garments": said["garment"],
        "placements": placements,
        "colourways": said.get("colourway", []),
        "runs": [run.id for run in runs.of_job(db, found.id)],
        "remarks": _remarks_on(db, found),
    }


def _ahead(db: Database, job: Any) -> list[dict[str, Any]]:
    """What will differ if a job that repeats another is printed now, placement by placement, in its order."""
    from tickets.floor import repeats
    from tickets.records.repeat import as_data

    return [
        {
            "placement": one.placement.name,
            "compared_with": one.against.said(),
            "run": one.origin.run if one.origin else None,
            "differences": as_data(one.differences, _units(db)),
        }
        for one in repeats.ahead(db, job, _now())
    ]


# Runs ---------------------------------------------------------------------------------------------------------------

run = _group("run", N_("Runs at the press, for scripts; people set up on a phone."))


@command(
    run,
    "open",
    N_("Opens a run of a placement on a press."),
    option("--job", "job_code", required=True, help=N_("The job's code or number.")),
    option("--placement", help=N_("Name or number; needed where the job has several.")),
    option("--press", required=True, help=N_("The press, by name or code.")),
    option("--heads_short", "--heads-short", help=N_("yes: open it on a press with too few free heads.")),
    _AT,
    _ENTRY,
    _BY,
    _JSON,
)
def run_open(
    job_code: str,
    placement: str | None,
    press: str,
    heads_short: str | None,
    at: str | None,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import runs as floor

    with _shop(folder, make=True) as db:
        form = _form(job=job_code, placement=placement, press=press, heads_short=heads_short, at=at)
        number = floor.open_run(db, _actor(db, by), form, post=_post(entry), now=_now())
    if as_json:
        _print_json({"run": number})
    else:
        click.echo(_("Run {number}").format(number=number))


@command(
    run,
    "log",
    N_("Logs a step of a run: hang, sheet, approve, start, stop, count, pause, finish, ..."),
    option("--anyway", is_flag=True, help=N_("Log it although another step is next.")),
    _AT,
    _ENTRY,
    _BY,
    _JSON,
    context_settings=_FREE,
)
@click.argument("number", type=_Whole(0, _MOST))
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def run_log(
    number: int,
    step: str,
    fields: tuple[str, ...],
    anyway: bool,
    at: str | None,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.calculator.verdict import Level, Verdict
    from tickets.floor import phase
    from tickets.floor import runs as floor
    from tickets.floor.posting import form
    from tickets.records import checks
    from tickets.records.run import GOING
    from tickets.store import entries

    sent: dict[str, Any] = _collected(fields)
    if step == "cross-out" and "crosses" not in sent:
        sent["crosses"], entry = entry, None
    if at:
        sent["at"] = at
    if files := sent.pop("lab_file", None):  # measured patches, as the page takes them from a file
        sent["lab_patches"] = ["\n".join(Path(one).read_text("utf-8-sig", "replace") for one in files)]
    with _shop(folder, make=True) as db:
        with _beside(run=number, entries=[]):
            if not anyway:
                phase.in_turn(db, floor.plan(db, number), step)
            if step == "sheet":
                floor.say_why(db, floor.plan(db, number), form(sent))
            made = floor.log(db, _actor(db, by), number, step, form(sent), post=_post(entry), now=_now())
        verdicts = [found.verdict for one in made if (found := entries.find(db, one)) and found.verdict]
        plan = floor.plan(db, number)
        state, on = plan.story.state, _just_hung(plan, made) if step in {"hang", "swap"} else {}
        if as_json:
            plain = Verdict(Level.OK).to_dict() if step in GOING else None
            verdict = verdicts[0] if verdicts else plain
            _print_json({"run": number, "entries": made, "verdict": verdict, "state": state, **on})
            return
        if verdicts and step in {"hang", "swap"}:
            click.echo(_(checks.FACES[Verdict.from_dict(verdicts[0]).level]))
        for line in _verdict_lines(Verdict.from_dict(verdicts[0]), _units(db)) if verdicts else ():
            click.echo(line)
        if on:
            click.echo(_("Print order {station}, head {head}.").format(station=on["station"], head=on["head"] or "–"))
        click.echo(_("Run {number}: {step} logged. Now: {state}.").format(number=number, step=step, state=state))


def _just_hung(plan: Any, made: Sequence[str]) -> dict[str, Any]:
    """Where the screen hangs that one of these entries hung."""
    found = (one for one in plan.story.hung.values() if one.entry in made)
    return next(({"station": one.station, "head": one.head} for one in found), {})


@command(
    run,
    "check",
    N_("Holds a screen against a run, as a scan at the press does; writes nothing."),
    option("--head", type=click.IntRange(1, 40), help=N_("The head; left away: the one to offer.")),
    option("--in_hand", "--in-hand", help=N_("yes: it is in hand, whatever the log says.")),
    option("--head_taken", "--head-taken", help=N_("yes: the head is free, whatever the log says.")),
    _JSON,
)
@click.argument("number", type=click.IntRange(0, _MOST))
@click.argument("code")
def run_check(
    number: int,
    code: str,
    head: int | None,
    in_hand: str | None,
    head_taken: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import look as floor_look
    from tickets.floor import runs as floor
    from tickets.records import checks
    from tickets.store import screens

    with _shop(folder) as db:
        plan, screen, form = floor.plan(db, number), _screen_of(db, code), _form(in_hand=in_hand, head_taken=head_taken)
        said = {"in_hand": form.yes("in_hand"), "head_taken": form.yes("head_taken")}
        looked = floor_look.look(db, plan, screen, _now(), head=head, **said)
        found, swap = looked.found, looked.swap
        other = screens.get(db, swap.screen) if swap else None
        shown = {
            "run": number,
            "screen": screen.code,
            "face": checks.FACES[found.verdict.level],
            "verdict": found.verdict.to_dict(),
            "station": found.station,
            "head": looked.head if found.station is not None else None,
            "heads_free": list(looked.heads),
            "no_head": floor_look.headless(db, plan, looked),
            "in_place_of": other.code if other else None,
        }
        told = _verdict_lines(found.verdict, _units(db))
        if as_json:
            _print_json(shown)
            _not_sound(found.verdict, told)
            return
        click.echo(_(checks.FACES[found.verdict.level]))
        for line in told:
            click.echo(line)
        if found.station is not None:
            place = _("Print order {station}, head {head}.")
            click.echo(place.format(station=found.station, head=shown["head"] or "–"))
        if shown["no_head"]:
            click.echo(shown["no_head"])
        if other:
            click.echo(_("Screen {code} hangs there: swap it.").format(code=_shown(other.code)))
        free = ", ".join(map(str, looked.heads)) or "–"
        click.echo(_("Heads free: {heads}").format(heads=free))
        _not_sound(found.verdict, told)


@command(
    run,
    "compare",
    N_("Shows a run beside the approved print before it: what differs, what a customer would see first at the top."),
    _JSON,
)
@click.argument("number", type=click.IntRange(0, _MOST))
def run_compare(number: int, as_json: bool, folder: Path | None) -> None:
    from tickets.calculator.verdict import Level, say
    from tickets.floor import repeats
    from tickets.records import comparison

    with _shop(folder) as db:
        found = repeats.compared(db, number)
        data = comparison.as_data(found.lines) if found else {}
        if as_json:
            before = {"run": found.before.run, "day": found.before.day} if found else None
            said = found.against.said() if found else None
            apart = list(found.apart) if found else []
            _print_json({"run": number, "before": before, "compared_with": said, "set_apart": apart, **data})
            return
        if found is None:
            click.echo(_("No earlier run of this placement was approved: there is nothing to compare with."))
            return
        click.echo(_("Before: run {number}, {day}.").format(number=found.before.run, day=found.before.day))
        for stopped in (one for one in found.differing.large if one.verdict and one.verdict.level is not Level.OK):
            for one in map(say, stopped.verdict.reasons if stopped.verdict else ()):
                click.echo(" ".join(filter(None, (f"{one.word}: {stopped.placed}.", one.sentence, one.advice))))
        for name, title in (("differs", N_("Differs")), ("small", N_("Within what the shop calls the same")),
                            ("beside", N_("Beside")), ("happened", N_("While it printed")),
                            ("not_known", N_("Not known of one or both"))):  # fmt: skip
            if data[name]:
                click.echo(f"{_(title)}:")
            _table_of_lines(data[name])
        for told in found.apart:
            click.echo(told)


def _table_of_lines(lines: Sequence[Mapping[str, Any]]) -> None:
    from tickets.records.as_run import field_word

    rows = [
        [f"  {one['station']} {one['title']}" if one["station"] else "  –", field_word(one["setting"]), one["before"],
         "→", one["now"], one.get("by") or one.get("unknown") or one.get("within") or ""]
        for one in lines
    ]  # fmt: skip
    if rows:
        _table(rows, "")


@command(
    run,
    "list",
    N_("Lists the open runs, or those of a job."),
    option("--job", "job_code", help=N_("The job's code or number.")),
    _JSON,
)
def run_list(job_code: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import jobs as floor_jobs
    from tickets.store import jobs, places, runs

    with _shop(folder) as db:
        found = runs.of_job(db, floor_jobs.find(db, job_code).id) if job_code else runs.open_ones(db, limit=1000)
        names = places.names(db)
        rows: list[dict[str, Any]] = []
        for each in found:
            sheet = jobs.get(db, each.job, each.version)
            assert sheet is not None
            rows.append(
                {
                    "run": each.id,
                    "job": sheet.code,
                    "title": sheet.sheet.title,
                    "placement": sheet.sheet.placements[each.placement - 1].name,
                    "press": names[each.press],
                    "state": each.story.state,
                    "opened_at": each.opened_at,
                    "good": each.story.good,
                }
            )
    if as_json:
        _print_json(rows)
    else:
        _table(
            [
                [row["run"], _shown(row["job"]), row["title"], row["placement"], row["press"], row["state"]]
                for row in rows
            ],
            _("No runs."),
        )


@command(run, "show", N_("Shows a run: what hangs where, its settings, its counts, its log."), _JSON)
@click.argument("number", type=_Whole(0, _MOST))
def run_show(number: int, as_json: bool, folder: Path | None) -> None:
    with _shop(folder) as db:
        shown = _run_told(db, number)
        if as_json:
            _print_json(shown)
        else:
            _say_run(db, shown)


def _run_told(db: Database, number: int) -> dict[str, Any]:
    """A run as data: what its page shows."""
    from dataclasses import asdict

    from tickets.floor import garments, phase
    from tickets.floor import runs as floor
    from tickets.floor.posting import the_spec
    from tickets.records import first_seen
    from tickets.store import screens

    plan = floor.plan(db, number)
    used, over = floor.used(db, plan), plan.story.state == "finished"
    garment = floor.garment_now(plan)

    def code(screen: int) -> str | None:
        found = screens.get(db, screen)
        return found.code if found else None

    story = plan.story.to_dict()
    for hung in (*story["hung"].values(), *story["was_hung"]):
        hung["screen"] = code(hung["screen"])
    return {
        "run": number,
        "job": plan.job.code,
        "title": plan.job.sheet.title,
        "version": plan.run.version,
        "changed_since": plan.changed_since,
        "placement": plan.placement.name,
        "press": plan.press.name,
        "missing": [
            {"station": one.number, "separation": one.separation, "head": floor.free_head(plan, one.number)}
            for one in plan.missing()
            if not over
        ],
        **story,
        "next": phase.phase_of(plan),
        "garment_now": f"{garment.style}, {garment.colour}" if garment else None,
        "pieces": [
            {"garment": one.name, "good": one.good, "misprinted": one.misprinted, "ordered": one.ordered or None}
            for one in phase.pieces_of(db, plan)
        ],
        "garments": [asdict(one) for one in garments.of_run(db, plan)],
        "differences": [
            {"part": part, "setting": name, "group": first_seen.group_of(name), "target": was, "now": now}
            for part, name, was, now in floor.off_target(db, plan, the_spec(db))
        ],
        "small": [
            {"part": part, "setting": name, "target": was, "now": now, "within": within}
            for part, name, was, now, within in floor.near_target(db, plan, the_spec(db), _units(db))
        ],
        "set_apart": floor.set_apart(db, plan) or None,
        "going": floor.going(db, plan, _now()).to_dict() if not over else None,
        "colour": floor.to_mark(db, plan).to_dict() if plan.story.approved else None,
        "settings": plan.story.settings,
        "used": [{**asdict(one), "screen": code(one.screen)} for one in used],
        "log": _log(db, "run", number),
    }


def _say_run(db: Database, shown: Mapping[str, Any]) -> None:
    """A run in lines: where it stands, what speaks against it, its screens, pieces and settings, its log."""
    from tickets.calculator.verdict import Verdict
    from tickets.floor import phase
    from tickets.records.as_run import field_word

    over = shown["state"] == "finished"
    parts = (shown["run"], _shown(shown["job"]), shown["title"], shown["placement"], shown["press"])
    click.echo(" · ".join(map(str, parts)))
    pieces = _("{state}; {good} good, {bad} misprinted")
    click.echo(pieces.format(state=shown["state"], good=shown["good"], bad=shown["misprinted"]))
    speaks = Verdict.from_dict(said) if (said := shown["colour"] if over else shown["going"]) else None
    for line in _verdict_lines(speaks, _units(db)) if speaks and speaks.reasons else ():
        click.echo(line)
    for piece in shown["pieces"]:
        spoiled = _("{n} misprinted").format(n=piece["misprinted"])
        click.echo(f"  {piece['garment']}: {piece['good']}/{piece['ordered'] or '–'}, {spoiled}")
    for one in shown["garments"]:
        states = [_("approved") if one["approved"] else _("no first print approved")]
        states += [_("idle: {stations}").format(stations=", ".join(map(str, one["idle"])))] if one["idle"] else []
        click.echo(f"{'> ' if one['now'] else '  '}{one['number']} {one['garment']}: {'; '.join(states)}")
    for station, hung in shown["hung"].items():
        head = _("head {head}").format(head=hung["head"]) if hung["head"] else ""
        click.echo(f"  {station}  {_shown(hung['screen'])}  {head}".rstrip())
    for one in shown["missing"]:
        told = _("{station}  no screen yet (separation {number}; head free for it: {head})")
        said = told.format(station=one["station"], number=one["separation"], head=one["head"] or "–")
        click.echo(f"  {said}")
    there = {hung["screen"] for hung in shown["hung"].values()}
    for one in shown["used"]:
        if one["screen"] not in there:
            head = _("head {head}").format(head=one["head"]) if one["head"] else ""
            off = (head, _("impressions {n}").format(n=one["impressions"]), one["condition"], one["then"])
            click.echo(f"  {one['station']}  {_shown(one['screen'])}  {', '.join(filter(None, off))}")
    for part, values in shown["settings"].items():
        if values:
            told = ", ".join(f"{name} {value}" for name, value in values.items())
            click.echo(f"  {part if part == 'run' else _('print order {number}').format(number=part)}: {told}")
    if shown["set_apart"]:
        click.echo(shown["set_apart"])
    for one in shown["differences"]:
        told = _("not as the target: {part}: {now} (target: {target})")
        part = f"{one['part']} {field_word(one['setting'])}".removeprefix("run ")
        click.echo("  " + told.format(part=part, now=one["now"] or "–", target=one["target"] or "–"))
    if not over:
        click.echo(_("next: {step}").format(step=_(phase.NEXT[shown["next"]])))
    _print_log(db, shown["log"])


# Buckets, places, exposure units ------------------------------------------------------------------------------------

bucket = _group("bucket", N_("Mixed lots: emulsion, discharge and catalysed ink."))


@command(
    bucket,
    "add",
    N_("Mixes a bucket."),
    option("--kind", required=True, help=N_("Such as diazo emulsion or discharge ink.")),
    option("--product", help=N_("What it is called.")),
    option("--lot", help=N_("Its lot.")),
    option("--colour", help=N_("The colour of an ink.")),
    option("--series", help=N_("The series of an ink.")),
    option("--recipe", help=N_("What an ink is mixed from: grams of each part.")),
    option(
        "--water_resistant", "--water-resistant", help=N_("yes, no or unknown: stands water-base and discharge ink.")
    ),
    option("--good_until", "--good-until", help=N_("A date or time. [default: reckoned from its kind]")),
    _AT,
    _ENTRY,
    _BY,
    _JSON,
)
def bucket_add(folder: Path | None, as_json: bool, by: str | None, entry: str | None, **sent: Any) -> None:
    from tickets.floor import buckets as floor

    with _shop(folder, make=True) as db:
        code = floor.mix(db, _actor(db, by), _form(**sent), post=_post(entry), now=_now())
        made = _bucket(floor.find(db, code))
        if as_json:
            _print_json([made])
            return
        until = _("good until {time}").format(time=_local(db, made["good_until"])) if made["good_until"] else ""
        click.echo("  ".join(part for part in (made["shown"], made["kind"], made["product"], until) if part))


def _bucket(found: Any) -> dict[str, Any]:
    from dataclasses import asdict

    rest = {name: value for name, value in asdict(found).items() if name not in {"id", "code"}}
    return {"code": found.code, "shown": _shown(found.code), **rest}


@command(
    bucket,
    "list",
    N_("Lists the buckets that are not discarded."),
    option("--all", "every", is_flag=True, help=N_("All of them.")),
    _JSON,
)
def bucket_list(every: bool, as_json: bool, folder: Path | None) -> None:
    from tickets.store import buckets

    with _shop(folder) as db:
        found = buckets.every(db, limit=_MOST) if every else buckets.open_ones(db, limit=_MOST)
        if as_json:
            _print_json([_bucket(one) for one in found])
        else:
            _table(
                [[_shown(one.code), one.kind, one.product, one.lot, _local(db, one.good_until)] for one in found],
                _("No buckets."),
            )


@command(bucket, "show", N_("Shows a bucket and its log."), _JSON)
@click.argument("code")
def bucket_show(code: str, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import buckets as floor

    with _shop(folder) as db:
        found = floor.find(db, code)
        shown = {**_bucket(found), "past": found.past(_now()), "log": _log(db, "bucket", found.id)}
        if as_json:
            _print_json(shown)
            return
        click.echo(floor.named(found))
        if found.good_until:
            until = _("past its time since {time}") if shown["past"] else _("good until {time}")
            click.echo(until.format(time=_local(db, found.good_until)))
        _print_log(db, shown["log"])


@command(
    bucket,
    "log",
    N_("Logs a step of a bucket: use, test, discard, note."),
    _AT,
    _ENTRY,
    _BY,
    _JSON,
    context_settings=_FREE,
)
@click.argument("code")
@click.argument("step")
@click.argument("fields", nargs=-1, type=click.UNPROCESSED)
def bucket_log(
    code: str,
    step: str,
    fields: tuple[str, ...],
    at: str | None,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import buckets as floor
    from tickets.floor.posting import form

    sent: dict[str, Any] = _collected(fields)
    if step == "cross-out" and "crosses" not in sent:
        sent["crosses"], entry = entry, None
    if at:
        sent["at"] = at
    with _shop(folder, make=True) as db:
        found = floor.find(db, code)
        made = floor.log(db, _actor(db, by), found, step, form(sent), post=_post(entry), now=_now())
    if as_json:
        _print_json({"code": found.code, "entries": made})
    else:
        click.echo(_("{code}: {step} logged.").format(code=_shown(found.code), step=step))


place = _group("place", N_("Racks, carts, cabinets and presses."))


@command(
    place,
    "add",
    N_("Adds a place."),
    option("--kind", required=True, help=N_("rack, cart, cabinet or press.")),
    option("--outside", is_flag=True, help=N_("It is not in the shop: screens there read as away.")),
    option("--heads", type=_Whole(), help=N_("Heads of a press.")),
    option("--turns", default="", help=N_("How a press turns: clockwise, anticlockwise or any order.")),
    _ENTRY,
    _BY,
    _JSON,
)
@click.argument("name")
def place_add(
    name: str,
    kind: str,
    outside: bool,
    heads: int | None,
    turns: str,
    entry: str | None,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import places as floor
    from tickets.store import places

    with _shop(folder, make=True) as db:
        how = _actor(db, by), name, kind
        code = floor.add(db, *how, post=_post(entry), now=_now(), outside=outside, heads=heads, turns=turns)
        made = [_place(one) for one in places.every(db) if one.code == code]
    if as_json:
        _print_json(made)
    else:
        click.echo(f"{_shown(code)}  {name}")


def _place(found: Any) -> dict[str, Any]:
    return {
        "code": found.code,
        "shown": _shown(found.code),
        "name": found.name,
        "kind": found.kind,
        "outside": found.outside,
        "heads": found.heads,
        "turns": found.turns if found.kind == "press" else None,
    }


@command(place, "list", N_("Lists the places."), option("--kind", help=N_("Only those of this kind.")), _JSON)
def place_list(kind: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.store import places

    with _shop(folder) as db:
        found = places.every(db, kind or "")
    if as_json:
        _print_json([_place(one) for one in found])
    else:
        _table([[_shown(one.code), one.name, _(one.kind), one.heads] for one in found], _("No places."))


unit = _group("unit", N_("Exposure units."))


@command(
    unit,
    "add",
    N_("Adds an exposure unit."),
    option("--lamp", required=True, help=N_("point, fluorescent or led.")),
    _ENTRY,
    _BY,
    _JSON,
)
@click.argument("name")
def unit_add(name: str, lamp: str, entry: str | None, by: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import places as floor

    with _shop(folder, make=True) as db:
        floor.add_unit(db, _actor(db, by), name, lamp, post=_post(entry), now=_now())
    if as_json:
        _print_json([{"name": name, "lamp": lamp}])
    else:
        click.echo(name)


@command(unit, "list", N_("Lists the exposure units."), _JSON)
def unit_list(as_json: bool, folder: Path | None) -> None:
    from tickets.store import places

    with _shop(folder) as db:
        found = places.units(db)
    if as_json:
        _print_json([{"name": one.name, "lamp": one.lamp} for one in found])
    else:
        _table([[one.name, one.lamp] for one in found], _("No exposure units."))


# Paper --------------------------------------------------------------------------------------------------------------

paper = _group("print", N_("Tags and tickets as PDF."))
_OUT = option("--out", required=True, type=click.Path(path_type=Path, dir_okay=False), help=N_("The PDF to write."))
_ANYWAY = option("--anyway", is_flag=True, help=N_("Print although the address would not do."))


def _named(file: Path) -> None:
    if not file.name:
        raise click.UsageError(_("Name the file to write."))


def _write_pdf(out: Path, as_json: bool, made: Callable[[], Any]) -> None:
    """Prints into a file; that it can be written is known before the shop notes that it was printed."""
    from tickets.records.refusal import NotNow
    from tickets.store import private

    _named(out)
    try:
        with private.whole(out, mode=0o666) as file:
            printed = made()
            file.write(printed.pdf)
    except OSError as error:
        raise NotNow(_("{out} cannot be written: {error}.").format(out=out, error=error.strerror)) from None
    if as_json:
        _print_json({"out": str(out), "printed": list(printed.numbers), "warnings": list(printed.warnings)})
        return
    click.echo(str(out))
    for warning in printed.warnings:
        click.echo(warning, err=True)


@command(
    paper,
    "tags",
    N_("Tags of screens, places or buckets: one per label, or sheets to cut."),
    _OUT,
    option("--label", default="100x50mm", show_default=True, help=N_("Size of a label.")),
    option("--sheet", help=N_("A4 or Letter: several to a sheet.")),
    _ANYWAY,
    _BY,
    _JSON,
)
@click.argument("codes", nargs=-1, required=True)
def print_tags(
    codes: tuple[str, ...],
    out: Path,
    label: str,
    sheet: str | None,
    anyway: bool,
    by: str | None,
    as_json: bool,
    folder: Path | None,
) -> None:
    from tickets.floor import printing

    with _shop(folder) as db:
        actor = _actor(db, by)
        _write_pdf(
            out,
            as_json,
            lambda: printing.print_tags(db, actor, codes, label=label, sheet=sheet, anyway=anyway, now=_now()),
        )


@command(
    paper,
    "job",
    N_("The ticket that travels with a job."),
    _OUT,
    option("--paper", "size", default="A4", show_default=True, help=N_("A4 or Letter.")),
    _ANYWAY,
    _BY,
    _JSON,
)
@click.argument("code")
def print_job(
    code: str, out: Path, size: str, anyway: bool, by: str | None, as_json: bool, folder: Path | None
) -> None:
    from tickets.floor import printing

    with _shop(folder) as db:
        actor = _actor(db, by)
        _write_pdf(out, as_json, lambda: printing.print_job(db, actor, code, paper=size, anyway=anyway, now=_now()))


@command(
    paper,
    "run",
    N_("The papers of a run: its set-up sheet, or how it compares with the print before it."),
    _OUT,
    option(
        "--what",
        default="set-up",
        show_default=True,
        type=click.Choice(["set-up", "comparison", "customer"]),
        help=N_("The sheet, the comparison, or the customer's sheet (of a first order too)."),
    ),
    option("--garment", default="", help=N_("The garment of a comparison, by its number on the job sheet.")),
    option("--paper", "size", default="A4", show_default=True, help=N_("A4 or Letter.")),
    _ANYWAY,
    _BY,
    _JSON,
)
@click.argument("number", type=_Whole(0, _MOST))
def print_run(
    number: int, out: Path, what: str, garment: str, size: str, anyway: bool, by: str | None, as_json: bool,
    folder: Path | None,
) -> None:  # fmt: skip
    from tickets.floor import sheets

    with _shop(folder) as db:
        actor = _actor(db, by)
        if what == "set-up":
            _write_pdf(
                out, as_json, lambda: sheets.print_setup(db, actor, number, paper=size, anyway=anyway, now=_now())
            )
            return
        customer = what == "customer"
        _write_pdf(
            out,
            as_json,
            lambda: sheets.print_comparison(
                db, actor, number, for_customer=customer, paper=size, garment=garment, anyway=anyway, now=_now()
            ),
        )


def _print_one(kind: str, label: str, about: str) -> None:
    @command(
        paper,
        kind,
        about,
        _OUT,
        option("--label", default=label, show_default=True, help=N_("Size of the label.")),
        _ANYWAY,
        _BY,
        _JSON,
    )
    @click.argument("code")
    def print_one(
        code: str, out: Path, label: str, anyway: bool, by: str | None, as_json: bool, folder: Path | None
    ) -> None:
        from tickets.floor import printing

        act = printing.print_bucket if kind == "bucket" else printing.print_place
        with _shop(folder) as db:
            actor = _actor(db, by)
            _write_pdf(out, as_json, lambda: act(db, actor, code, label=label, anyway=anyway, now=_now()))


_print_one("bucket", "100x75mm", N_("The label of a mixed lot, with its cautions."))
_print_one("place", "100x50mm", N_("The tag of a rack, cart, cabinet or press."))


@command(paper, "again", N_("Prints again what was printed for a code, saying the same."), _OUT, _JSON)
@click.argument("code")
def print_again(code: str, out: Path, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import printing

    with _shop(folder) as db:
        _write_pdf(out, as_json, lambda: printing.reprint(db, code))


@command(paper, "outdated", N_("Tickets with an old address, and job tickets whose job was changed."), _JSON)
def print_outdated(as_json: bool, folder: Path | None) -> None:
    from tickets.floor import printing

    with _shop(folder) as db:
        behind, jobs = printing.left_behind(db), printing.outdated_jobs(db)
    if as_json:
        _print_json({"left_behind": behind, "jobs": jobs})
        return
    rows = [[_shown(one["code"]), _(one["kind"]), one["address"]] for one in behind]
    for one in jobs:
        said = _("says version {printed}, is at {now}").format(printed=one["printed"], now=one["now"])
        rows.append([_shown(one["code"]), _("job"), said])
    _table(rows, _("Every printed ticket says the truth."))


# People, settings, spec ---------------------------------------------------------------------------------------------

person = _group("person", N_("People and their roles."))


@command(
    person,
    "add",
    N_("Adds a person; the PIN (managers: password) is asked for."),
    option("--role", required=True, help=N_("screen room, press, press lead or manager.")),
    option("--secret-stdin", is_flag=True, help=N_("Read the PIN or password from standard input.")),
    option("--back", is_flag=True, help=N_("Somebody who left the shop is back: the same person in the log.")),
    _BY,
    _JSON,
)
@click.argument("name")
def person_add(
    name: str, role: str, secret_stdin: bool, back: bool, by: str | None, as_json: bool, folder: Path | None
) -> None:
    from tickets.floor import people as floor
    from tickets.store.settings import setting

    with _shop(folder, make=True) as db:
        actor = _manager(db, by, _("The manager adds people."))
        asks = _("Password") if role == "manager" else _("PIN")
        with _as_typed({"role": "--role", "new_secret": asks, "back": "--back"}):
            floor.check_new(db, name, role, back=back)  # nobody types a secret in vain
            secret = _asked_secret(asks, secret_stdin)
            floor.add_person(db, name, role, secret, _now(), demo=bool(setting(db, "demo")), back=back, by=actor)
    if as_json:
        _print_json([{"name": name, "role": role}])
    else:
        click.echo(f"{name}  {_(role)}")


def _asked_secret(asks: str, from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    if sys.stdin is sys.__stdin__ and not (sys.stdin and sys.stdin.isatty()):
        unasked = _("There is no terminal to ask for the {secret} at: use --secret-stdin.")
        raise Stopped([unasked.format(secret=asks)])
    return str(click.prompt(asks, hide_input=True, confirmation_prompt=True))


@command(
    person,
    "secret",
    N_("Gives a person a new PIN (managers: password), at the machine itself: forgotten, or not in a restored backup."),
    option("--secret-stdin", is_flag=True, help=N_("Read the PIN or password from standard input.")),
    _BY,
    _JSON,
)
@click.argument("name")
def person_secret(name: str, secret_stdin: bool, by: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import people as floor
    from tickets.store.settings import setting

    with _shop(folder) as db:
        actor, who = _manager(db, by, _("The manager gives out PINs.")), _actor(db, name)
        asks = _("Password") if who.role == "manager" else _("PIN")
        with _as_typed({"new_secret": asks}):
            secret = _asked_secret(asks, secret_stdin)
            demo = bool(setting(db, "demo"))
            floor.change_person(db, who.id, who.role, secret or " ", _now(), demo=demo, by=actor)
    if as_json:
        _print_json({"name": who.name, "role": who.role})
    else:
        click.echo(_("{name} signs in with the new one from now on.").format(name=who.name))


@command(person, "list", N_("Lists the people."), _JSON)
def person_list(as_json: bool, folder: Path | None) -> None:
    from tickets.store import people

    with _shop(folder) as db:
        found = people.every(db)
    if as_json:
        _print_json([{"name": one.name, "role": one.role} for one in found])
    else:
        _table([[one.name, _(one.role)] for one in found], _("Nobody yet."))


settings = _group("settings", N_("The shop's settings."))
_KEPT_BACK = ("first_manager", "demo", "address")
"""Not set by hand: the first by serving, the second by the demo, the last by `tickets address`."""


@command(settings, "show", N_("Shows the settings."), _JSON)
def settings_show(as_json: bool, folder: Path | None) -> None:
    from tickets.store.settings import settings as every

    with _shop(folder) as db:
        found = {name: value for name, value in every(db).items() if name != "first_manager"}
    if as_json:
        _print_json(found)
    else:
        _table([[name, json.dumps(value, ensure_ascii=False)] for name, value in found.items()], "")


@command(
    settings,
    "set",
    N_("Changes a setting: shop, zone, units, language, steps (a,b,c), shift_hours, ..."),
    _BY,
    _JSON,
)
@click.argument("name")
@click.argument("value")
def settings_set(name: str, value: str, by: str | None, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import shop
    from tickets.store.settings import setting

    with _shop(folder, make=True) as db:
        shop.set_up(db, _actor(db, by), name, _setting(name, value), now=_now())
        kept = setting(db, name)
    if as_json:
        _print_json({name: kept})
    else:
        click.echo(f"{name}  {json.dumps(kept, ensure_ascii=False)}")


def _setting(name: str, text: str) -> Any:
    """A setting as it is kept, from what was typed."""
    from tickets.records.nights import WHOLE
    from tickets.records.refusal import NotFound, Refused
    from tickets.store.settings import DEFAULTS
    from tickets.words import LANGUAGES

    if name == "address":
        raise Refused(_("Set it with: tickets address URL"), name)
    if name not in DEFAULTS or name in _KEPT_BACK:
        names = ", ".join(known for known in DEFAULTS if known not in _KEPT_BACK)
        raise NotFound(_("There is no setting “{name}”; there are: {names}.").format(name=name[:40], names=names))
    if name == "shop" and not (len(text) <= 60 and text.isprintable()):
        raise Refused(_("At most 60 letters, all of them printable."), name)
    if name == "language" and text not in LANGUAGES:
        raise Refused(_("One of: {choices}.").format(choices=", ".join(LANGUAGES)), name)
    if name == "shift_hours":
        from tickets.records.pool import read_shift_hours

        return read_shift_hours(text)
    if name in WHOLE:
        from tickets.calculator.numerals import counted

        return counted(text, -1)  # what is no number is refused with the span
    if name == "steps":
        return [step.strip() for step in text.split(",") if step.strip()]
    if name == "presets":
        return _presets(text)
    return text.strip()


def _presets(text: str) -> list[dict[str, Any]]:
    from tickets.records.refusal import Refused

    try:
        found = json.loads(text)
        return [
            {"name": str(one["name"]), "print_side": int(one["print_side"]), "squeegee_side": int(one["squeegee_side"])}
            for one in found
        ]
    except (ValueError, TypeError, KeyError):
        example = '[{"name": "1+1 round edge", "print_side": 1, "squeegee_side": 1}]'
        raise Refused(_("Presets are JSON, such as {example}").format(example=example), "presets") from None


spec = _group("spec", N_("The shop's limits; the page shows their history and changes them."))


@command(spec, "list", N_("Lists the limits that count now, each with where it comes from."), _JSON)
def spec_list(as_json: bool, folder: Path | None) -> None:
    from tickets.floor.posting import the_spec
    from tickets.store import people

    with _shop(folder) as db:
        rows, names = the_spec(db).rows, people.names(db)
    if as_json:
        _print_json(
            [
                {
                    "row": row.id,
                    "key": row.key,
                    "value": row.value,
                    "unit": row.unit,
                    "conditions": dict(row.conditions),
                    "source": row.source,
                    "at": row.at,
                    "person": names.get(row.person),
                }
                for row in rows
            ]
        )
        return
    _table(
        [
            [
                row.id,
                row.key,
                f"{row.value:g} {row.unit}",
                ", ".join(f"{k} {v}" for k, v in row.conditions.items()),
                row.source,
            ]
            for row in rows
        ],
        _("No limits."),
    )


# The shop as a whole ------------------------------------------------------------------------------------------------


@command(
    root,
    "export",
    N_("Writes everything into a folder: the log as entries.csv and entries.jsonl, the other files likewise."),
    option("--out", required=True, type=click.Path(path_type=Path, file_okay=False), help=N_("The folder.")),
    _JSON,
)
def export(out: Path, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import exports

    with _shop(folder) as db:
        found = exports.export(db, out)
    if as_json:
        _print_json({"out": str(out), **found})
    else:
        said = ngettext("{number} entry in {out}", "{number} entries in {out}", found["entries"])
        click.echo(said.format(number=found["entries"], out=out))


@command(root, "check", N_("Proves that the shop is sound; else says what is not, and what to do."), _JSON)
def check(as_json: bool, folder: Path | None) -> None:
    from tickets.floor import shop

    with _shop(folder) as db:
        faults = shop.check(db)
    if faults:
        raise Stopped(faults, beside={"sound": False, "faults": faults})
    if as_json:
        _print_json({"sound": True, "faults": []})
    else:
        click.echo(_("sound"))


@command(root, "rebuild", N_("Works standings, counts and dues out of the log anew."))
def rebuild(folder: Path | None) -> None:
    from tickets.floor import shop

    with _shop(folder) as db:
        shop.rebuild(db)
    click.echo(_("Worked out anew."))


@command(root, "repair", N_("Makes what is worked out anew from the log; a new file where pages are damaged."), _JSON)
def repair(as_json: bool, folder: Path | None) -> None:
    from tickets import store
    from tickets.floor import backup

    folder = _folder(folder)
    if not store.exists(folder):
        raise _no_shop(folder)
    done = backup.repair(folder, now=_now())
    anew, left = [one.what for one in done.anew], [str(one) for one in done.findings]
    if as_json:
        _print_json({"made_anew": anew, "faults": left, "kept": str(done.kept) if done.kept else None})
    else:
        for line in anew:
            click.echo(_("made anew: {what}").format(what=line))
        if done.kept:
            click.echo(_("The damaged file is kept as {file}").format(file=done.kept))
        click.echo(_("sound") if not left else _("All that the log says is there. What is still wrong:"))
    if left:
        raise Findings(left)


@command(
    root,
    "backup",
    N_("Copies a live shop with its pictures into a zip file and checks it. Exit status 1: made, not all sound."),
    option("--force", is_flag=True, help=N_("Put it in the place of a backup that is there.")),
    option("--with-secrets", is_flag=True, help=N_("With the hashes of PINs and passwords: keep it locked away.")),
    _JSON,
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def backup(file: Path, force: bool, with_secrets: bool, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import backup as copies

    _named(file)
    with _as_it_is(_folder(folder)) as db:
        made = copies.make(db, file, now=_now(), force=force, with_secrets=with_secrets)
    found = [str(one) for one in made.findings]
    if as_json:
        _print_json({"file": str(file), "bytes": made.bytes, "pictures": made.pictures, "faults": found})
    else:
        click.echo(str(file))
        if not with_secrets:
            click.echo(_("PINs and passwords are not in it: after a restore each person gets a new one."))
    if found:
        raise Findings([_("The backup was made. What is wrong in it:"), *found])


@command(
    root,
    "nightly",
    N_("Makes the backup of the night now, as serving does by itself: tried out, and old ones removed."),
    option("--when-due", is_flag=True, help=N_("Only when one is due by the settings and was not made yet.")),
    _JSON,
)
def nightly(when_due: bool, as_json: bool, folder: Path | None) -> None:
    from dataclasses import asdict

    from tickets.floor import nightly as nights

    with _as_it_is(_folder(folder)) as db:
        if when_due and not nights.due(db, _now()):
            return
        made = nights.make(db, _now())
    wrong = nights.wrong(made)
    if made.error:
        raise Stopped(wrong, beside=asdict(made))
    if as_json:
        _print_json(asdict(made))
    else:
        click.echo(made.file)
    if wrong:
        raise Findings([_("The backup was made. What is wrong in it:"), *wrong])


@contextmanager
def _as_it_is(folder: Path) -> Iterator[Database]:
    """The shop for a copy: brought up to date first, where that can be done."""
    import sqlite3

    from tickets import store
    from tickets.records.refusal import Refused, Trouble

    if not store.exists(folder):
        raise _no_shop(folder)
    try:
        with _shop(folder):
            pass
    except (Refused, Trouble, sqlite3.Error, OSError):
        pass  # a full disk, one that cannot be written, damaged pages: all the more it must be copied
    db = store.look(folder)
    try:
        yield db
    finally:
        db.close()


@command(
    root,
    "restore",
    N_("Makes the shop of a backup in an empty folder. Exit status 1: done, but something is missing."),
    _JSON,
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def restore(file: Path, as_json: bool, folder: Path | None) -> None:
    from tickets.floor import backup as copies

    folder = _folder(folder)
    done = copies.restore(file, folder, now=_now())
    anew, left = [one.what for one in done.anew], [str(one) for one in done.findings]
    if as_json:
        _print_json({"folder": str(folder), "made_anew": anew, "faults": left, "with_secrets": done.with_secrets})
    else:
        click.echo(_("The shop is in {folder}").format(folder=folder))
        for line in anew:
            click.echo(_("made anew: {what}").format(what=line))
        for line in _next(folder, done.address, done.with_secrets):
            click.echo(line)
    if left:
        raise Findings([_("Every entry is there. What is wrong or missing:"), *left])


def _next(folder: Path, address: str, with_secrets: bool) -> Iterator[str]:
    """What to do after a restore, a line each."""
    yield _("Serve it with: tickets serve --data {folder}").format(folder=folder)
    if address:
        yield _(
            "The codes on its paper lead to {address}: give this machine that address, or set another one with "
            "tickets address URL and print the tickets again."
        ).format(address=address)
    if with_secrets:
        yield _("PINs and passwords are the old ones.")
    else:
        yield _("It has no PINs: give each person a new one, the manager first, with: tickets person secret NAME")


def main() -> None:
    """The console script."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal that cannot show a letter shows its number
            stream.reconfigure(errors="backslashreplace")
    root(prog_name="tickets")


if __name__ == "__main__":
    main()
