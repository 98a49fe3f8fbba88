"""A job is read whole or refused whole, and written back so that it reads the same."""

from __future__ import annotations

import copy
import dataclasses
import tomllib
from datetime import date, datetime
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tickets.calculator.kinds import INKS
from tickets.domain.jobs.job import (
    Art,
    Colourway,
    Dryer,
    Garment,
    Halftone,
    Ink,
    InkChange,
    Job,
    MeshWanted,
    Placement,
    Squeegee,
    Station,
    ink_for,
    read,
    to_toml,
)
from tickets.domain.names import unseen
from tickets.domain.refusal import Refused
from tickets.domain.separation import Separation, folded

WHITE = {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "156/in", "thread": "64 um"}}
PLAIN: dict[str, Any] = {
    "title": "Heron tees",
    "customer": "Saltmarsh Chapel",
    "due": date(2026, 12, 15),
    "art": {"name": "Heron", "revision": "1"},
    "garment": [{"style": "Heavy tee", "colour": "black", "pieces": 40, "fibre": {"cotton": 100}}],
    "placement": [{"name": "Full front", "width": "12 in", "station": [WHITE]}],
}


@pytest.fixture
def plain() -> dict[str, Any]:
    return copy.deepcopy(PLAIN)


def faults(data: Any, where: str = "") -> dict[str, str]:
    with pytest.raises(Refused) as refused:
        read(data, where)
    return {fault.where: fault.message for fault in refused.value.faults}


def test_numbers_are_in_the_unit_of_their_name(plain: dict[str, Any]) -> None:
    """1 in = 25.4 mm (exact, international yard and pound agreement, 1959)."""
    plain["placement"][0]["station"][0] |= {
        "off_contact": "0.0625 in",
        "coverage": "18,5 %",
        "halftone": {"ruling": "10 lines/cm", "angle": "22.5 deg"},
        "recipe": {"base": "0.5 kg", "white": "250 g"},
        "flake": "2 mil",
    }
    plain["placement"][0]["dryer"] = {"belt_speed": "10 ft/min", "garment_peak": "320 degF", "hold": "1 min"}
    job = read(plain)
    placement = job.placements[0]
    station = placement.stations[0]
    assert placement.width_mm == pytest.approx(304.8)
    assert station.off_contact_mm == pytest.approx(1.5875)
    assert station.coverage_pct == 18.5
    assert station.halftone is not None and station.halftone.ruling_per_in == pytest.approx(25.4)
    assert station.flake_um == pytest.approx(50.8)
    assert station.recipe == {"base": 500.0, "white": 250.0}
    assert station.mesh is not None
    assert station.mesh.count_per_cm == pytest.approx(156 / 2.54)
    assert (station.mesh.count_as_labelled, station.mesh.thread_um) == ("156/in", 64.0)
    assert placement.dryer is not None
    assert placement.dryer.belt_speed_m_per_min == pytest.approx(3.048)
    assert placement.dryer.garment_peak_c == pytest.approx(160)
    assert placement.dryer.hold_s == 60


def test_what_was_typed_is_written_again(plain: dict[str, Any]) -> None:
    written = read(plain).to_dict()
    assert written["placement"][0]["width"] == "12 in"
    assert written["placement"][0]["station"][0]["mesh"] == {"count": "156/in", "thread": "64 um"}


def test_a_changed_number_is_not_written_as_it_was_once_typed(plain: dict[str, Any]) -> None:
    job = read(plain)
    wider = dataclasses.replace(job, placements=(dataclasses.replace(job.placements[0], width_mm=310.0),))
    assert wider.to_dict()["placement"][0]["width"] == "310 mm"


def test_defaults(plain: dict[str, Any]) -> None:
    job = read(plain)
    station = job.placements[0].stations[0]
    assert (station.separation, station.number, station.revolution, station.strokes) == ("white", 1, 1, 1)
    assert (station.head, station.squeegee, station.halftone) == (None, None, None)
    assert job.placements[0].art == job.art
    assert job.garments[0].infant is False


def test_the_flood_may_be_told_in_words_or_as_a_flag(plain: dict[str, Any]) -> None:
    station = plain["placement"][0]["station"][0]
    for told, kept in ((True, "yes"), (False, "no"), ("light", "light")):
        station["flood"] = told
        job = read(plain)
        assert job.placements[0].stations[0].flood == kept
        assert read(job.to_dict()) == job


def test_a_date_may_be_text(plain: dict[str, Any]) -> None:
    assert read(plain | {"due": "2026-12-15"}).due == date(2026, 12, 15)


def test_every_fault_is_told_at_once_with_its_place() -> None:
    data = {
        "titel": "Heron tees",
        "customer": " ",
        "due": "tomorrow",
        "art": {"name": "Heron", "revision": "1"},
        "garment": [{"style": "Tee", "colour": "black", "pieces": 0, "fibre": {"cotton": 90}}],
        "placement": [
            {"name": "Front", "width": "30 cm", "station": [WHITE, {"does": "flash", "time": "6 s"}, {**WHITE}]},
            {"name": "Back", "width": 30, "station": [WHITE | {"mesh": {"count": "230 um"}}]},
        ],
    }
    found = faults(data, "heron.toml")
    assert set(found) == {
        "heron.toml: titel",
        "heron.toml: title",
        "heron.toml: customer",
        "heron.toml: due",
        "heron.toml: garment[1].pieces",
        "heron.toml: garment[1].fibre",
        "heron.toml: placement[2].width",
        "heron.toml: placement[2].station[1].mesh.count",
    }
    assert "“title”" in found["heron.toml: titel"]
    assert "/in" in found["heron.toml: placement[2].station[1].mesh.count"]


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        (("due",), "2026-02-30", "due"),
        (("due",), 20261215, "due"),
        (("due",), datetime(2026, 12, 15, 8), "due"),
        (("title",), "tees\x00", "title"),
        (("title",), "x" * 201, "title"),
        (("title",), ["tees"], "title"),
        (("title",), float("nan"), "title"),
        (("garment",), "tees", "garment"),
        (("garment",), [], "garment"),
        (("garment", 0), "tee", "garment[1]"),
        (("garment", 0, "pieces"), True, "garment[1].pieces"),
        (("garment", 0, "pieces"), 1.5, "garment[1].pieces"),
        (("garment", 0, "pieces"), "1,250", "garment[1].pieces"),
        (("garment", 0, "infant"), "no", "garment[1].infant"),
        (("garment", 0, "fibre"), {}, "garment[1].fibre"),
        (("garment", 0, "fibre"), None, "garment[1].fibre"),
        (("garment", 0, "fibre"), {"cotton": float("nan")}, "garment[1].fibre.cotton"),
        (("garment", 0, "fibre"), {"cotton": 50, "Cotton ": 50}, "garment[1].fibre.Cotton "),
        (("placement", 0, "width"), "1e2 mm", "placement[1].width"),
        (("placement", 0, "width"), "nan mm", "placement[1].width"),
        (("placement", 0, "width"), "0 mm", "placement[1].width"),
        (("placement", 0, "width"), True, "placement[1].width"),
        (("placement", 0, "station"), [], "placement[1].station"),
        (("placement", 0, "station", 0, "head"), 0, "placement[1].station[1].head"),
        (("placement", 0, "station", 0, "recipe"), {"": 1}, 'placement[1].station[1].recipe.""'),
        (("placement", 0, "station", 0, "recipe"), {"a\nb": 1}, "placement[1].station[1].recipe.a?b"),
        (("placement", 0, "station", 0, "time"), "6 s", "placement[1].station[1].time"),
        (("placement", 0, "art"), {"name": "Wren"}, "placement[1].art.revision"),
        (("colourway",), [{"garment": {"style": "Heavy tee"}}], "colourway[1].garment.colour"),
        (
            ("colourway",),
            [{"garment": {"style": "heavy tee", "colour": "Black"}, "inks": {"white": True}}],
            "colourway[1].inks.white",
        ),
    ],
)
def test_an_impossible_value_is_refused_at_its_place(
    plain: dict[str, Any], path: tuple[str | int, ...], value: object, place: str
) -> None:
    inner: Any = plain
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    assert list(faults(plain)) == [place]


@pytest.mark.parametrize("data", [{}, [], "job", None, 3])
def test_anything_that_is_no_job_is_refused(data: Any) -> None:
    assert faults(data)


def test_a_long_note_may_have_lines(plain: dict[str, Any]) -> None:
    plain["placement"][0]["station"][0]["note"] = 'First "line"\r\nsecond \\ line\t.'
    job = read(plain)
    assert job.placements[0].stations[0].note == 'First "line"\nsecond \\ line\t.'
    assert read(tomllib.loads(to_toml(job))) == job


# Separations


def test_the_same_five_are_the_same_separation_whatever_the_height() -> None:
    one = Separation("Saltmarsh Chapel", "Żuraw", "2B", 305, "White", 380)
    other = Separation("  saltmarsh   CHAPEL ", "żuraw", "2b", 305, "white")
    # the same letter as one character and as a letter with a combining dot (Unicode canonical equivalence, UAX #15)
    combined = Separation("Saltmarsh Chapel", "Z\u0307uraw", "2b", 305, "white")
    assert one.key == other.key == combined.key
    assert one == other and hash(one) == hash(other)


@pytest.mark.parametrize("field", ["customer", "art", "revision", "name"])
def test_each_text_tells_separations_apart(field: str) -> None:
    one = Separation("Chapel", "Heron", "1", 305, "white")
    assert dataclasses.replace(one, **{field: "another"}).key != one.key
    assert dataclasses.replace(one, width_mm=304).key != one.key


def test_a_separation_takes_the_width_to_the_whole_millimetre(plain: dict[str, Any]) -> None:
    """12 in are 304.8 mm."""
    job = read(plain)
    separation = job.separation(job.placements[0], job.placements[0].stations[0])
    assert separation == Separation("Saltmarsh Chapel", "Heron", "1", 305, "white")
    plain["placement"][0]["width"] = "304.5 mm"
    assert read(plain).separations()[0].width_mm == 305
    plain["placement"][0]["width"] = "304.49 mm"
    assert read(plain).separations()[0].width_mm == 304
    # one size in two units is one separation: 0.5005 x 1000 is a hair under 500.5 in floats
    for same in ("500.5 mm", "50.05 cm", "0.5005 m"):
        plain["placement"][0]["width"] = same
        assert read(plain).separations()[0].width_mm == 501


def test_a_flash_has_no_separation(plain: dict[str, Any]) -> None:
    plain["placement"][0]["station"].append({"does": "flash", "time": "6 s"})
    job = read(plain)
    with pytest.raises(ValueError, match="does not print"):
        job.separation(job.placements[0], job.placements[0].stations[1])


def two_placements(plain: dict[str, Any], first: dict[str, Any], second: dict[str, Any]) -> dict[str, Any]:
    plain["placement"] = [
        {"name": "Front", "width": "300 mm", "station": [WHITE]} | first,
        {"name": "Back", "width": "30 cm", "station": [WHITE | {"colour": "White"}]} | second,
    ]
    return plain


def test_two_placements_with_one_separation_must_each_say_so(plain: dict[str, Any]) -> None:
    said = {"same_image": True}
    assert list(faults(two_placements(plain, {}, {}))) == ["placement[2]"]
    assert list(faults(two_placements(plain, said, {}))) == ["placement[2]"]
    assert list(faults(two_placements(plain, {}, said))) == ["placement[2]"]
    job = read(two_placements(plain, said, said | {"height": "200 mm"}))
    assert [separation.height_mm for separation in job.separations()] == [200]


def test_another_width_art_or_name_is_another_separation(plain: dict[str, Any]) -> None:
    assert len(read(two_placements(plain, {}, {"width": "301 mm"})).separations()) == 2
    assert len(read(two_placements(plain, {}, {"art": {"name": "Wren", "revision": "1"}})).separations()) == 2
    assert len(read(two_placements(plain, {}, {"station": [WHITE | {"separation": "back"}]})).separations()) == 2


def test_one_image_has_one_height(plain: dict[str, Any]) -> None:
    same = {"same_image": True}
    assert list(faults(two_placements(plain, same | {"height": "1 in"}, same | {"height": "30 mm"}))) == [
        "placement[2].height"
    ]
    assert read(two_placements(plain, same | {"height": "25.4 mm"}, same | {"height": "1 in"}))
    three = two_placements(plain, same, same | {"height": "30 mm"})
    three["placement"].append(three["placement"][1] | {"name": "Sleeve", "height": "31 mm"})
    assert list(faults(three)) == ["placement[3].height"]


def test_the_kind_of_work_of_a_placement(plain: dict[str, Any]) -> None:
    flash = {"does": "flash", "time": "6 s"}
    plain["placement"][0]["station"] = [WHITE, flash]
    assert read(plain).placements[0].work == "one-colour"
    plain["placement"][0]["station"] = [WHITE, flash, WHITE | {"colour": "red"}]
    assert read(plain).placements[0].work == "colours"
    plain["placement"][0]["station"] = [WHITE | {"halftone": {"ruling": "45 lpi"}}, WHITE | {"colour": "red"}]
    assert read(plain).placements[0].work == "halftone"


def test_a_placement_that_names_the_job_s_own_art_has_its_picture(plain: dict[str, Any]) -> None:
    plain["art"]["picture"] = "heron.png"
    plain["placement"][0]["art"] = {"name": "Heron", "revision": "1"}
    assert read(plain).placements[0].art == Art("Heron", "1", "heron.png")


# Colourways


def test_each_garment_takes_the_inks_of_its_colourway(plain: dict[str, Any]) -> None:
    plain["garment"].append({"style": "Heavy tee", "colour": "white", "pieces": 5, "fibre": {"cotton": 100}})
    plain["placement"][0]["station"] = [
        WHITE | {"separation": "base"},
        WHITE | {"colour": "red", "series": "general", "reference": "p. 8"},
    ]
    plain["colourway"] = [
        {
            "garment": {"style": "heavy tee", "colour": "White"},
            "inks": {"Base": False, "red": {"colour": "navy"}},
        }
    ]
    job = read(plain)
    placement = job.placements[0]
    base, red = placement.stations
    black, white = job.garments
    assert job.colourway_of(black) is None
    colourway = job.colourway_of(white)
    assert colourway is job.colourways[0]
    assert ink_for(job, None, placement, base) == Ink("plastisol", "white")
    assert ink_for(job, colourway, placement, base) is None
    # the page of the red is not the page of the navy; the series is the same pot of base
    assert ink_for(job, colourway, placement, red) == Ink("plastisol", "navy", "general", "")


def test_another_ink_drops_the_series_of_the_first(plain: dict[str, Any]) -> None:
    plain["placement"][0]["station"] = [WHITE | {"series": "general", "reference": "p. 8"}]
    plain["colourway"] = [
        {
            "garment": {"style": "Heavy tee", "colour": "black"},
            "inks": {"white": {"ink": "water-base", "reference": "p. 9"}},
        }
    ]
    job = read(plain)
    placement = job.placements[0]
    assert ink_for(job, job.colourways[0], placement, placement.stations[0]) == Ink("water-base", "white", "", "p. 9")


def test_a_flash_takes_no_ink(plain: dict[str, Any]) -> None:
    plain["placement"][0]["station"].append({"does": "flash", "time": "6 s"})
    job = read(plain)
    assert ink_for(job, None, job.placements[0], job.placements[0].stations[1]) is None


# Round trip

texts = st.text(
    st.characters(exclude_categories=("C", "Zl", "Zp")), min_size=1, max_size=12
).filter(lambda text: text == text.strip() and not unseen(text))  # fmt: skip
blanks = st.one_of(st.just(""), texts)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """What people type and scales show: a float of twenty decimals is no text that `units` takes."""
    return st.floats(low, high, allow_nan=False).map(lambda number: round(number, 9))


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.one_of(st.none(), strategy)


fibres = st.sampled_from(
    [{"cotton": 100.0}, {"cotton": 60.0, "polyester": 40.0}, {"cotton": 33.3, "modal": 33.3, "silk, wild": 33.4}]
)
garments = st.builds(Garment, texts, texts, st.integers(1, 9999), blanks, fibres, st.booleans())
meshes = st.builds(
    lambda count, thread: MeshWanted(f"{count}/cm", float(count), thread),
    st.integers(10, 160),
    maybe(numbers(10, 60)),
)
halftones = st.builds(Halftone, numbers(10, 120), maybe(numbers(0, 180)))
squeegees = st.builds(
    Squeegee,
    st.sampled_from(["", "70", "70/90/70"]),
    st.sampled_from(["", "15 deg", "0.5 deg"]),
    blanks,
    st.sampled_from(["", "400 mm"]),
    blanks,
    blanks,
    st.sampled_from(["", "notch 3"]),
).filter(lambda squeegee: squeegee != Squeegee())


@st.composite
def stations(draw: st.DrawFn, number: int) -> Station:
    does = "print" if number == 1 else draw(st.sampled_from(["print", "flash", "cool"]))
    shared = {
        "revolution": draw(st.integers(1, 3)),
        "head": draw(maybe(st.integers(1, 18))),
        "note": draw(blanks),
    }
    if does != "print":
        time = numbers(0.5, 60)
        return Station(
            number,
            does,
            time_s=draw(time if does == "flash" else maybe(time)),
            surface=draw(st.sampled_from(["", "tacky", "110 degC"])) if does == "flash" else "",
            **shared,
        )
    colour = draw(texts)
    return Station(
        number,
        does,
        separation=draw(st.one_of(st.just(colour), texts)),
        colour=colour,
        ink=draw(st.sampled_from(tuple(INKS))),
        mesh=draw(meshes),
        series=draw(blanks),
        reference=draw(blanks),
        strokes=draw(st.integers(1, 9)),
        coverage_pct=draw(maybe(numbers(0.5, 100))),
        halftone=draw(maybe(halftones)),
        flood=draw(blanks),
        choke=draw(blanks),
        off_contact_mm=draw(maybe(numbers(0.5, 20))),
        flake_um=draw(maybe(numbers(2, 400))),
        squeegee=draw(maybe(squeegees)),
        recipe=draw(st.dictionaries(st.sampled_from(["base", "żółty", 'say "hi"', "a.b"]), numbers(0.01, 5000))),
        **shared,
    )


dryers = st.builds(
    Dryer, maybe(numbers(0.1, 20)), maybe(numbers(30, 500)), maybe(numbers(30, 200)), maybe(numbers(1, 600))
).filter(lambda dryer: dryer != Dryer())


@st.composite
def whole_jobs(draw: st.DrawFn) -> Job:
    art = Art(draw(texts), draw(texts), draw(st.sampled_from(["", "heron.png"])))
    placements = []
    for number in range(draw(st.integers(1, 3))):
        own_art = Art(f"art {number}", draw(texts)) if number or draw(st.booleans()) else art
        count = draw(st.integers(1, 4))
        placements.append(
            Placement(
                f"Placement {number}",
                draw(numbers(10, 900)),
                draw(maybe(numbers(10, 900))),
                draw(blanks),
                draw(blanks),
                own_art,
                draw(st.booleans()),
                tuple(draw(stations(each + 1)) for each in range(count)),
                draw(maybe(dryers)),
            )
        )
    shirts = draw(st.lists(garments, min_size=1, max_size=3, unique_by=lambda each: folded(each.style)))
    changes = maybe(st.builds(InkChange, blanks, st.sampled_from(["", *INKS]), blanks, blanks))
    first = placements[0].stations[0].separation
    colourways = tuple(
        Colourway(shirt.style, shirt.colour, {first: draw(changes)} if draw(st.booleans()) else {})
        for shirt in shirts
        if draw(st.booleans())
    )
    return Job(
        draw(texts),
        draw(texts),
        draw(st.dates(date(2000, 1, 1), date(2100, 1, 1))),
        draw(st.sampled_from(["", "A-1"])),
        draw(st.sampled_from(["", "B-2"])),
        art,
        tuple(shirts),
        tuple(placements),
        colourways,
    )


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(whole_jobs())
def test_a_job_written_and_read_is_the_same_job(job: Job) -> None:
    assert read(job.to_dict()) == job
    assert read(tomllib.loads(to_toml(job))) == job


junk = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.dates()),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["does", "mesh", "count", "name", "width", "inks", "x"]), inner, max_size=4),
    ),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_no_data_makes_it_fall_over(data: st.DataObject) -> None:
    """Whatever stands in a place, the answer is a job or a refusal."""
    job = copy.deepcopy(PLAIN)
    inner: Any = job
    while True:
        key = data.draw(st.sampled_from(sorted(inner, key=str) if isinstance(inner, dict) else range(len(inner))))
        if not isinstance(inner[key], (dict, list)) or data.draw(st.booleans()):
            inner[key] = data.draw(junk)
            break
        inner = inner[key]
    try:
        again = read(job)
    except Refused as refused:
        assert refused.faults and all(fault.where and fault.message for fault in refused.faults)
    else:
        assert read(again.to_dict()) == again
