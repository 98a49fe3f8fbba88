"""The first and the last number that a job may carry, and one a hair beyond: what is possible (judgement) and nothing
else is taken, and what is refused is told at its field."""

from __future__ import annotations

from datetime import date

import pytest
from test_whole_jobs import DATA, at, with_

from tickets.domain.jobs import table
from tickets.domain.jobs.job import read
from tickets.domain.refusal import Fault, Refused

QUANTITIES = {
    "placement[1].width": ("mm", 5, 2000), "placement[1].height": ("mm", 5, 2000),
    "placement[1].station[1].mesh.count": ("/cm", 4, 250), "placement[1].station[1].mesh.thread": ("um", 10, 600),
    "placement[1].station[1].flake": ("um", 1, 5000), "placement[1].station[1].coverage": ("%", 0.1, 100),
    "placement[1].station[1].halftone.ruling": ("lines/in", 5, 200),
    "placement[1].station[1].halftone.angle": ("deg", 0, 180),
}  # fmt: skip
WHOLE = {
    "garment[1].pieces": (1, 1_000_000), "placement[1].station[1].revolution": (1, 9),
    "placement[1].station[1].head": (1, 40), "placement[1].station[1].strokes": (1, 20),
}  # fmt: skip


def told(where: str, value: object) -> set[str]:
    """The fields at which a job is refused that has that value there."""
    path = where.replace("[", ".").replace("]", "").split(".")
    steps = [str(int(step) - 1) if step.isdigit() else step for step in path]
    beside = {"mesh": {"count": "40 /cm", "thread": "48 um"}, "halftone": {"ruling": "45 lines/in"}}
    if steps[-2] in beside:
        *steps, last = steps
        value = {**beside[steps[-1]], last: value}
        value |= {"thread": {"count": "15 /cm"}, "count": {"thread": "30 um"}}.get(last, {})
    try:
        read(with_(**{"__".join(steps): value}))
    except Refused as refused:
        return {one.where for one in refused.faults}
    return set()


@pytest.mark.parametrize("where", QUANTITIES)
def test_a_quantity_is_taken_from_its_least_to_its_most(where: str) -> None:
    unit, least, most = QUANTITIES[where]
    far = least / 100
    assert told(where, f"{least} {unit}") == told(where, f"{most} {unit}") == set()
    assert told(where, f"{least - far:g} {unit}") == ({where} if least else set())
    assert told(where, f"{most + 0.4:g} {unit}") == {where}


@pytest.mark.parametrize("where", WHOLE)
def test_a_count_is_taken_from_its_least_to_its_most(where: str) -> None:
    least, most = WHOLE[where]
    assert told(where, least) == told(where, most) == set()
    assert told(where, least - 1) == told(where, most + 1) == {where}


BLEND = "garment[1].fibre"
RECIPE = "placement[1].station[1].recipe"
STAMP = "placement[1].station[1].squeegee.hardness"


@pytest.mark.parametrize(("changes", "where"), [
    # a press date in this trade's lifetime
    *(({"due": date(year, 6, 1)}, {"due"} if year in (1989, 2200) else set()) for year in (1989, 1990, 2199, 2200)),
    # shares: over nought, to 100; 0.5 off for thirds
    *(({"garment__0__fibre": {"cotton": one, "hemp": two}}, where) for one, two, where in [
        (99.995, 0.005, set()), (100, 0, {f"{BLEND}.hemp"}), (50, 50.5, set()), (50, 49.5, set()), (50, 50.6, {BLEND}),
        (50, 49.4, {BLEND}), (100.5, 0.1, {f"{BLEND}.cotton"})]),
    ({"garment__0__fibre": {"cotton": 100}}, set()),
    # a milligram to a tonne
    *(({"placement__0__station__0__recipe": {"base": amount}}, where) for amount, where in [
        (0.001, set()), (0.0009, {f"{RECIPE}.base"}), (1_000_000, set()), (1_000_001, {f"{RECIPE}.base"}),
        ("0.25 kg", set()), (" ", {f"{RECIPE}.base"}), ("", {f"{RECIPE}.base"})]),
    # the scale of Shore A, as far as blades are made
    *(({"placement__0__station__0__squeegee__hardness": text}, where) for text, where in [
        ("30", set()), ("29", {STAMP}), ("100", set()), ("101", {STAMP}), ("70/90/70", set()), ("70/101/70", {STAMP}),
        ("soft", {STAMP}), ("", set())]),
    # 100 threads of 100 um to the cm leave nothing open
    *(({"placement__0__station__0__mesh": {"count": "100 /cm", "thread": thread}}, where) for thread, where in [
        ("99.9 um", set()), ("100 um", {"placement[1].station[1].mesh.thread"})]),
    # the picture lies beside the file
    *(({"art__picture": name}, set() if name == "gull.png" else {"art.picture"}) for name in
      ("gull.png", "art/gull.png", "art\\gull.png", ".", "..")),
    ({"placement__0__art": {"name": "Oar", "revision": "1", "picture": "oar.png"}}, {"placement[1].art.picture"}),
    # who takes which key
    (at(1, does="cool"), {"placement[1].station[2].surface"}),
    (at(2, surface="dry"), {"placement[1].station[3].surface"}),
    (at(0, time="6 s"), {"placement[1].station[1].time"}),
    (at(0, does=None), {"placement[1].station[1].does"}),
    (at(3, does=None, mesh=None), {"placement[1].station[4].does", "placement[1].station[4].mesh"}),
    (at(3, does=None, ink=None), {"placement[1].station[4].does", "placement[1].station[4].ink"}),
    ({"placement__1__station": [{"does": "flash", "time": "6 s"}]}, {"placement[2].station"}),
    ({"placement__1__station": [{"does": "flash", "time": "6 s"}, {}]}, {"placement[2].station[2].does"}),
    # a reorder of itself
    ({"repeats": "po 2291-b"}, {"repeats"}), ({"repeats": "", "reference": ""}, set()),
    # one garment twice; a lot tells them apart, and a missing name is told once
    ({"garment__1__style": "tee", "garment__1__colour": "Navy", "colourway": None}, set()),
    ({"garment__1__style": "tee", "garment__1__colour": "Navy", "garment__1__lot": "l7", "colourway": None},
     {"garment[2]"}),
    ({"garment__0__style": "", "garment__1__style": "", "garment__1__colour": "navy", "garment__1__lot": "L7",
      "colourway": None}, {"garment[1].style", "garment[2].style"}),
    ({"placement__0__name": "", "placement__1__name": ""}, {"placement[1].name", "placement[2].name"}),
    # colourways: of a garment of the job, one for each, of images that print, each said once
    ({"colourway": [*DATA["colourway"], {"garment": {"style": "bodysuit", "colour": "SAND"}}]},
     {"colourway[2].garment"}),
    ({"colourway__0__inks": {"red": False, "Red ": False}}, {"colourway[1].inks.Red "}),
    ({"colourway__0__inks": {"red": {"colour": "blue", "kind": "x"}}}, {"colourway[1].inks.red.kind"}),
    ({"colourway__0__inks": {"red": {"colour": "blue", "ink": ""}}}, set()),
    ({"colourway__0__garment__colour": ""}, {"colourway[1].garment.colour"}),
    ({"colourway": [{"garment": {"style": "Hood", "colour": ""}}] * 2},
     {"colourway[1].garment.colour", "colourway[2].garment.colour"}),
    ({"colourway__0__garment__style": "Hood", "garment__0__pieces": 0}, {"garment[1].pieces"}),
    ({"colourway__0__inks__green": False}, {"colourway[1].inks.green"}),
    ({"colourway__0__inks__green": False, **at(3, colour="")}, {"placement[1].station[4].colour"}),
    ({"colourway__0__inks__green": False, **at(1, time="x")},
     {"placement[1].station[2].time", "colourway[1].inks.green"}),
    ({"colourway__0__inks__green": False, **at(1, does="dance", surface=None)}, {"placement[1].station[2].does"}),
])  # fmt: skip
def test_what_a_job_may_say(changes: dict[str, object], where: set[str]) -> None:
    try:
        read(with_(**changes))
    except Refused as refused:
        assert {one.where for one in refused.faults} == where
    else:
        assert not where


@pytest.mark.parametrize(("heights", "where"), [
    ((None, None, None), []), (("200 mm", "200 mm", None), []), (("200 mm", None, "201 mm"), ["placement[5].height"]),
    ((None, "200 mm", "201 mm"), ["placement[5].height"]), (("200 mm", "200.4 mm", "7.874 in"), []),
    (("200 mm", "201 mm", "202 mm"), ["placement[4].height", "placement[5].height"])])  # fmt: skip
def test_one_image_in_three_places_has_one_height(heights: tuple[str | None, ...], where: list[str]) -> None:
    front = DATA["placement"][1] | {"same_image": True, "width": "90 mm"}
    more = [front | {"name": f"Place {at}"} | ({"height": one} if one else {}) for at, one in enumerate(heights)]
    data = with_(placement=[*DATA["placement"], *more])
    try:
        job = read(data)
    except Refused as refused:
        assert sorted(one.where for one in refused.faults) == where
    else:
        assert not where
        tall = {one.height_mm for one in job.separations() if one.width_mm == 90}
        assert tall == {None if not any(heights) else 200}


def test_one_image_in_three_places_is_told_once_with_every_name() -> None:
    back = {"name": "Back", "width": "300 mm", "art": DATA["art"], "station": DATA["placement"][0]["station"]}
    more = [back, back | {"name": "Sides"}]
    with pytest.raises(Refused) as refused:
        read(with_(placement=[*DATA["placement"], *more]))
    assert [one.where for one in refused.value.faults] == ["placement[3]", "placement[4]"]
    assert all("Placement 1" in one.message and "white base, red" in one.message for one in refused.value.faults)
    with pytest.raises(Refused) as refused:
        read(with_(placement=[*DATA["placement"], *more], customer=""))
    assert [one.where for one in refused.value.faults] == ["customer"]


def test_an_image_said_wrongly_is_answered_by_the_nearest_or_by_all() -> None:
    for name, said in (("Reed", "“red”"), ("lime", "white base, red")):
        with pytest.raises(Refused) as refused:
            read(with_(colourway__0__inks={name: False}))
        (fault,) = refused.value.faults
        assert said in fault.message and ("lime" == name) == ("do you mean" not in fault.message)


@pytest.mark.parametrize(("value", "number", "said"), [
    (10**12 - 1, 10**12 - 1, "999999999999"), (10**12, None, "10000000000000"), (-(10**12), None, "10000000000000"),
    (float("inf"), None, "10000000000000"), (1.5, 1.5, "1.5"), (2.0, 2, "2"), (True, None, "1")])  # fmt: skip
def test_a_number_of_a_file_has_an_end(value: float, number: float | None, said: str) -> None:
    assert table.plain_number(value) == number and table.shown_number(value) == said


def test_amounts_of_which_some_have_a_unit_are_asked_about_once() -> None:
    data = with_(placement__0__station__0__recipe={"base": "1 kg", "activator": "60"})
    with pytest.raises(Refused) as refused:
        read(data)
    (fault,) = refused.value.faults
    assert (fault.where, fault.readings) == (RECIPE, ("1 kg base, 60 kg activator", "1 kg base, 60 g activator"))
    kept = read(data, stored=True).placements[0].stations[0].recipe
    assert kept == {"base": 1000, "activator": 60}, "what a shop kept is not asked about again"
    broken = with_(placement__0__station__0__recipe={"base": "1 kg", "activator": "much"})
    with pytest.raises(Refused) as refused:
        read(broken)
    assert [one.where for one in refused.value.faults] == [f"{RECIPE}.activator"]


@pytest.mark.parametrize(("text", "low", "high", "found"), [
    ("1.000", 1, 1000, ("1000", "1")), ("1.000", 1, 999, ("1",)), ("1.000", 2, 1000, ("1000",)), ("1.000", 2, 999, ()),
    ("1,250", 1, 1250, ("1250",)), ("1,250", 1, 1249, ())])  # fmt: skip
def test_a_count_that_reads_in_two_ways_is_asked_about_as_far_as_it_can_be_meant(
    text: str, low: int, high: int, found: tuple[str, ...]
) -> None:
    faults: list[Fault] = []
    assert table.TableReader({"n": text}, "", faults).whole("n", low, high) is None
    assert [one.readings for one in faults] == [found]
    assert f"from {low} to {high}" in faults[0].message and ("meant" in faults[0].message) == bool(found)


def test_a_quantity_that_reads_in_two_ways_is_taken_where_one_of_them_can_be() -> None:
    """A print is from 5 mm to 2 m wide: 1,250 mm is no print of 1.25 mm."""
    assert read(with_(placement__0__width="1,250 mm")).placements[0].width_mm == 1250
    with pytest.raises(Refused) as refused:
        read(with_(placement__0__station__0__flake="1,250 um"))
    (fault,) = refused.value.faults
    assert fault.readings == ("1250 um", "1.25 um"), "a flake may be either"
