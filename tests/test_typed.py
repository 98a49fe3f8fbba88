"""What people type, on pages, in files and for commands alike: every line of typed_things.txt must be read, asked about
or refused as it says there, whichever way it comes in."""

from __future__ import annotations

import copy
import html
import json
import re
import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shop import clock, looked
from sqlite_utils import Database

from tickets import cli
from tickets.actions import screens
from tickets.calculator import several, units
from tickets.calculator import typed as typed_units
from tickets.calculator.units import KINDS, Ambiguous, NotAQuantity
from tickets.cli.calc import group
from tickets.domain import setting, step_reading, steps, usual
from tickets.domain.jobs import job as sheets
from tickets.domain.person import Actor
from tickets.domain.posted import Form
from tickets.domain.refusal import Refused
from tickets.domain.runs import setup
from tickets.domain.steps import SCREEN_STEPS
from tickets.queries import find
from tickets.queries.ink import WEIGH
from tickets.store import entries

NOW = datetime(2026, 11, 30, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def nothing_is_unusual(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is read here is any number; what is possible and not usual is asked back in tests/test_usual.py."""
    monkeypatch.setattr(usual, "USUAL", {})


@dataclass(frozen=True)
class Thing:
    """A line of the table: `how` is =, ? or !; `values` in `unit`; `bare`: only a page reads it."""

    what: str
    text: str
    how: str
    said: str
    bare: bool

    @property
    def readings(self) -> list[str]:
        return [one.strip() for one in self.said.split(";")]


def things() -> Iterator[Thing]:
    for line in (Path(__file__).parent / "typed_things.txt").read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            what, text, said = (part.strip() for part in line.split("|"))
            bare = said.startswith("b")
            yield Thing(what, text, said.removeprefix("b")[0], said.removeprefix("b")[1:].strip(), bare)


TABLE = list(things())
WHATS = list(dict.fromkeys(one.what for one in TABLE))


def squeezed(text: str) -> str:
    return text.replace(" ", "")


@dataclass(frozen=True)
class Came:
    """What came of it: values in the field's own unit, or a message with the readings offered (None: none shown)."""

    values: Any = None
    message: str = ""
    readings: list[str] | None = None


# What a sort of field is: its kind, the unit it is kept in, its place in a job, and the command that takes it.
KIND = {
    "thread": ("length", "um"), "width": ("length", "mm"), "count": ("mesh count", "/cm"), "time": ("time", "s"),
    "tension": ("tension", "N/cm"), "temperature": ("temperature", "degC"), "speed": ("speed", "m/min"),
    "percent": ("percent", "%"), "angle": ("angle", "deg"), "ruling": ("ruling", "lines/in"), "mass": ("mass", "g"),
    "film": ("film", "cm3/m2"), "density": ("density", "g/cm3"), "dose": ("dose", "mJ/cm2"),
}  # fmt: skip
FIRST = "placement[1].station[1]."
IN_JOB = {
    "thread": f"{FIRST}mesh.thread", "width": "placement[1].width", "count": f"{FIRST}mesh.count",
    "time": "placement[1].station[2].time", "temperature": "placement[1].dryer.garment_peak",
    "speed": "placement[1].dryer.belt_speed", "percent": f"{FIRST}coverage", "angle": f"{FIRST}halftone.angle",
    "ruling": f"{FIRST}halftone.ruling", "mass": f"{FIRST}recipe", "pieces": "garment[1].pieces",
    "fibre": "garment[1].fibre",
}  # fmt: skip
COMMAND = {
    "thread": "mesh --count 100/in --thread", "width": "distance --time 60s --now 60cm --was",
    "count": "mesh --thread 20um --count", "tension": "tension --unit N/cm --readings",
    "time": "step --held 7 --wanted 7 --time", "speed": "belt --dwell 60s --speed",
    "temperature": "probe --file FILE --hold 20s --length 3m --speed 1.5m/min --cure",
    "percent": "ink --area 100cm2 --film 35um --density 1.2g/cm3 --pieces 10 --coverage",
    "angle": "halftone --ruling 20/in --count 100/in --thread 60um --angle",
    "ruling": "halftone --count 300/in --thread 30um --ruling",
    "mass": "ink --area 100cm2 --film 35um --density 1.2g/cm3 --pieces 10 --coverage 50% --weighed",
    "film": "ink --area 100cm2 --density 1.2g/cm3 --pieces 10 --coverage 50% --film",
    "density": "ink --area 100cm2 --film 35um --pieces 10 --coverage 50% --density",
    "dose": "dose --irradiance 8mW/cm2 --dose",
    "pieces": "ink --area 100cm2 --film 35um --density 1.2g/cm3 --coverage 50% --pieces",
}  # fmt: skip


SPANS = {"width": (5, 2000), "time": (0.1, 600)}
"""What the fields of a job take, in the unit that they are kept in, where only one of two readings fits in."""


def due(one: Thing) -> Any:
    """What a line must give, in the unit that its field is kept in."""
    if one.what == "fibre":
        return {part.split()[0]: float(part.split()[1]) for part in one.said.split(",")}
    if one.what == "frame size":
        return one.said
    if one.what == "pieces":
        return float(one.said)
    kind, own = KIND[one.what]
    *numbers, spelling = one.said.split()
    unit = units.unit_named(spelling, kind)
    assert unit is not None, one
    found = [units.convert(float(number), unit, own) for number in numbers]
    return found if one.what == "tension" else found[0]


def only_one(one: Thing) -> str:
    """The one of the readings of a thousand or a decimal that the job's own field takes; empty: it takes both."""
    if one.how != "?" or one.what not in SPANS or len(one.readings) != 2:
        return ""
    kind, own = KIND[one.what]
    low, high = SPANS[one.what]
    read = [typed_units.take(text, kind, own) for text in one.readings]
    thousands = len({found.unit for found in read}) == 1 and read[0].value == 1000 * read[1].value
    fit = [text for text, found in zip(one.readings, read, strict=True)
           if low <= units.convert(found.value, found.unit, own) <= high]  # fmt: skip
    return fit[0] if thousands and len(fit) == 1 else ""


def held(table: list[tuple[Thing, Came, bool]], tiles: bool = False, job: bool = False) -> None:
    """Holds what came of every line against what it says. `table`: line, what came, whether bare numbers are
    read. `tiles`: what is asked must be offered to be tapped. `job`: it was a field of a job, with its own bounds."""
    wrong = []
    for one, came, bare_read in table:
        how = "!" if one.bare and not bare_read else one.how
        if job and (only := only_one(one)):
            how, one = "=", replace(one, how="=", said=only)
        if how == "=":
            right = came.values is not None and came.values == (
                pytest.approx(due(one), rel=2e-5) if not isinstance(due(one), str) else due(one)
            )
        elif how == "?":
            shown = [squeezed(reading) for reading in came.readings or ()]
            right = came.values is None and (
                (not came.readings and not tiles and all(squeezed(reading) in squeezed(came.message)
                                                         for reading in one.readings))
                or sorted(shown) == sorted(map(squeezed, one.readings))
            )  # fmt: skip
        else:
            said = one.said if one.how == "!" else "would do"
            right = came.values is None and (said in came.message or (one.how == "=" and "per inch or per cm" in said))
        if not right:
            wrong.append((one, came))
    assert not wrong, "\n".join(f"{one.what} | {one.text} | {one.how} {one.said}: {came}" for one, came in wrong)


def of(what: str) -> list[Thing]:
    return [one for one in TABLE if one.what == what]


# ------------------------------------------------------------------------------------------------------------ pages

FORM: dict[str, str] = {
    "title": "Anchor shirts",
    "customer": "Moth & Ladder Theatre",
    "due": "2031-05-02",
    "art.name": "Anchor",
    "art.revision": "1",
    "garment[1].style": "Heavy tee",
    "garment[1].colour": "navy",
    "garment[1].pieces": "40",
    "garment[1].fibre": "100 cotton",
    "placement[1].name": "Full front",
    "placement[1].width": "300",
    f"{FIRST}does": "print",
    f"{FIRST}colour": "white",
    f"{FIRST}ink": "plastisol",
    f"{FIRST}mesh.count": "43/cm",
    "placement[1].station[2].does": "flash",
    "placement[1].station[2].time": "6 s",
}


def told(page: str, name: str) -> Came:
    """The fault beside a field of the job form, and the readings to tap there."""
    fault = re.search(rf'id="{re.escape(name)}-fault">([^<]*)', page)
    tiles = re.findall(rf'name="{re.escape(name)}\.meant" value="([^"]*)"', page)
    return Came(None, html.unescape(fault[1]) if fault else "", [html.unescape(one) for one in tiles])


def on_job_page(
    desk: FlaskClient, db: Database, what: str, text: str, answer: str = "", asked: str | None = None
) -> Came:
    """A job form with this text in its field, sent, and what the job then says. `answer`: the reading that was tapped,
    on the page that asked about `asked` (else the text itself)."""
    name = IN_JOB[what]
    sent = {**FORM, "entry": secrets.token_hex(12), "act": "save", name: text}
    sent["title"] = f"Anchor shirts {secrets.token_hex(4)}"  # no job is asked about as entered already
    if what == "angle":
        sent[f"{FIRST}halftone.ruling"] = "30/in"
    if answer:
        sent |= {f"{name}.meant": answer, f"{name}.asked": text if asked is None else asked}
    came = desk.post("/jobs/new", data=sent)
    if came.status_code == 422:
        return told(came.text, name)
    assert came.status_code == 303, came.text
    code = came.headers["Location"].split("/")[2].split("?")[0]
    return Came(in_sheet(find.job(db, code).sheet, what))


def in_sheet(sheet: sheets.Job, what: str) -> Any:
    """The value of a field of the job, in the unit that it is kept in; said back and read again it is the same."""
    assert sheets.read(sheet.to_dict()) == sheet
    assert sheets.read(sheets.toml_data(sheets.to_toml(sheet), "")) == sheet
    placement, (station, flash) = sheet.placements[0], sheet.placements[0].stations
    assert station.mesh is not None
    return {
        "thread": station.mesh.thread_um,
        "width": placement.width_mm,
        "count": station.mesh.count_per_cm,
        "time": flash.time_s,
        "temperature": placement.dryer and placement.dryer.garment_peak_c,
        "speed": placement.dryer and placement.dryer.belt_speed_m_per_min,
        "percent": station.coverage_pct,
        "angle": station.halftone and station.halftone.angle_deg,
        "ruling": station.halftone and station.halftone.ruling_per_in,
        "mass": station.recipe.get("base"),
        "pieces": sheet.garments[0].pieces,
        "fibre": dict(sheet.garments[0].fibre),
    }[what]


ON_JOB_PAGE = [what for what in WHATS if what in IN_JOB and what != "mass"]


@pytest.mark.parametrize("what", ON_JOB_PAGE)
def test_a_job_page_reads_asks_or_refuses(desk: FlaskClient, db: Database, what: str) -> None:
    table = [(one, on_job_page(desk, db, what, one.text), True) for one in of(what)]
    held(table, tiles=what != "count", job=True)


@pytest.mark.parametrize("what", ON_JOB_PAGE)
def test_what_a_job_page_asks_is_answered_by_a_tap(desk: FlaskClient, db: Database, what: str) -> None:
    for one in of(what):
        for reading in one.readings if one.how == "?" and what in KIND else ():
            kind, own = KIND[what]
            came = on_job_page(desk, db, what, one.text, reading)
            value = units.convert(*typed_units.read_value(reading, kind), own)
            if came.values is None:  # it may be beyond what can be
                assert "cannot be right" in came.message, (one, came)
            else:
                assert came.values == pytest.approx(value), one
            anew = {"count": "100/in", "ruling": "30/in"}.get(what, FORM.get(IN_JOB[what], "20"))
            again = on_job_page(desk, db, what, anew, reading, asked=one.text)
            assert again.values != pytest.approx(value), "typed anew since: that counts"


@pytest.mark.parametrize("what", ["mass", "film", "density", "dose"])
def test_a_calculator_page_reads_asks_or_refuses(desk: FlaskClient, what: str) -> None:
    name, *arguments = COMMAND[what].split()
    given = {arguments[n][2:].replace("-", "_"): arguments[n + 1] for n in range(0, len(arguments) - 1, 2)}
    asked = arguments[-1][2:]
    kind, own = KIND[what]

    def came(text: str) -> Came:
        sent = {**given, asked: text, "format": "json"} | ({f"{asked}.unit": own} if what == "mass" else {})
        body = json.loads(desk.get(f"/calculator/{name}", query_string=sent).text)
        if "faults" in body:
            (fault,) = (fault for fault in body["faults"] if fault["where"] == asked)
            return Came(None, fault["message"], fault["readings"])
        found = body["inputs"][asked]
        return Came(units.convert(found["value"], found["unit"], own))

    held([(one, came(one.text), what == "mass") for one in of(what)])


@pytest.fixture
def desk(client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]) -> FlaskClient:
    return sign_in(client, "Di Novak")


@pytest.fixture
def screen(db: Database) -> str:
    ada = Actor(1, "Ada Holm", "screen room")
    form = Form({"mesh_count_as_labelled": ["90/cm"], "frame": ["aluminium"]})
    return screens.add(db, ada, form, post=secrets.token_hex(12), now=clock())[0]


@pytest.mark.parametrize("what, step, field", [("tension", "tension", "readings_n_per_cm"),
                                               ("frame size", "stretch", "frame_size_mm"),
                                               ("count", "stretch", "mesh_count_as_labelled")])  # fmt: skip
def test_a_screens_page_reads_asks_or_refuses(
    desk: FlaskClient, db: Database, screen: str, what: str, step: str, field: str
) -> None:
    def came(text: str) -> Came:
        sent = {"entry": secrets.token_hex(12), "in_hand": "yes", "mesh_count_as_labelled": "90/cm", field: text}
        if step == "tension":
            del sent["mesh_count_as_labelled"]
        answer = desk.post(f"/screens/{screen}/{step}", data=sent)
        if answer.status_code == 422:
            tiles = re.findall(rf'name="{field}\.meant" value="([^"]*)"', answer.text)
            fault = re.search(r'<p class="fault" id="f\d+-fault">([^<]*)', answer.text)
            assert fault, answer.text
            return Came(None, html.unescape(fault[1]), [html.unescape(one) for one in tiles])
        assert answer.status_code == 303, answer.text
        entry = entries.latest_of(db, "screen", find.screen(db, screen).id, 1)[0]
        value = entry.values[field]
        typed = entry.typed.get(field)
        if typed is not None:  # said back and read again it is the same
            meant = "!" if text.endswith("!") else ""  # what is seldom is asked about each time
            more = {"entry": secrets.token_hex(12), field: typed + meant}
            again = desk.post(f"/screens/{screen}/{step}", data={**sent, **more})
            assert again.status_code == 303, typed
            assert entries.latest_of(db, "screen", find.screen(db, screen).id, 1)[0].values[field] == value
        if what == "count":
            from tickets.domain.step_reading import count_per_cm

            return Came(count_per_cm(value))
        return Came(value)

    held([(one, came(one.text), True) for one in of(what)], tiles=what != "count")


# ------------------------------------------------------------------------------------------------------------ files

SHEET: dict[str, Any] = {
    "title": "Anchor shirts", "customer": "Moth & Ladder Theatre", "due": "2031-05-02",
    "art": {"name": "Anchor", "revision": "1"},
    "garment": [{"style": "Heavy tee", "colour": "navy", "pieces": 40, "fibre": {"cotton": 100}}],
    "placement": [{"name": "Full front", "width": "300 mm", "station": [
        {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "43/cm"}},
        {"does": "flash", "time": "6 s"}]}],
}  # fmt: skip


def in_file(tmp_path: Path, what: str, text: str) -> Came:
    """A job file with this text in its place, read by `tickets job check`, and as it is read."""
    data = copy.deepcopy(SHEET)
    at: Any = data
    *above, last = re.findall(r"[a-z_]+|\[\d+\]", IN_JOB[what] + (".base" if what == "mass" else ""))
    for key in above:
        at = at[int(key[1:-1]) - 1] if key.startswith("[") else at.setdefault(key, {})
    at[last] = text
    if what == "angle":
        at["ruling"] = "30/in"
    lines = "\n".join(f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in data.items()
                      if key in ("title", "customer", "due"))  # fmt: skip
    path = tmp_path / "job.toml"
    path.write_text(lines + "\n" + "\n".join(tables(data)), "utf-8")
    try:
        sheet = sheets.read_file(path)
    except Refused as refused:
        ran = CliRunner().invoke(cli.root, ["job", "check", str(path)])
        assert ran.exit_code == 2 and refused.faults[0].message in ran.output
        return Came(None, " ".join(fault.message for fault in refused.faults))
    return Came(in_sheet(sheet, what))


def tables(data: dict[str, Any]) -> Iterator[str]:
    """The tables of a job file, inner ones inline."""

    def inline(value: Any) -> str:
        if isinstance(value, dict):
            return "{ " + ", ".join(f"{key} = {inline(one)}" for key, one in value.items()) + " }"
        return json.dumps(value, ensure_ascii=False)

    yield f"art = {inline(data['art'])}"
    for garment in data["garment"]:
        yield "[[garment]]"
        yield from (f"{key} = {inline(value)}" for key, value in garment.items())
    for placement in data["placement"]:
        yield "[[placement]]"
        yield from (f"{key} = {inline(value)}" for key, value in placement.items() if key != "station")
        for station in placement["station"]:
            yield "[[placement.station]]"
            yield from (f"{key} = {inline(value)}" for key, value in station.items())


@pytest.mark.parametrize("what", [what for what in WHATS if what in IN_JOB])
def test_a_job_file_reads_asks_or_refuses(tmp_path: Path, what: str) -> None:
    table = [(one, in_file(tmp_path, what, one.text), what in ("pieces", "fibre", "mass")) for one in of(what)]
    held(table, job=True)
    for one, came, _bare in table:
        for reading in one.readings if came.values is None and one.how == "?" else ():
            typed = in_file(tmp_path, what, reading)
            assert typed.values is not None or "cannot be right" in typed.message or what == "pieces", (one, typed)


SAME = {"tension_n_per_cm": "readings_n_per_cm"}


@pytest.mark.parametrize("what, column", [("tension", "tension_n_per_cm"), ("thread", "thread_um")])
def test_a_list_of_frames_reads_asks_or_refuses(db: Database, what: str, column: str) -> None:
    def came(text: str) -> Came:
        cell = '"' + text.replace('"', '""') + '"'
        list_ = f"mesh_count,{column}\n43/cm,{cell}\n"
        unit = {"thread": "um", "tension": "N/cm"}.get(what)
        found = looked(db, list_, fields={column: SAME.get(column, column)}, units={column: unit} if unit else {})
        if found.faults or found.missing:
            return Came(None, " ".join(fault.message for faults in found.faults.values() for fault in faults))
        (frame,) = found.items
        return Came(frame.tension["readings_n_per_cm"] if what == "tension" else frame.stretch[column])

    held([(one, came(one.text), True) for one in of(what)])


# --------------------------------------------------------------------------------------------------------- commands


@pytest.mark.parametrize("what", list(COMMAND))
def test_a_command_reads_asks_or_refuses(tmp_path: Path, what: str) -> None:
    probe = tmp_path / "probe.csv"
    probe.write_text("s,c\n0,25\n40,140\n80,170\n120,170\n", "utf-8")

    def came(text: str) -> Came:
        arguments = [str(probe) if one == "FILE" else one for one in COMMAND[what].split()]
        arguments[-1] = f"{arguments[-1]}={text}"
        ran = CliRunner().invoke(group, [*arguments, "--json"], catch_exceptions=False)
        if ran.exit_code:
            assert ran.exit_code == 2 and "Traceback" not in ran.output
            return Came(None, ran.output)
        name = arguments[-1].split("=")[0][2:]
        found = json.loads(ran.output)["inputs"][name]
        if what == "pieces":
            return Came(found["value"])
        unit = f"lines{found['unit']}" if what == "ruling" else found["unit"]
        many = found["value"] if isinstance(found["value"], list) else [found["value"]]
        values = [units.convert(one, unit, KIND[what][1]) for one in many]
        return Came(values if what == "tension" else values[0])

    table = [(one, came(one.text), what in ("tension", "pieces")) for one in of(what)]
    held(table)
    for one, was, _bare in table:
        for reading in one.readings if was.values is None and one.how == "?" else ():
            typed = came(reading)
            assert typed.values is not None or what in ("pieces", "count"), (one, typed)


@pytest.mark.parametrize("what, option", [("frame size", "--frame-size"), ("count", "--count"), ("thread", "--thread")])
def test_screen_add_reads_asks_or_refuses(tmp_path: Path, what: str, option: str) -> None:
    def came(text: str) -> Came:
        arguments = ["screen", "add", "--frame", "aluminium", "--data", str(tmp_path / "shop"), "--json"]
        arguments += [] if what == "count" else ["--count", "43/cm"]
        ran = CliRunner().invoke(cli.root, [*arguments, f"{option}={text}"], catch_exceptions=False)
        if ran.exit_code:
            assert ran.exit_code == 2 and "Traceback" not in ran.output
            return Came(None, ran.output)
        code = json.loads(ran.output)[0]["code"]
        shown = CliRunner().invoke(cli.root, ["screen", "show", code, "--data", str(tmp_path / "shop"), "--json"])
        mesh = json.loads(shown.output)["mesh"]
        return Came(mesh[{"frame size": "frame_size_mm", "count": "count_per_cm", "thread": "thread_um"}[what]])

    held([(one, came(one.text), True) for one in of(what)[:40]])


@pytest.mark.parametrize("system, width, off_contact, speed", [("us", 304.8, 3.175, 2.1336), ("metric", 12, 0.125, 7)])
def test_a_bare_number_on_the_job_form_is_in_the_unit_beside_its_box(
    desk: FlaskClient, db: Database, system: str, width: float, off_contact: float, speed: float
) -> None:
    assert desk.post("/settings/units", data={"units": system}).status_code == 303
    page = desk.get("/jobs/new").text
    beside = dict(re.findall(r'<input id="([^"]+)"[^>]*>\s*<span class="unit">([^<]*)', page))
    wanted = {"us": ("in", "ft/min", "°F"), "metric": ("mm", "m/min", "°C")}[system]
    asked = [f"placement[1].{name}" for name in ("width", "dryer.belt_speed", "dryer.garment_peak")]
    assert tuple(beside[name] for name in asked) == wanted
    assert f'name="units" value="{system}"' in page
    gap = "1/8" if system == "us" else "0.125"
    sent = {**FORM, "entry": secrets.token_hex(12), "act": "save", "units": system, "placement[1].width": "12"}
    sent |= {f"{FIRST}off_contact": gap, "placement[1].dryer.belt_speed": "7"}
    came = desk.post("/jobs/new", data=sent)
    assert came.status_code == 303, came.text
    placement = find.job(db, came.headers["Location"].split("/")[2].split("?")[0]).sheet.placements[0]
    assert placement.width_mm == pytest.approx(width) and placement.dryer is not None
    assert placement.dryer.belt_speed_m_per_min == pytest.approx(speed)
    assert placement.stations[0].off_contact_mm == pytest.approx(off_contact)


@pytest.mark.parametrize("name, aim, text, readings", [
    ("belt_speed", "2.1 m/min", "21", ["2.1 m/min", "21 m/min"]),
    ("belt_speed", "2.1 m/min", "7", ["7 ft/min", "7 m/min"]),
    ("belt_speed", "2.1 m/min", "21 m/min", None),
    ("off_contact", "1.6 mm", "16", ["1.6 mm", "16 mm"]),
    ("hold", "60 s", "6", ["60 s", "6 s"]),
    ("hold", "60 s", "55", None),
    ("garment_peak", "160 °C", "250°", ["250 degC", "250 degF"]),
    ("garment_peak", "160 °C", "150°", ["150 degC", "150 degF"]),
    ("garment_peak", "160 °C", "320", ["320 °F", "320 °C"]),
    ("garment_peak", "160 °C", "158", None),
])  # fmt: skip
def test_a_reading_far_from_its_target_is_asked_about(
    name: str, aim: str, text: str, readings: list[str] | None
) -> None:
    unit = aim.split()[1]
    if readings is None:
        assert setting.read(name, text, unit, aim)
        return
    with pytest.raises(Ambiguous) as asked:
        setting.read(name, text, unit, aim)
    assert list(asked.value.readings) == readings
    assert all(setting.read(name, one, unit, aim) for one in readings if one != "320 °C")


# ------------------------------------------------------------------------------------- recipes, and minutes of a stop

# What a recipe comes to: grams of each part, the readings that it may have, or words of the message.
RECIPES: list[tuple[str, dict[str, float] | list[str] | str]] = [
    ("940 base, 60 activator", {"base": 940, "activator": 60}),
    ("base 940 g, activator 60 g", {"base": 940, "activator": 60}),
    ("1 kg base, 60 g activator", {"base": 1000, "activator": 60}),
    ("1.000 base, 60 activator", ["1000 base, 60 activator", "1 base, 60 activator"]),
    ("1,000 base, 60 activator", ["1000 base, 60 activator", "1 base, 60 activator"]),
    ("940 base 60 activator", ["940 base, 60 activator"]),
    ("1 kg base, 60 activator", ["1 kg base, 60 kg activator", "1 kg base, 60 g activator"]),
    ("2 lb base, 2 activator", ["2 lb base, 2 lb activator", "2 lb base, 2 g activator"]),
    ("94 base, 6% activator", "not a unit for this"),
    ("base 940 g, activator -3 g", "below zero"),
    ("-3 g activator, 940 base", "below zero"),
    ("base - 940 g, activator - 60 g", {"base": 940, "activator": 60}),
    ("white 940 g retarder 20 g", ["white 940 g, retarder 20 g"]),
    ("white 940 retarder 20 blue 3", ["white 940, retarder 20, blue 3"]),
    ("white 940 g retarder 20 g, blue 3 g", ["white 940 g, retarder 20 g, blue 3 g"]),
    ("940 g white 20 g retarder, 3 g blue", ["940 g white, 20 g retarder, 3 g blue"]),
    ("base A100 940 g, activator 60 g", {"base A100": 940, "activator": 60}),
    ("940 base 100, 60 activator", {"base 100": 940, "activator": 60}),
]


@pytest.mark.parametrize("text, due_", RECIPES)
def test_a_recipe_is_read_alike_for_a_job_a_bucket_and_a_run(
    text: str, due_: dict[str, float] | list[str] | str
) -> None:
    def of_job() -> Any:
        data = copy.deepcopy(SHEET)
        data["placement"][0]["station"][0]["recipe"] = text
        return dict(sheets.read(data).placements[0].stations[0].recipe)

    def of_bucket() -> Any:
        return step_reading.read(steps.BUCKET_STEPS["mix"], {"kind": ["discharge ink"], "recipe": [text]})[0]["recipe"]

    def of_run() -> Any:
        placement = sheets.read(SHEET).placements[0]
        found, faults = setup.read({"s1.recipe": [text]}, placement, setup.of_job(placement))
        if faults:
            raise Refused(faults)
        return found["1"]["recipe"]

    for reader in (of_job, of_bucket, of_run):
        try:
            came = reader()
        except Refused as refused:
            (fault,) = refused.faults
            if isinstance(due_, str):
                assert due_ in fault.message, reader
            else:
                assert list(fault.readings) == due_, reader
        else:
            assert came == (due_ if reader is of_job else text), reader


def test_a_recipe_of_a_file_with_a_unit_behind_some_only_is_asked_about() -> None:
    for base, activator, clear in (("1 kg", "60", False), ("2 lb", 2, False), ("1 kg", "60 g", True)):
        data = copy.deepcopy(SHEET)
        data["placement"][0]["station"][0]["recipe"] = {"base": base, "activator": activator}
        if clear:
            assert sheets.read(data).placements[0].stations[0].recipe == {"base": 1000, "activator": 60}
            continue
        with pytest.raises(Refused, match="some amounts have a unit and some have none"):
            sheets.read(data)


def test_a_number_of_a_file_keeps_the_digits_that_it_was_written_in(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("title = 'x'\n" + "\n".join(tables(SHEET)).replace("pieces = 40", "pieces = 1.000"), "utf-8")
    with pytest.raises(Refused) as refused:
        sheets.read_file(path)
    assert [fault.readings for fault in refused.value.faults if "pieces" in fault.where] == [("1000", "1")]


@pytest.mark.parametrize("text, minutes", [
    ("5", 5), ("5 min", 5), ("90 s", 1.5), ("½", 0.5), ("5 m", 5), ("2 h", 120), ("1:30 h", 90), ("1:30", None),
    ("1.500", 1.5), ("30 h", None), ("a while", None)])  # fmt: skip
def test_minutes_of_a_stop_are_a_length_of_time(text: str, minutes: float | None) -> None:
    sent = {"cause": ["ink"], "minutes": [text]}
    if minutes is None:
        with pytest.raises(Refused) as refused:
            step_reading.read(steps.RUN_STEPS["stop"], sent)
        assert refused.value.faults[0].where == "minutes"
        return
    assert step_reading.read(steps.RUN_STEPS["stop"], sent)[0]["minutes"] == minutes


@pytest.mark.parametrize("typed, mm", [("3.175 mm", 3.175), ("3,175 mm", 3.175), ("1,600 mm", 1.6)])
def test_a_thousand_that_a_field_cannot_take_is_a_decimal_everywhere(typed: str, mm: float) -> None:
    """1/8 in is 3.175 mm: no gap is three metres wide, so nobody is asked; what is kept reads as the very same."""
    assert setting.read("off_contact", typed)[0] == mm
    data = copy.deepcopy(SHEET)
    data["placement"][0]["station"][0]["off_contact"] = typed
    read = sheets.read(data)
    assert read.placements[0].stations[0].off_contact_mm == mm
    assert sheets.read(sheets.toml_data(sheets.to_toml(read), "")) == read
    found, faults = setup.read({"s1.off_contact": [typed]}, read.placements[0], {})
    assert faults == [] and setting.number("off_contact", found["1"]["off_contact"]) == mm


@pytest.mark.parametrize("step, field, typed, value", [
    ("stretch", "fabric_thickness_um", "72.500", 72.5), ("coat", "room_c", "21,500", 21.5),
    ("coat", "room_rh_pct", "45.250 %", 45.25), ("coat", "strokes_print_side", "2.000", 2),
    ("expose", "exposure_units", "1.200", None), ("stretch", "uses_before", "1.000", None)])  # fmt: skip
def test_a_field_that_takes_only_one_reading_takes_it_and_any_other_asks(
    step: str, field: str, typed: str, value: float | None
) -> None:
    needed = {"stretch": {"mesh_count_as_labelled": ["90/cm"], "frame": ["wood"]}, "coat": {"bucket": ["x"]}}
    sent = {**needed.get(step, {}), field: [typed]}
    if value is not None:
        assert step_reading.read(SCREEN_STEPS[step], sent)[0][field] == value
        return
    with pytest.raises(Refused) as refused:
        step_reading.read(SCREEN_STEPS[step], sent)
    assert refused.value.faults[0].readings


def test_halves_and_quarters_of_a_gram_are_no_two_weights() -> None:
    assert step_reading.read(WEIGH, {"weighed_g": ["1/2", "3/4 0.5"]})[0]["weighed_g"] == [0.5, 0.75, 0.5]
    assert step_reading.read(WEIGH, {"weighed_g": ["1.042", "1,050"]})[0]["weighed_g"] == [1.042, 1.05]
    with pytest.raises(Refused):  # of readings of tension these are two
        step_reading.read(SCREEN_STEPS["tension"], {"readings_n_per_cm": ["25/24"]})


def test_what_stands_in_the_log_is_never_asked_about_again() -> None:
    data = copy.deepcopy(SHEET)
    data["placement"][0]["station"][0]["flake"] = "1.250 um"
    with pytest.raises(Refused, match="two ways"):
        sheets.read(data)
    assert sheets.read(data, stored=True).placements[0].stations[0].flake_um == 1.25
    assert setting.number("off_contact", "3.175 mm") == 3.175


# ------------------------------------------------------------------------------------------------------- properties


def test_the_table_is_as_large_as_it_says() -> None:
    assert len(TABLE) >= 200 and len({(one.what, one.text) for one in TABLE}) == len(TABLE)
    for what in WHATS:
        assert {one.how for one in of(what)} >= {"=", "!"} or what in ("film", "density"), what


NUMBERS = st.floats(min_value=0.001, max_value=70, allow_nan=False).map(lambda value: round(value, 3))


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(KINDS)), st.data(), NUMBERS, st.sampled_from([".", ","]), st.booleans())
def test_what_is_read_said_back_and_read_again_is_the_same(
    kind: str, data: st.DataObject, value: float, mark: str, own: bool
) -> None:
    spelling = data.draw(st.sampled_from(sorted(KINDS[kind].spellings)))
    unit = KINDS[kind].spellings[spelling]
    text = f"{value:.3f}".rstrip("0").rstrip(".").replace(".", mark)
    thousands = re.fullmatch(r"[1-9]\d*[,.]\d{3}", text)
    far = units.only_within((text.replace(mark, ""), units.clear(text.replace(",", "."))), unit, units.bounds_of(kind))
    if thousands and far is None and not (mark == "." and typed_units._is_clear(text, spelling, kind, None)):
        with pytest.raises(Ambiguous) as asked:
            typed_units.take(f"{text} {spelling}", kind)
        if value < 20:
            assert typed_units.take(asked.value.readings[-1], kind).value == pytest.approx(value, abs=1e-12)
        return
    if kind == "percent" and not own and value < 1:
        with pytest.raises(Ambiguous) as asked:
            typed_units.take(text, kind, unit)
        assert [typed_units.take(one, kind).value for one in asked.value.readings] == [
            pytest.approx(100 * value), pytest.approx(value)]  # fmt: skip
        return
    try:
        found = typed_units.take(f"{text} {spelling}" if own else text, kind, None if own else unit)
    except NotAQuantity as fault:
        assert "cannot be right" in str(fault)  # tension in lbf/in, beyond what any mesh is held at
        return
    assert found.unit == unit and found.value == pytest.approx(value, abs=1e-12)
    assert typed_units.take(found.said, kind) == typed_units.Typed(found.value, found.unit, found.said, True)
    shown = units.show_as_is(found.value, found.unit)
    assert typed_units.take(shown, kind).value == pytest.approx(
        found.value, rel=0.006, abs=0.51 if kind == "temperature" else 0
    )


@settings(max_examples=100, deadline=None)
@given(
    st.sampled_from(["length", "mass", "time"]), st.integers(1, 30), st.integers(0, 11), st.sampled_from([0, 1, 2, 3])
)
def test_what_is_said_in_parts_is_the_sum_of_them(kind: str, big: int, small: int, quarters: int) -> None:
    bigger, smaller, size = {"length": ("ft", "in", 12), "mass": ("lb", "oz", 16), "time": ("min", "s", 60)}[kind]
    text = f"{big} {bigger} {small}{['', ' 1/4', ' 1/2', ' 3/4'][quarters]} {smaller}"
    found = typed_units.take(text, kind)
    assert (found.value, found.unit) == (big * size + small + quarters / 4, smaller)
    assert typed_units.take(found.said, kind) == found


@settings(max_examples=150, deadline=None)
@given(st.lists(st.floats(min_value=5, max_value=79).map(lambda one: round(one, 1)), min_size=2, max_size=9),
       st.sampled_from([" ", "; ", ", "]), st.sampled_from([".", ","]))  # fmt: skip
def test_readings_in_a_row_are_as_many_as_were_typed_or_asked_about(row: list[float], between: str, mark: str) -> None:
    text = between.join(f"{one:g}".replace(".", mark) for one in row)
    try:
        found = several.in_a_row([text], "tension", "N/cm")
    except NotAQuantity:
        assert mark == "," and between == ", ", "only where a comma could be either"
        return
    assert [one.value for one in found] == row
    assert [one.value for one in several.in_a_row([several.row_said(found)], "tension", None)] == row


def test_a_comma_between_two_digits_is_asked_about_as_one_reading_or_as_several() -> None:
    for text, wanted in (("25,24", "“25,24”: one reading of "), ("25,24 23", "“25,24 23”: are the readings ")):
        with pytest.raises(Ambiguous) as asks:
            several.in_a_row([text], "tension", "N/cm")
        assert str(asks.value).startswith(wanted)


def test_what_is_no_reading_is_said_back_as_far_as_a_line_takes() -> None:
    word = "tight" * 20
    with pytest.raises(NotAQuantity) as refused:
        several.in_a_row(["25", word], "tension", "N/cm")
    assert f"“{word[:40]}”" in str(refused.value)


def test_hours_and_minutes_of_a_clock_are_minutes() -> None:
    found = typed_units.take("2:30 h", "time")
    assert (found.value, found.unit, found.said) == (150, "min", "2 h 30 min")


@example("time", "½0-", False)  # a span of no unit: refused, since no answer would do
@settings(max_examples=400, deadline=None)
@given(
    st.sampled_from(sorted(KINDS)), st.text(alphabet="0123456789.,:;/-+'\"½²°x %mincftTN ", max_size=9), st.booleans()
)
def test_nothing_typed_is_ever_more_than_refused(kind: str, text: str, bare: bool) -> None:
    """Whatever is typed: a finite number of a unit of the kind, or a message; and what it asks can be answered."""
    try:
        found = typed_units.take(text, kind, KINDS[kind].units[0] if bare else None)
    except Ambiguous as asks:
        for reading in asks.readings:
            try:
                typed_units.take(reading, kind)
            except Ambiguous as again:
                raise AssertionError((text, reading)) from again
            except NotAQuantity as fault:
                assert "cannot be" in str(fault) or "below" in str(fault) or "add up" in str(fault), (text, reading)
    except NotAQuantity as fault:
        assert str(fault)
    else:
        assert abs(found.value) < 1e16 and typed_units.take(found.said, kind).value == pytest.approx(found.value)


# ------------------------------------------------------------------------------------------------ numbers from outside

HUGE = ["9" * 20, "9" * 400, "9" * 5000, "²", "1²", "٣", "-1", "1e400", "0x10", "1_0"]


@pytest.mark.parametrize("number", HUGE)
def test_no_number_in_an_address_or_a_form_is_more_than_refused(desk: FlaskClient, screen: str, number: str) -> None:
    for path in ("/runs/{}", "/spec/{}", "/people/{}", "/desk?days={}", "/press?days={}", "/screens?after={}&place={}",
                 "/screens?separation={}&job={}", "/log?after={}&who={}", "/calculator/probe?run={}",
                 "/calculator/probe?job=x&placement={}"):  # fmt: skip
        assert desk.get(path.replace("{}", number)).status_code in (200, 400, 404, 405, 422), path
    for path, sent in (
        (f"/screens/{screen}/tension", {"readings_n_per_cm": number}),
        (f"/screens/{screen}/tension", {"readings_n_per_cm.r" + number + ".d1": "1"}),
        (f"/screens/{screen}/image", {"separations": number}),
        (f"/screens/{screen}/coat", {"strokes_print_side": number}),
        ("/screens/new", {"number": number, "mesh_count_as_labelled": "90/cm", "frame": "aluminium"}),
        ("/places", {"name": "P 1", "kind": "press", "heads": number}),
        ("/jobs/new", {**FORM, "act": "save", "garment[1].pieces": number}),
        ("/jobs/new", {**FORM, "act": "save", f"{FIRST}strokes": number}),
        ("/spec/1", {"value": number, "source": "ours"}),
    ):
        answer = desk.post(path, data={**sent, "entry": secrets.token_hex(12)})
        assert answer.status_code in (303, 400, 404, 405, 409, 422), (path, answer.status_code)
        assert answer.status_code != 303 or not {"heads", "garment[1].pieces", "value"} & set(sent), (path, sent)


@pytest.mark.parametrize("number", HUGE)
def test_no_number_of_a_file_or_command_is_more_than_refused(tmp_path: Path, number: str) -> None:
    path = tmp_path / "job.toml"
    data = copy.deepcopy(SHEET)
    for pieces in (json.dumps(number, ensure_ascii=False), number):
        path.write_text("title = 'x'\n" + "\n".join(tables(data)).replace("pieces = 40", f"pieces = {pieces}"), "utf-8")
        ran = CliRunner().invoke(cli.root, ["job", "check", str(path)], catch_exceptions=False)
        assert ran.exit_code == 2 and "Traceback" not in ran.output
    for what, command in COMMAND.items():
        ran = CliRunner().invoke(
            group, [*command.split()[:-1], f"{command.split()[-1]}={number}"], catch_exceptions=False
        )
        assert ran.exit_code == 2 and len(ran.output) < 2000, what
    shop = ["--data", str(tmp_path / "shop")]
    for words in (["screen", "add", "--count", "90/cm", "--frame", "wood", f"--number={number}"],
                  ["set", "shift_hours", number], ["print", "again", number]):  # fmt: skip
        ran = CliRunner().invoke(cli.root, [*words, *shop], catch_exceptions=False)
        assert ran.exit_code == 2 and "Traceback" not in ran.output, words
