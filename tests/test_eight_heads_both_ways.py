"""An eight-head job of two garments and two placements, from its file to the approval of its reorder: once by the pages
alone, each form filled in as it stands on its page, once by the command line alone. Both logs are the same, entry by
entry: the step, what it is about, who, the values, the verdict, who went past what. Codes, ids and times are each
shop's own."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from conftest import PEOPLE
from simulated_hands import Pages
from sqlite_utils import Database

from tickets import cli, store
from tickets.actions import people as people_acts
from tickets.cli import given
from tickets.domain.jobs.job import read, to_toml
from tickets.domain.person import Actor
from tickets.domain.runs import comparison
from tickets.queries import find as find_now
from tickets.queries import repeats, run_plan, sound
from tickets.store import jobs, people, screens

BEGIN = datetime(2026, 3, 9, 8, tzinfo=UTC)
COLOURS = ("white", "yellow", "orange", "red", "green", "teal", "blue", "black")
LAB = {"lab.1": "93.0 -0.5 1.2", "lab.4": "47.8 66.1 40.2", "lab_light": "D50", "lab_observer": "2°",
       "lab_mode": "M0", "lab_instrument": "bench instrument"}  # fmt: skip


def sheet(title: str, due: str, **more: Any) -> dict[str, Any]:
    """An invented job: eight colours on the front, two on the sleeve, on two garments; the red tee takes no red."""

    def prints(*colours: str) -> list[dict[str, Any]]:
        return [{"does": "print", "colour": one, "ink": "plastisol", "mesh": {"count": "156/in"}} for one in colours]

    tee = {"style": "Heavy tee", "pieces": 40, "fibre": {"cotton": 100}}
    garments = [{**tee, "colour": one} for one in ("grey", "red")]
    return {
        "title": title, "customer": "Meadow Kite Club", "due": due, "art": {"name": "Box kite", "revision": "2"},
        "garment": garments,
        "placement": [{"name": "Full front", "width": "300 mm", "station": prints(*COLOURS)},
                      {"name": "Left sleeve", "width": "80 mm", "station": prints("ivory", "navy")}],
        "colourway": [{"garment": {"style": "Heavy tee", "colour": "red"}, "inks": {"red": False}}],
        **more,
    }  # fmt: skip


@dataclass
class Way:
    """One shop, reached one way, and its clock."""

    folder: Path
    db: Database
    now: datetime = BEGIN
    posts: int = 0

    def who(self, name: str) -> Actor:
        person = people.find(self.db, name)
        assert person is not None
        return Actor(person.id, person.name, person.role)

    def time(self) -> datetime:
        return self.now

    def tick(self) -> str:
        """Some minutes later; the id of what is done then."""
        self.now += timedelta(minutes=4)
        self.posts += 1
        return f"the-day-of-eight-{self.posts:06d}"


@dataclass
class ByPages(Way):
    """Each form is read off its page, filled in, and sent."""

    hands: Pages = field(init=False)

    def __post_init__(self) -> None:
        secrets = {name: secret for name, (_role, secret) in PEOPLE.items()}
        self.hands = Pages(self.folder, self.db, self.time, secrets, b"")

    def fill(self, name: str, page: str, to: str, sent: Mapping[str, Any], button: str = "") -> str:
        """A form of a page; where it leads."""
        post = self.tick()
        there = self.hands.get(self.who(name), page)
        return self.hands.send(self.who(name), there.form(to, *sent), sent, post, button=button).path

    def press(self) -> None:
        self.fill("Di Novak", "/places", "/places/new", {"name": "Press 1", "kind": "press", "heads": "8"})

    def frame(self) -> str:
        sent = {"mesh_count_as_labelled": "156", "mesh_count_as_labelled.unit": "/in", "thread_um": "64",
                "frame": "aluminium"}  # fmt: skip
        self.fill("Ada Holm", "/screens/new", "/screens/new", sent)
        return str(list(self.db.query("SELECT code FROM screens ORDER BY id DESC LIMIT 1"))[0]["code"])

    def log(self, code: str, step: str, **sent: str) -> None:
        self.hands.screens(self.who("Ada Holm"), [find_now.screen(self.db, code)], step, sent, self.tick())

    def job(self, data: dict[str, Any], repeats: str = "") -> str:
        if repeats:
            sent = {"due": data["due"], "reference": ""}
            path = self.fill("Di Novak", f"/jobs/{repeats}/again", f"/jobs/{repeats}/again", sent)
        else:
            sent = {"toml": to_toml(read(data)), "act": "save"}
            path = self.fill("Di Novak", "/jobs/new", "/jobs/new", sent)
        return path.split("?")[0].rpartition("/")[2]

    def open(self, job: str, placement: int) -> int:
        sent = {"job": job, "placement": placement, "press": "Press 1"}
        return self.hands.open_run(self.who("Bo Lind"), sent, self.tick())

    def hang(self, run: int, code: str) -> None:
        self.hands.hang(self.who("Bo Lind"), run, {"screen": code}, self.tick())

    def step(self, run: int, step: str, name: str = "Bo Lind", **sent: str) -> None:
        act = self.hands.sheet if step == "sheet" else None
        if act is not None:
            act(self.who(name), run, sent, self.tick())
        else:
            self.hands.run(self.who(name), run, step, sent, self.tick())


@dataclass
class ByCommand(Way):
    """Each act is one command."""

    def run(self, *arguments: str, by: str) -> Any:
        post = self.tick()
        whole = [*arguments, "--by", by, "--entry", post, "--data", str(self.folder), "--json"]
        result = CliRunner().invoke(cli.root, whole, catch_exceptions=False)
        assert result.exit_code == 0, (arguments, result.output)
        return json.loads(result.stdout)

    def look(self, *arguments: str) -> Any:
        """What a command shows."""
        whole = [*arguments, "--data", str(self.folder), "--json"]
        result = CliRunner().invoke(cli.root, whole, catch_exceptions=False)
        assert result.exit_code == 0, (arguments, result.output)
        return json.loads(result.stdout)

    def press(self) -> None:
        self.run("place", "add", "Press 1", "--kind", "press", "--heads", "8", by="Di Novak")

    def frame(self) -> str:
        options = ("--count", "156/in", "--thread", "64 um", "--frame", "aluminium")
        return str(self.run("screen", "add", *options, by="Ada Holm")[0]["code"])

    def log(self, code: str, step: str, **sent: str) -> None:
        self.run("screen", "log", code, step, *_options(sent), by="Ada Holm")

    def job(self, data: dict[str, Any], repeats: str = "") -> str:
        file = self.folder / "job.toml"
        file.write_text(to_toml(read({**data, **({"repeats": repeats} if repeats else {})})))
        return str(self.run("job", "add", str(file), by="Di Novak")[0]["code"])

    def open(self, job: str, placement: int) -> int:
        options = ("--job", job, "--placement", str(placement), "--press", "Press 1")
        return int(self.run("run", "open", *options, by="Bo Lind")["run"])

    def hang(self, run: int, code: str) -> None:
        offered = self.look("run", "check", str(run), code)
        where = ("--head", str(offered["head"]), "--station", str(offered["station"]))
        self.run("run", "log", str(run), "hang", "--screen", code, *where, by="Bo Lind")

    def step(self, run: int, step: str, name: str = "Bo Lind", **sent: str) -> None:
        self.run("run", "log", str(run), step, *_options(sent), by=name)


def _options(sent: Mapping[str, str]) -> list[str]:
    return [part for name, value in sent.items() for part in (f"--{name}", value)]


def live(way: ByPages | ByCommand) -> list[int]:
    """The day, from the press and the frames to the reorder's first print; the runs."""
    way.press()
    job = way.job(sheet("Kite club tees", "2026-03-12"))
    saved = _saved(way, job)
    codes: dict[int, list[str]] = {}
    for placement in (1, 2):
        for asked in jobs.asked(way.db, saved, placement):
            codes.setdefault(placement, []).append(_made(way, asked.separation))
    spare = _made(way, jobs.asked(way.db, saved, 1)[2].separation)
    way.now += timedelta(hours=12)
    first = _front(way, job, codes[1], spare)
    sleeve = _sleeve(way, job, codes[2])
    again = way.job(sheet("Kite club tees", "2026-03-20"), job)
    way.now += timedelta(days=7)
    hung = [spare if number == 2 else code for number, code in enumerate(codes[1])]
    reorder = way.open(again, 1)
    for code in hung:
        way.hang(reorder, code)
    way.step(reorder, "sheet", **{"s2.squeegee": "65"})
    way.step(reorder, "approve", "Cy Marsh", approved_by="Cy Marsh", approved_as="press", how="piece in hand",
             **LAB)  # fmt: skip
    return [first, sleeve, reorder]


def _saved(way: Way, code: str) -> jobs.Saved:
    from tickets.queries.find import job as find

    return find(way.db, code)


def _made(way: ByPages | ByCommand, separation: int) -> str:
    """A screen from its frame to the light table."""
    code = way.frame()
    way.log(code, "tension", **{"readings_n_per_cm": "27 26 26"})
    way.log(code, "coat", preset="1+1 round edge")
    way.log(code, "image", separations=str(separation), means="film")
    way.log(code, "expose", exposure_s="60")
    way.log(code, "washout", result="good", step_held="7")
    way.log(code, "check", result="good")
    return code


def _front(way: ByPages | ByCommand, job: str, codes: list[str], spare: str) -> int:
    """Eight heads: a stop, a swap, the second garment without red, a pause; kept, but one to be stripped."""
    run = way.open(job, 1)
    for code in codes:
        way.hang(run, code)
    way.step(run, "sheet", **{"s1.strokes": "2", "s2.squeegee": "70", "s4.off_contact": "2 mm", "test_prints": "3"})
    way.step(run, "approve", "Cy Marsh", approved_by="Cy Marsh", approved_as="press", how="piece in hand",
             **LAB)  # fmt: skip
    way.step(run, "start", garment="1")
    way.step(run, "count", good="10")
    way.step(run, "stop", cause="pinhole", minutes="5")
    way.step(run, "swap", old=codes[2], new=spare, why="pinholes", good="5", misprinted="1", cause="pinhole",
             condition="pinholes", then="strip")  # fmt: skip
    way.step(run, "approve", "Cy Marsh", approved_by="Cy Marsh", approved_as="press")
    way.step(run, "count", good="25")
    way.step(run, "change", what="colourway", garment="2")
    way.step(run, "approve", "Cy Marsh", approved_by="Cy Marsh", approved_as="press")
    way.step(run, "count", good="15")
    way.step(run, "pause", **{f"condition.{codes[0]}": "good", f"condition.{codes[7]}": "worn", "good": "5"})
    for number, code in enumerate(codes):
        if number != 3:  # red is not printed on it
            way.hang(run, spare if number == 2 else code)
    if "pause" in {one.why for one in run_plan.plan(way.db, run).to_approve}:
        way.step(run, "approve", "Cy Marsh", approved_by="Cy Marsh", approved_as="press")
    way.step(run, "start")
    way.step(run, "finish", good="20", misprinted="1", cause="misregister", then="keep",
             **{f"condition.{codes[0]}": "good", f"condition.{codes[3]}": "good"})  # fmt: skip
    way.step(run, "use-next-time", "Cy Marsh")
    return run


def _sleeve(way: ByPages | ByCommand, job: str, codes: list[str]) -> int:
    run = way.open(job, 2)
    for code in codes:
        way.hang(run, code)
    way.step(run, "sheet")
    way.step(run, "approve", "Cy Marsh", approved_by="Cy Marsh", approved_as="press")
    way.step(run, "start", garment="1")
    way.step(run, "change", what="colourway", garment="2", good="40")
    way.step(run, "approve", "Cy Marsh", approved_by="Cy Marsh", approved_as="press")
    way.step(run, "finish", good="40", then="keep")
    return run


# What both logs say ---------------------------------------------------------------------------------------------------

OWN = frozenset({"entry", "at", "since_at", "until", "age_d", "age_h", "left_h", "hours_h"})
"""Of a value or a reason: each shop's own ids and times."""
CODE = re.compile(r"\b[0-9A-Z]{5}-?[0-9A-Z]\b")
STAMP = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d")


def codes_of(way: Way) -> dict[str, str]:
    """What each code of a shop stands for, as typed and as printed."""
    issued = way.db.query("SELECT code, kind, thing FROM codes")
    known = {row["code"]: f"{row['kind']} {row['thing']}" for row in issued}
    return known | {f"{code[:5]}-{code[5:]}": name for code, name in known.items()}


def told(way: Way) -> list[dict[str, Any]]:
    """Every entry as both logs must have it."""
    known = codes_of(way)
    plain, data = ("step", "screen", "run", "job", "bucket", "person"), ("vals", "verdict", "override")
    found = []
    for row in way.db.query("SELECT * FROM entries ORDER BY id"):
        read_out = {name: json.loads(row[name]) if row[name] else None for name in data}
        found.append(_plain({**{name: row[name] for name in plain}, **read_out}, known))
    return found


def _plain(value: Any, known: Mapping[str, str]) -> Any:
    if isinstance(value, dict):
        return {known.get(name, name): _plain(one, known) for name, one in value.items() if name not in OWN}
    if isinstance(value, list):
        return [_plain(one, known) for one in value]
    if isinstance(value, str):
        return "a time" if STAMP.match(value) else CODE.sub(lambda found: known.get(found[0], found[0]), value)
    return value


@pytest.fixture
def ways(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[ByPages, ByCommand]:
    made: list[Any] = []
    for name, kind in (("pages", ByPages), ("command", ByCommand)):
        folder = tmp_path / name
        store.prepare(folder)
        db = store.connect(folder)
        for person, (role, secret) in PEOPLE.items():
            people_acts.add_person(db, person, role, secret, BEGIN, demo=True)
        made.append(kind(folder, db))
    monkeypatch.setattr(given, "clock", made[1].time)
    return made[0], made[1]


def test_the_day_is_the_same_by_the_pages_and_by_the_command_line(ways: tuple[ByPages, ByCommand]) -> None:
    pages, command = ways
    runs_by, logs = [live(way) for way in ways], [told(way) for way in ways]
    assert runs_by[0] == runs_by[1]
    for number, (by_page, by_command) in enumerate(zip(*logs, strict=False)):
        assert by_page == by_command, f"entry {number + 1}: {by_page['step']}"
    assert len(logs[0]) == len(logs[1]) > 150
    first, _sleeve_run, reorder = runs_by[0]
    shown = command.look("run", "show", str(first))
    assert shown["pieces"] == [{"garment": "Heavy tee, grey", "good": 40, "misprinted": 1, "ordered": 40},
                               {"garment": "Heavy tee, red", "good": 40, "misprinted": 1, "ordered": 40}]  # fmt: skip
    for way in ways:  # by hand: 10 + 6 + 25 + 15 + 5 + 21 pieces and 3 test prints of two strokes, all in one use
        white = screens.get(way.db, 1)
        assert white is not None and (white.life.impressions, white.life.uses) == (170, 1)
        assert sound.check(way.db) == []
    compared = [_plain(comparison.as_data(found.lines), codes_of(way))
                for way in ways if (found := repeats.compared(way.db, reorder))]  # fmt: skip
    by_command = command.look("run", "compare", str(reorder))
    assert by_command["before"]["run"] == first
    by_command = {name: by_command[name] for name in compared[0]}
    assert compared[0] == compared[1] == _plain(by_command, codes_of(command))
    page = pages.hands.get(pages.who("Di Novak"), f"/runs/{reorder}/comparison")
    assert {one["setting"] for one in by_command["differs"]} >= {"squeegee", "screen"}
    assert "65" in " ".join(page.words)
    pages.hands.close()
