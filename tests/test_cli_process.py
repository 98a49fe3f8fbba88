"""The command as a process of its own: what it loads, how it serves, how it ends."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from queue import Empty, Queue

import pytest
from shop import ROOT, Clock, as_installed, commands

SCRIPT = Path(sys.executable).parent / ("tickets.exe" if os.name == "nt" else "tickets")
COMMANDS = [[sys.executable, "-m", "tickets.cli"], *([[str(SCRIPT)]] if SCRIPT.exists() else [])]
"""The module, and the console script where the project is installed."""
Run = Callable[..., "subprocess.CompletedProcess[str]"]


def run(*arguments: object, command: list[str] = COMMANDS[0], **more: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*command, *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=60,
        env=as_installed(),
        **more,  # type: ignore[call-overload]
    )


ONE_BY_ONE = (
    "import io, json, sys\n"
    "from contextlib import redirect_stderr, redirect_stdout\n"
    "from tickets import cli\n"
    "for given in json.loads(sys.argv[1]):\n"
    "    code, out, err = None, io.StringIO(), io.StringIO()\n"
    "    with redirect_stdout(out), redirect_stderr(err):\n"
    "        try: cli.root(given, prog_name='tickets')\n"
    "        except SystemExit as end: code = end.code or 0\n"
    "    print(json.dumps([code, out.getvalue(), err.getvalue()]), flush=True)\n"
)


def one_by_one(
    *many: tuple[object, ...], command: list[str] = COMMANDS[0][:1], **more: object
) -> list[subprocess.CompletedProcess[str]]:
    """The same for several commands, in one process, which loads the program once. `command`: the interpreter."""
    sent = json.dumps([[str(one) for one in arguments] for arguments in many])
    done = run("-c", ONE_BY_ONE, sent, command=command, **more)
    assert done.returncode == 0, done.stderr  # of what is no way for a command to end
    found = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(found) == len(many), done.stdout
    return [subprocess.CompletedProcess(arguments, *one) for arguments, one in zip(many, found, strict=True)]


@contextmanager
def serving(*arguments: object) -> Iterator[tuple[str, list[str], subprocess.Popen[str]]]:
    """A server on a free port: its address on this machine, the lines it printed till it served, the process."""
    process = subprocess.Popen(
        [*COMMANDS[0], *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env=as_installed(),
    )
    assert process.stdout is not None and process.stderr is not None
    lines: Queue[str] = Queue()
    reader = threading.Thread(target=lambda out: [lines.put(line) for line in out], args=(process.stdout,), daemon=True)
    reader.start()
    said: list[str] = []
    try:
        while not any(re.search(r"http://[^ ]+:\d+", line) for line in said):
            said.append(lines.get(timeout=60))
        port = re.search(r"http://[^ ]+:(\d+)", said[-1])
        assert port is not None
        address = f"http://127.0.0.1:{port[1]}"
        assert get(f"{address}/ping")[0] == 200  # it answers, so it has said all
        with suppress(Empty):
            while True:
                said.append(lines.get(timeout=0.1))
        yield address, said, process
    except Empty:
        process.kill()
        raise AssertionError(f"it did not serve: {said} {process.stderr.read()}") from None
    finally:
        if process.poll() is None:
            process.terminate()
        process.wait(20)
        reader.join(5)
        process.stdout.close()
        process.stderr.close()


def get(address: str) -> tuple[int, str]:
    try:
        with urllib.request.urlopen(address, timeout=20) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: Path(command[-1]).name)
def test_the_version_and_the_calculator(command: list[str]) -> None:
    assert re.fullmatch(r"tickets \d+\.\d+\.\d+\n", run("--version", command=command).stdout)
    answer = run("calc", "mesh", "--count", "225/in", "--thread", "40 um", "--json", command=command)
    assert json.loads(answer.stdout)["calculation"] == "mesh"


def test_neither_loads_the_pages() -> None:
    """The design: the module imports click and the standard library, the rest when used."""
    script = (
        "import sys; from tickets import cli\n"
        "before = {name.split('.')[0] for name in sys.modules}\n"
        "assert not before & {'flask', 'waitress', 'pint', 'sqlite_utils', 'reportlab', 'segno', 'web'}, before\n"
        "try: cli.root(sys.argv[1:], prog_name='tickets')\n"
        "except SystemExit as end: assert not end.code\n"
        "after = {name.split('.')[0] for name in sys.modules}\n"
        "assert not after & {'flask', 'waitress', 'reportlab', 'segno', 'web'}, after\n"
    )
    for arguments in (["--version"], ["calc", "mesh", "--count", "225/in", "--thread", "40 um"]):
        done = subprocess.run(
            [sys.executable, "-c", script, *arguments], capture_output=True, text=True, env=as_installed(), timeout=60
        )
        assert done.returncode == 0, done.stderr


def test_serving_a_new_shop(tmp_path: Path) -> None:
    data = tmp_path / "shop"
    with serving("serve", "--data", data, "--port", "0") as (address, said, process):
        link = re.search(r"http://\S+(/first-manager/\S+)", "".join(said))
        assert link is not None, said
        assert get(f"{address}/ping")[0] == 200
        status, page = get(f"{address}{link[1]}")
        assert status == 200 and "<form" in page
        assert get(f"{address}/first-manager/wrong")[0] == 404

        second, other, beside = one_by_one(
            ("serve", "--data", data, "--port", "0"),
            ("serve", "--data", tmp_path / "other", "--port", address.rsplit(":", 1)[1]),
            ("place", "add", "Rack 1", "--kind", "rack", "--data", data),
        )
        assert second.returncode == 2 and len(second.stderr.splitlines()) == 1 and "already serves" in second.stderr
        assert other.returncode == 2 and "in use" in other.stderr and "Traceback" not in other.stderr
        assert beside.returncode == 0  # the command line works beside a server
        process.send_signal(signal.SIGTERM)
        assert process.wait(20) == 0
    add = commands(data)("person", "add", "Di", "--role", "manager", "--secret-stdin", stdin="long enough\n")
    assert add.exit_code == 0, add.output
    with serving("serve", "--data", data, "--port", "0") as (_address, said, _process):
        assert "first-manager" not in "".join(said)


def test_a_start_by_a_clock_that_may_be_wrong_says_so(folder: Path, clock: Clock) -> None:
    clock.now = datetime.now(UTC) + timedelta(days=3)
    made = commands(folder)("screen", "add", "--count", "230/in", "--frame", "aluminium")
    assert made.exit_code == 0
    with serving("serve", "--host", "127.0.0.1", "--port", "0", "--data", folder) as (address, said, _process):
        told = "".join(said)
        assert "Nothing can be saved now" in told and f"{address}/clock" in told
        assert get(f"{address}/ping") == (200, "ok")


def test_an_address_that_is_not_this_machines(tmp_path: Path) -> None:
    done = run("serve", "--data", tmp_path, "--host", "192.0.2.77", "--port", "0")  # RFC 5737: nobody's
    assert done.returncode == 2 and "192.0.2.77" in done.stderr and "Traceback" not in done.stderr


WITHOUT_ROOTS_RIGHTS = (
    "import ctypes, os, sys\n"
    "for right in (1, 2): ctypes.CDLL(None).prctl(24, right, 0, 0, 0)\n"  # PR_CAPBSET_DROP, CAP_DAC_*: capabilities(7)
    "os.execv(sys.executable, [sys.executable, *sys.argv[1:]])\n"
)


@pytest.mark.skipif(os.name == "nt", reason="folders are protected in another way there")
def test_a_read_only_folder_is_one_line(tmp_path: Path) -> None:
    data = tmp_path / "shop"
    assert commands(data)("place", "add", "Rack 1", "--kind", "rack").exit_code == 0
    python = [sys.executable, "-c", WITHOUT_ROOTS_RIGHTS] if os.geteuid() == 0 else [sys.executable]
    serve = ("serve", "--port", "0", "--data", data)
    for file in data.iterdir():
        file.chmod(0o444)
    data.chmod(0o555)
    try:
        add, ask = ("place", "add", "R", "--kind", "rack", "--data", data), ("place", "list", "--data", data)
        for done in one_by_one(add, ask, serve, command=python):
            assert done.returncode == 2 and len(done.stderr.splitlines()) == 1, done.stderr
            assert str(data) in done.stderr and "Traceback" not in done.stderr
            assert "make it writable" in done.stderr and "()" not in done.stderr, done.stderr
    finally:
        data.chmod(0o755)
    (done,) = one_by_one(serve, command=python)  # the folder is not, its files are read-only
    assert done.returncode == 2 and len(done.stderr.splitlines()) == 1, done.stderr
    assert str(data) in done.stderr and "make it writable" in done.stderr
    (data / "serving.lock").unlink(missing_ok=True)
    done = run("-m", "tickets.cli", *serve, command=python)
    assert done.returncode == 2 and len(done.stderr.splitlines()) == 1 and "shop.db is read-only" in done.stderr


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    folder = tmp_path / "file" / "shop"
    asked = (("serve", "--port", "0"), ("demo", "--port", "0"), ("place", "add", "R", "--kind", "rack"))
    for done in one_by_one(*((*arguments, "--data", folder) for arguments in asked)):
        assert done.returncode == 2 and len(done.stderr.splitlines()) == 1, done.stderr
        assert str(folder) in done.stderr and "make it writable" in done.stderr


def test_without_a_terminal_the_pin_is_not_asked_for(tmp_path: Path) -> None:
    away = {"stdin": subprocess.DEVNULL, "start_new_session": True}
    add = ("person", "add", "Di", "--data", tmp_path / "shop", "--role")
    done, wrong = one_by_one((*add, "press"), (*add, "chef"), **away)
    assert (done.returncode, done.stdout) == (2, "") and len(done.stderr.splitlines()) == 1, done.stderr
    assert "--secret-stdin" in done.stderr
    assert wrong.returncode == 2 and len(wrong.stderr.splitlines()) == 1 and "--role" in wrong.stderr


def test_the_demo(tmp_path: Path, clock: Clock) -> None:
    data, clock.now = tmp_path / "demo", datetime.now(UTC)  # the demo is of today
    with serving("demo", "--data", data, "--port", "0") as (address, said, _process):
        text = "".join(said)
        assert "DEMO" in text
        name, secret = re.findall(r"^  (\w+ \w+) +press(?: crew)? +(\d{4})$", text, re.M)[0]
        form = urllib.parse.urlencode({"name": name, "secret": secret}).encode()
        request = urllib.request.Request(f"{address}/sign-in", form, {"Origin": address})
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        with opener.open(request, timeout=20) as answer:
            assert answer.status == 200 and "/sign-in" not in answer.url
        again = run("demo", "--data", data, "--port", "0")
        assert again.returncode == 2 and "already serves" in again.stderr
    assert not list(data.glob("building-*"))
    out = tmp_path / "tags.pdf"
    tickets = commands(data)
    code = json.loads(tickets("screen", "list", "--json", "--limit", "1").stdout)[0]["code"]
    printed = tickets("print", "tags", code, "--out", out)  # its own address, loopback too
    assert printed.exit_code == 0 and printed.stderr == "" and out.exists()
    assert tickets("check").stdout == "sound\n"
    assert tickets("place", "add", "Mine", "--kind", "rack").exit_code == 0
    with serving("demo", "--data", data, "--port", "0", "--keep"):
        pass
    assert "Mine" in tickets("place", "list").stdout
    with serving("demo", "--data", data, "--port", "0"):
        pass
    assert "Mine" not in tickets("place", "list").stdout
    refused = run("serve", "--data", data, "--port", "0")
    assert refused.returncode == 2 and "tickets demo" in refused.stderr


def test_a_terminal_without_the_letters(tmp_path: Path) -> None:
    for kind in ("toml", "png"):
        shutil.copy(ROOT / "sample_jobs" / f"taverna-tote.{kind}", tmp_path)
    done = subprocess.run(
        [*COMMANDS[0], "job", "check", "taverna-tote.toml"],
        capture_output=True,
        cwd=tmp_path,
        env={**as_installed(), "PYTHONIOENCODING": "ascii"},
        timeout=60,
    )
    assert done.returncode == 0, done.stderr


def test_json_stays_json_on_a_terminal_without_the_letters(tmp_path: Path) -> None:
    assert commands(tmp_path)("place", "add", "Półka", "--kind", "rack").exit_code == 0
    done = subprocess.run(
        [*COMMANDS[0], "place", "list", "--json", "--data", str(tmp_path)],
        capture_output=True,
        env={**as_installed(), "PYTHONIOENCODING": "ascii"},
        timeout=60,
    )
    assert json.loads(done.stdout.decode("ascii"))[0]["name"] == "Półka"


def test_a_port_that_somebody_else_has(tmp_path: Path) -> None:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        port = held.getsockname()[1]
        done = run("serve", "--data", tmp_path, "--host", "127.0.0.1", "--port", port)
    assert done.returncode == 2 and len(done.stderr.splitlines()) == 1 and str(port) in done.stderr
