"""What is made of a job, its set-up sheet and its reorder: remarks, faults of a file, heads, targets, what is read from
a form,
what will differ. Whole tables over one job that has everything and what can be changed of it; read and checked by
hand."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

from test_repeat import FIT, STATIONS
from test_two_runs import NOW, WAS
from test_whole_papers import TARGET, whole_job
from test_whole_rules import SPEC
from whole import flat, same_as_read

from tickets.calculator.verdict import say
from tickets.domain.jobs import colourways, heads, job_file, mesh_advice, table
from tickets.domain.jobs.heads import ANTICLOCKWISE, ANY_ORDER, Press
from tickets.domain.jobs.job import read
from tickets.domain.refusal import Refused
from tickets.domain.runs import curing, job_remarks, repeat, setup
from tickets.domain.runs.as_run import Changed
from tickets.domain.runs.repeat import Facts, SpecChange
from tickets.domain.spec import SHIPPED, Row, Spec, shipped

DATA = whole_job().to_dict()


def with_(**changes: Any) -> dict[str, Any]:
    """The job's data with keys of a path changed (`placement__0__width`); None takes one away."""
    data = copy.deepcopy(DATA)
    for path, value in changes.items():
        *above, last = path.split("__")
        part: Any = data
        for step in above:
            part = part[int(step)] if step.isdigit() else part.setdefault(step, {})
        if value is None:
            part.pop(int(last) if last.isdigit() else last)
        else:
            part[int(last) if last.isdigit() else last] = value
    return data


def at(station: int, **changes: Any) -> dict[str, Any]:
    return {f"placement__0__station__{station}__{name}": value for name, value in changes.items()}


CHANGES: dict[str, dict[str, Any]] = {
    "as it is": {}, "no repeat": {"repeats": None}, "past": {"due": "2026-01-01"},
    "a wide print": {"placement__0__width": "1500 mm"},
    "a shape at the limit": {"placement__0__width": "1250 mm"},
    "a high print": {"placement__0__height": "1600 mm"}, "no height": {"placement__0__height": None},
    "all cotton": {"garment__0__fibre": {"cotton": 100}}, "hardly cotton": {"garment__0__fibre": {"cotton": 49,
    "polyester": 51}},
    "half cotton": {"garment__0__fibre": {"cotton": 50, "polyester": 50}},
    "no cotton": {"garment__0__fibre": {"polyester": 100}},
    "another fibre": {"garment__0__fibre": {"cotton": 50, "milkweed": 50}},
    "thirds": {"garment__0__fibre": {"cotton": 33.3, "viscose": 33.3, "modal": 33.4}},
    "nearly enough": {"garment__0__fibre": {"cotton": 99.5, "polyester": 0.5}},
    "no colourway": {"colourway": None}, "poly": {"garment__1__fibre": {"polyester": 100}},
    "white last": at(3, separation="highlight", colour="white"), "white last, flashed": {**at(3,
    separation="white top", colour="white"), **at(1, note="")},
    "white last, noted": at(3, separation="highlight", colour="white", note="wet on wet"), "white at both": at(3,
    separation="white base"),
    "an underlay": at(3, colour="white underlay"), "one head for two": at(3, head=3, revolution=1),
    "one head in turn": at(3, head=3),
    "head beyond": at(3, head=12), "flash on a head": at(3, head=4, revolution=1), "fine ruling": at(3,
    halftone={"ruling": "80/in"}),
    "ruling as fine as goes": at(3, halftone={"ruling": "77/in", "angle": "45 deg"}), "bad angle": at(3,
    halftone={"ruling": "45/in", "angle": "3 deg"}),
    "no ruling": at(3, halftone=None), "coarse flake": at(0, flake="40 um"), "no thread": at(0,
    mesh={"count": "160/in"}), "fine flake": at(0, flake="25 um"),
    "hot": {"placement__0__dryer__garment_peak": "190 degC"},
    "cold": {"placement__0__dryer__garment_peak": "120 degC"},
    "held long": {"placement__0__dryer__hold": "180 s"}, "no dryer": {"placement__0__dryer": None},
    "plastisol alone": at(0, ink="plastisol", flake=None),
    "height of one": {"placement__0__same_image": True, "placement__1": {"name": "Back", "same_image": True,
    "width": "300 mm", "station": [DATA["placement"][0]["station"][0]]}},
}  # fmt: skip


def remarks() -> Iterator[str]:
    for name, changes in CHANGES.items():
        job = read(with_(**changes))
        yield f"== {name}"
        for one in job_remarks.remarks(job, today=date(2026, 6, 1), presses=[Press(6), Press(10)]):
            said = say(one.reason)
            part_1 = one.reason.level.value
            yield f"{one.place}: {part_1} {one.reason.key} {one.reason.spec}: {said.text} ({one.source})"
        for cure in (False, True):
            found = job_remarks.garment_remarks(job, place="placement[1]", cure=cure)
            part_1 = ", ".join(one.reason.key for one in found)
            part_2 = len(job_remarks.garment_remarks(job, cure=cure))
            yield f"on the garment: {part_1}; {part_2}"
    some = (
        [Press(2)],
        [Press(1)],
        [Press(4)],
        [Press(2, ANY_ORDER)],
        [Press(1), Press(1, ANY_ORDER)],
        [Press(2), Press(1, ANY_ORDER)],
    )
    for presses in ([], [Press()], [Press(2), Press()], *some):
        found = job_remarks.remarks(read(DATA), presses=presses)
        told = [f"{one.reason.key} {one.reason.numbers}" for one in found if "head" in one.reason.key]
        yield f"{len(presses)} presses: {'; '.join(told)}"
    for target in ({}, {"Front": {"run": {"garment_peak": "150 degC", "hold": "200 s"}}}):
        yield f"target: {', '.join(one.reason.key for one in job_remarks.remarks(read(DATA), targets=target))}"
    for key in (
        "moire-angle",
        "moire-margin",
        "halftone-ratio",
        "halftone-ratio-least",
        "print-shape",
        "flake-factor",
        "discharge-cotton",
        "discharge-cotton-least",
    ):
        bare = Spec(row for row in shipped() if row.key != key)
        odd = read(
            with_(
                **at(3, halftone={"ruling": "78/in", "angle": "3 deg"}),
                placement__0__width="1500 mm",
                garment__0__fibre={"cotton": 40, "polyester": 60},
            )
        )
        yield f"no {key}: {', '.join(one.reason.key for one in job_remarks.remarks(odd, bare))}"


def test_what_is_remarked_on_a_job() -> None:
    same_as_read("jobs_remarks", remarks())


FAULTS: dict[str, dict[str, Any]] = {
    **{f"no {name}": {name: None} for name in ("title", "customer", "due", "art", "garment", "placement")},
    "another key": {"colour": "red"}, "due": {"due": "tomorrow"}, "due a day": {"due": date(2031, 6, 1)},
    "pieces": {"garment__0__pieces": 0},
    "pieces as text": {"garment__0__pieces": "1,200"}, "half pieces": {"garment__0__pieces": 1.5},
    "shares": {"garment__0__fibre": {"cotton": 60, "polyester": 60}},
    "share": {"garment__0__fibre": {"cotton": -5, "polyester": 105}}, "no fibre": {"garment__0__fibre": None},
    "infant": {"garment__0__infant": "yes"},
    "twice": {"garment__1": {"style": "Tee", "colour": "navy", "pieces": 3, "fibre": {"cotton": 90,
    "elastane": 10}, "lot": "L7"}},
    "width": {"placement__0__width": "300"}, "width wide": {"placement__0__width": "4 m"},
    "width none": {"placement__0__width": "0 mm"}, "name": {"placement__0__name": ""},
    "two names": {"placement__1__name": "front"}, "does": at(1, does="dance"), "mesh": at(0,
    mesh={"count": "9/in"}), "mesh fine": at(0, mesh={"count": "900/in", "thread": "48 um"}),
    "no mesh": at(0, mesh=None), "thread": at(0, mesh={"count": "230/in", "thread": "200 um"}), "ink": at(0,
    ink="paint"), "strokes": at(0, strokes=0),
    "many strokes": at(0, strokes=21), "coverage": at(0, coverage="135 %"), "head": at(0, head=0),
    "head far": at(0, head=99), "revolution": at(3, revolution=0),
    "angle": at(3, halftone={"ruling": "45/in", "angle": "400 deg"}), "ruling": at(3,
    halftone={"angle": "22 deg"}), "flash without a time": at(1, time=None),
    "flash with a mesh": at(1, mesh={"count": "230/in"}), "recipe": at(0, recipe={"base": -3}),
    "recipe text": at(0, recipe="base 900, activator 100"),
    "hardness": at(0, squeegee={"hardness": "7"}), "off-contact": at(0, off_contact="90 mm"),
    "same separation": at(3, separation="white base"),
    "colourway of nobody": {"colourway__0__garment": {"style": "Tee", "colour": "green"}},
    "colourway of no ink": {"colourway__0__inks": {"green": False}},
    "colourway odd": {"colourway__0__inks": {"red": True}},
    "colourway ink": {"colourway__0__inks": {"red": {"ink": "paint"}}}, "list": {"garment": "Tee"},
    "station": {"placement__0__station": []}, "no such": {"placement__0__station": "x"},
    "dryer": {"placement__0__dryer__garment_peak": "900 degC"},
    "long": {"title": "x" * 300}, "unseen": {"title": "a\u200bb"}, "lines": {"customer": "a\nb"},
    "art": {"art": {"name": "Gull"}}, "picture": {"art__picture": "x.exe"},
}  # fmt: skip


def faults() -> Iterator[str]:
    for name, changes in FAULTS.items():
        try:
            job = read(with_(**changes), limits=SHIPPED)
        except Refused as refused:
            yield f"{name}: " + " | ".join(f"{one.where}: {one.message} {one.readings or ''}" for one in refused.faults)
        else:
            before, now = flat(DATA), flat(job.to_dict())
            part_1 = "; ".join(one for one in now if one not in before)
            part_2 = "; ".join(one for one in before if one not in now)
            yield f"{name}: taken; {part_1}; without {part_2}"


def test_what_is_wrong_with_a_job() -> None:
    same_as_read("jobs_faults", faults())


def test_a_job_is_written_as_it_is_read() -> None:
    for changes in CHANGES.values():
        job = read(with_(**changes))
        assert read(job.to_dict()) == job
        assert read(job_file.toml_data(job_file.to_toml(job), "")) == job
    same_as_read("jobs_toml", job_file.to_toml(whole_job()).splitlines())


def layouts() -> Iterator[str]:
    for name in ("as it is", "no colourway", "one head in turn", "head beyond", "plastisol alone"):
        job = read(with_(**CHANGES[name]))
        place = job.placements[0]
        for press in (Press(), Press(3), Press(4), Press(10), Press(10, ANTICLOCKWISE), Press(6, ANY_ORDER)):
            prints = [one.number for one in place.printing]
            told = heads.takes(job, place, press)
            offered = [heads.offer(one, {}, range(2, 9), place.stations, prints, press) for one in place.stations]
            behind = [heads.offer(one, {1: 5}, (1, 3, 6), place.stations, prints, press) for one in place.stations]
            part_1 = heads.layout(place.stations, prints, press)
            yield f"{name}, {press.heads} {press.turns}: {told} {told.heads} {told.least}"
            yield f"  {part_1}; {offered}; {behind}"
            yield f"  {press.route[:3]}, {heads.of_stations(place.stations, prints)}"
        yield f"{name}: ways {colourways.ways_of(job, place)}; rows {colourways.at_rows(job, place)}"
        for prints in ((), (1,), (4,), (1, 4)):
            yield f"  idle with {prints}: {sorted(colourways.idle(place, prints))}"
        for garment in (*colourways.garments_of(job), "", "Hood"):
            yield f"  {garment}: {colourways.inks_on(job, place, garment)}"
        for garment in (*job.garments, None):
            yield f"  {colourways.called(garment)}: {sorted(colourways.prints_on(job, place, garment))}"
        for station in place.stations:
            advice = mesh_advice.advise(station, SPEC)
            yield f"  mesh at {station.number}: " + (
                "–" if advice is None else "; ".join(flat(replace(advice, rows=(), verdict=None)))
            )
            if advice:
                keys = advice.verdict.keys if advice.verdict else ()
                yield f"    {keys}; {[(row.use, fits) for row, fits in advice.rows]}"
        part_1 = "; ".join(flat(curing.heat_of(place)))
        part_2 = "; ".join(flat(curing.heat_of(place, {"garment_peak": "150 C", "hold": "60 s"}, {"hold"})))
        yield f"  heat: {part_1}; {part_2}"
        yield f"  aimed: {'; '.join(flat(curing.heat_of(place, target={'garment_peak': '160 C', 'hold': '95 s'})))}"
        needs, stands = curing.needs_of(job, place, SPEC, as_run={4: "water-base"})
        yield f"  needs {'; '.join(flat(needs))}; {'; '.join(flat(stands))}"
    for text in ("1", "1,5", "1.5", "x", "", "1e3", "-2", "0", "nan", 3, 2.5, True, None, 1e300):
        yield f"{text!r}: {table.plain_number(text)} {table.fit_name(text)} {table.shown_key(text)}"
    for number in (0.0, 1.0, 1.5, 1e-7, 1e16, 123456789.123):
        yield f"{number}: {table.plain_text(number)} {table.shown_number(number)}"


def test_which_head_serves_what() -> None:
    same_as_read("jobs_heads", layouts())


# -- the set-up sheet


SENT: dict[str, dict[str, list[str]]] = {
    "nothing": {}, "a blank": {"s1.strokes": [""]}, "a number": {"s1.strokes": ["2"]}, "twice": {"s1.strokes": ["",
    " 4 "]}, "strokes": {"s1.strokes": ["21"]},
    "no strokes": {"s1.strokes": ["0"]}, "half": {"s1.strokes": ["1.5"]}, "order": {"s1.order": ["2"],
    "s2.order": ["1"]}, "order twice": {"s1.order": ["2"]},
    "order far": {"s4.order": ["61"]}, "order as it is": {"s4.order": ["4"]}, "no part": {"s9.strokes": ["1"]},
    "no field": {"s1.time": ["1 s"], "s2.strokes": ["1"]},
    "bare in the unit of the target": {"s2.time": ["6"]}, "tapped": {"s2.time": ["0.1"], "s2.time.unit": ["min"]},
    "far from its target": {"run.garment_peak": ["325"]},
    "with a unit": {"run.garment_peak": ["325 F"], "run.hold": ["1:30"]},
    "not measured": {"s1.hardness_measured.not": ["yes"], "run.garment_peak": ["not measured"]},
    "stamp": {"s1.squeegee": ["7"]}, "layers": {"s1.squeegee": ["70/90/70 · round"]},
    "mark": {"s1.pressure": ["dial 5"], "s1.speed": ["6"]},
    "recipe": {"s1.recipe": ["base 900, activator 100"]}, "recipe odd": {"s1.recipe": ["base 900, activator 900"]},
    "recipe wrong": {"s1.recipe": ["base x y 3"]},
    "gap": {"s1.off_contact": ["1/16 in"]}, "gap far": {"s1.off_contact": ["40 mm"]},
    "gap wrong": {"s1.off_contact": ["9 m"]}, "long": {"s1.note": ["x" * 501]},
    "note": {"s1.note": ["two\nlines"]}, "unseen": {"s1.note": ["a\u200bb"]}, "lot": {"run.garment_lot": ["L8"],
    "s1.ink_lot": ["W-1"]}, "felt": {"s2.surface_feel": ["dry"]},
}  # fmt: skip


def sheets() -> Iterator[str]:
    job = whole_job()
    place = job.placements[0]
    aim = setup.of_job(place)
    yield from (f"of the job: {one}" for one in flat(aim))
    yield from (f"on the bodysuit: {one}" for one in flat(setup.of_job(place, {4: "orange · water-base"})))
    yield f"told: {setup.told(place, TARGET)}"
    yield f"set: {setup.as_set(TARGET)}"
    for name, sent in SENT.items():
        found, wrong = setup.read(sent, place, TARGET, None, SHIPPED)
        new = [f"{key}.{field} {value}" for key, values in found.items() for field, value in values.items()
               if setup.as_set(TARGET).get(key, {}).get(field) != value]  # fmt: skip
        part_1 = " | ".join(f"{one.where}: {one.message} {one.readings}" for one in wrong)
        yield f"{name}: {'; '.join(new)} | {part_1}"
        noted = {"1": {"strokes": "5", "off_contact": "1.9 mm", "order": "3"}}
        found, wrong = setup.read(sent, place, TARGET, noted)
        yield f"  noted before: {found['1']}, {len(wrong)}"
    for text in ("3.1", "4.1", "1.4", "2.3", "1.1", "x", "1.9", "2.2"):
        part_1 = setup.same_as(TARGET, place, text)
        part_2 = setup.same_as(TARGET, place, text, {"4": {"strokes": "9"}})
        yield f"same {text}: {part_1}; {part_2}"
    sheet = {
        "stations": {
            "1": {"squeegee": "75 · round", "strokes": "2", "hardness_measured": "73", "note": "x"},
            "2": {"time": "7.1 s", "surface": "not measured"},
        },
        "run": {"platen": "narrow", "garment_lot": "L8"},
        "noted": ["1", "run"],
        "target": TARGET,
        "idle": ["3"],
        "noted_by": {
            "1": {"who": "Vera", "at": "2026-03-02"},
            "run": {"who": "Otto", "at": "2026-03-03", "as_target": True},
            "2": {"who": "Vera", "at": "2026-03-01"},
        },
    }
    for limits in (SHIPPED, Spec(())):
        for system in ("metric", "us"):
            yield f"differs: {setup.differences(sheet, limits, system)}; small {setup.small(sheet, limits, system)}"
    part_1 = setup.unmeasured(sheet)
    part_2 = setup.unmeasured({"run": {"hold": "9 s"}})
    yield f"not yet: {setup.not_yet(sheet)}; unmeasured {part_1}, {part_2}"
    for one in (sheet, {}, {"run": {"platen": "x"}}, {**sheet, "noted": []}):
        part_1 = sorted(setup.parts_noted(one, place))
        part_2 = setup.open_parts(one, place)
        part_3 = setup.left_open(one, place)
        part_4 = setup.left_open(one, place, {"unnoted": "leave"})
        yield f"noted: {part_1}, open {part_2}, left {part_3}, {part_4}"
    for when in ("", "2026-03-02"):
        yield f"said: {[(setup.how_said(one), one.who, one.since, one.until) for one in setup.said_by(sheet, when)]}"
    part_1 = [setup.part_said(key, place) for key in ("1", "2", "3", "run", "9")]
    part_2 = setup.parts_said(["10", "2", "run"])
    yield f"parts: {part_1}; {part_2}; {setup.parts_said([])}"
    for changes in (
        [],
        [
            {"field": "hardness_measured", "to": "70", "station": 4, "measured": {"who": "V"}},
            {"field": "hold", "to": "90 s", "from": "not measured"},
        ],
        [{"field": "hardness_measured", "to": "70", "from": "71", "station": 1}],
        [{"field": "strokes", "to": "3", "station": 4}],
        [{"field": "surface", "to": "110 degC", "station": 2}, {"field": "surface", "to": "120 degC", "station": 2}],
    ):
        yield f"later: {'; '.join(flat(setup.with_later({**sheet, 'noted_by': None, 'target': None}, changes)))}"
    for was in (
        place,
        read(with_(**at(3, separation="blue"))).placements[0],
        read(with_(**at(0, strokes=4))).placements[0],
    ):
        yield f"onto: {'; '.join(flat(setup.onto(place, sheet, was)))}"
    inks = {1: "white", 4: "red"}
    part_1 = "; ".join(
        flat(setup.onto(place, {"stations": {"4": {"bucket": "K", "strokes": "3"}}}, place, inks, {**inks, 4: "blue"}))
    )
    yield f"onto other inks: {part_1}"
    taken = setup.taken(
        {"1": {"hardness_measured": "70", "strokes": "2", "off_contact_measured": "2 mm"},
        "2": {"surface": "not measured", "time_cold": "8 s"}},
        {"1": {"hardness_measured": "71", "off_contact_measured": "0.2 cm"}, "2": {"time_cold": "8 s"}},
        {"1": {"off_contact_measured": {"who": "Otto"}}}, {"who": "Vera"},
    )  # fmt: skip
    yield f"taken: {taken}"
    known = {
        "1": {"hardness_measured": {"who": "Vera", "at": "@2", "before": {"value": "71", "who": "Otto", "at": "@1"}}}
    }
    part_1 = setup.by_whom(
        {"1": {"hardness_measured": "70", "strokes": "2"}, "run": {"hold": "9 s", "garment_peak": "not measured"}},
        known,
    )
    yield f"by whom: {part_1}"
    part_1 = setup.numbers_of(TARGET)
    part_2 = setup.changed(TARGET, {**TARGET, "1": {"strokes": "2"}, "run": {}})
    yield f"numbers: {part_1}; changed {part_2}"
    for name, asks in setup.STATION.items():
        for ask in (*asks, *setup.WHOLE):
            part_1 = setup.taps(ask, "3", "2", ["2", "5", "3"], 4)
            part_2 = setup.taps(ask, "", "not measured", [], 2, 1)
            yield f"taps {name} {ask.name}: {part_1} {part_2}"
    garments = ["Tee, navy", "Bodysuit, sand"]
    for sent in ({}, {"run.garment_lot.1": ["", "L9"]}, {"run.garment_lot.2": [""]}):
        for now in ("", "Tee, navy"):
            for some in (garments, garments[:1]):
                values = {"run": {"garment_lot": "L1", "garment_lot.Bodysuit, sand": "L2"}}
                yield f"lots {sent}, {now}, {len(some)}: {setup.with_lots(values, some, now)}"
                setup.lots_of(values, sent, some, now)
                yield f"  {values}"


def test_what_a_set_up_sheet_says() -> None:
    same_as_read("jobs_sheets", sheets())


# -- a reorder


def reorders() -> Iterator[str]:
    job = read(DATA)
    old = replace(
        WAS,
        job=job,
        placement=job.placements[0],
        sheet={**WAS.sheet, "run": {"platen": "wide", "garment_lot": "L6", "hold": "90 s"}},
    )
    facts = Facts(
        {1: [FIT], 4: []},
        {1: 2, 4: 0},
        TARGET,
        {1: ("W-1", "W-2"), 4: ("", "R-1")},
        "Press 1",
        [SpecChange("watch", "18", ""), SpecChange("x", "", "2")],
    )
    changed = {
        **CHANGES, "revision": {"art__revision": "3"}, "art": {"art__name": "Oar"},
        "size": {"placement__0__width": "310 mm"}, "height": {"placement__0__height": "260 mm"},
        "lot": {"garment__0__lot": "L8"}, "no lot": {"garment__0__lot": None},
        "style": {"garment__0__style": "Long tee"}, "colour": {"garment__0__colour": "red"},
        "mesh": at(3, mesh={"count": "200/in"}), "mesh near": at(3, mesh={"count": "225/in"}), "thread": at(0,
        mesh={"count": "160/in", "thread": "54 um"}),
        "strokes": at(0, strokes=3), "series": at(0, series="White B"), "reference": at(0, reference="Guide C 2"),
        "ink kind": at(3, ink="water-base"), "note": at(0, note="x"),
        "ink colour": at(3, colour="crimson"), "without red": {"placement__0__station__3": None},
        "flash longer": at(1, time="8 s"), "dryer": {"placement__0__dryer__set": "170 degC"},
        "recipe": at(0, recipe={"base": 900, "activator": 100}), "coverage": at(0, coverage="40 %"), "choke": at(0,
        choke="1 pt"), "platen": {"placement__0__platen": "wide"},
        "from": {"placement__0__from": "80 mm below the collar seam"}, "off-contact": at(0, off_contact="2 mm"),
        "gap near": at(0, off_contact="1.62 mm"),
    }  # fmt: skip
    for name, changes in changed.items():
        new = read(with_(**changes))
        found = repeat.will_differ(
            old, new, new.placements[0], facts if name in {"as it is", "revision", "mesh"} else Facts(), SPEC
        )
        yield f"== {name}: {repeat.small_said(found)}"
        for one in repeat.as_data(found):
            part_1 = one.get("within", "")
            yield f"{one['station']} {one['key']} {one['group']} {one['level']} {part_1}: {one['said']} {one['advice']}"
    after = replace(
        old,
        changes=(
            Changed(1, "", "strokes", "2", "3", "thin"),
            Changed(0, "", "hold", "90 s", "99 s"),
            Changed(1, "", "bucket", "a", "b"),
            Changed(4, "told"),
        ),
    )
    for target in ({}, {"1": {"strokes": "3"}}):
        part_1 = [(station, one.said()) for station, one in repeat.changed_after(after, job.placements[0], target)]
        yield f"after: {part_1}"
    for was, now in ((WAS, NOW), (NOW, WAS)):
        for one in repeat.as_data(
            repeat.will_differ(was, now.job, now.placement, Facts(target=STATIONS, system="us"), SPEC), "us"
        ):
            part_1 = one.get("within", "")
            yield f"{one['station']} {one['key']} {one['group']} {one['level']} {part_1}: {one['said']}"
    none = repeat.will_differ(None, job, job.placements[0], Facts(), SPEC)
    yield f"none: {[one.key for one in none]}; {repeat.changed_said(12, ['a', 'b'])}"
    strict = Spec([*shipped(), Row(900, "mesh-count-tolerance", 1.0, "%", {})])
    near = read(with_(**at(3, mesh={"count": "225/in"})))
    yield f"strict: {[one.key for one in repeat.will_differ(old, near, near.placements[0], Facts(), strict)]}"


def test_what_will_differ_from_last_time() -> None:
    same_as_read("jobs_reorders", reorders())
