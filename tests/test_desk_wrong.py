"""What goes wrong at the press, counted by what its stencils were made with; the cases are worked by hand."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from shop import Shop, fresh
from test_desk_rules import START

from tickets import store
from tickets.actions import buckets, hanging, places, runs
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.queries import sound, wrong
from tickets.store import jobs as store_jobs


@pytest.fixture
def two_runs(bench: Shop) -> Shop:
    """Run 1 takes a stencil of the big lamp that nobody degreased and one of the old lamp, stops for a pinhole, and
    prints 8 good pieces and 2 with pinholes. Run 2 takes another one of the old lamp: 20 good ones, 5 out of register.
    """
    places.add(bench.db, bench.me, "Press 1", "press", heads=6, post=fresh(), now=bench.now)
    lots = {
        lamp: buckets.mix(bench.db, bench.me, form({"kind": kind}), post=fresh(), now=bench.now)
        for lamp, kind in (("Big lamp", "dual-cure emulsion"), ("Old lamp", "diazo emulsion"))
    }
    stop, bad = {"cause": "pinhole", "minutes": "5"}, {"good": "8", "misprinted": "2", "cause": "pinhole"}
    off = {"good": "20", "misprinted": "5", "cause": "misregister"}
    for art, lamps, steps in (("Warbler", ["Big lamp", "Old lamp"], [("stop", stop), ("count", bad)]),
                              ("Heron", ["Old lamp"], [("count", off)])):  # fmt: skip
        images = bench.images(len(lamps), art=art)
        code = store_jobs.search(bench.db, art)[0].code
        sent = form({"job": code, "placement": "1", "press": "Press 1"})
        run = runs.open_run(bench.db, bench.me, sent, post=fresh(), now=bench.now)
        for frame, image, lamp in zip(bench.frames(len(lamps), thread_um="48"), images, lamps, strict=True):
            if lamp == "Old lamp":
                bench.past(frame, "degrease", 9)
            bench.past(frame, "coat", 8, bucket=lots[lamp])
            bench.past(frame, "image", 7.5, separations=[str(image)], means="film")
            bench.past(frame, "expose", 7, exposure_unit=lamp, exposure_s="80")
            bench.past(frame, "washout", 6, result="good")
            bench.past(frame, "check", 5, result="good")
            hang = form({"screen": frame, "override": "as it is"})
            hanging.hang(bench.db, LEAD, run, hang, post=fresh(), now=bench.now)
        for step, values in steps:
            runs.log(bench.db, bench.me, run, step, form(values), post=fresh(), now=bench.now)
    return bench


LEAD = Actor(1, "Lead", "press lead")


def test_stops_and_misprints_are_counted_by_what_the_stencils_were_made_with(two_runs: Shop) -> None:
    found = dict(wrong.wrong(two_runs.db, two_runs.now, 30).screens)

    def said(kind: str) -> dict[str, tuple[int, int, int, int]]:
        return {one.name: (one.stopped.number, one.stopped.of, one.misprinted.number, one.misprinted.of)
                for one in found[kind]}  # fmt: skip

    big, old = (1, 1, 2, 10), (1, 2, 2, 35)  # the old lamp: one stencil in each run, 10 + 25 pieces
    assert said("exposure unit") == {"Big lamp": big, "Old lamp": old}
    assert said("emulsion") == {"dual-cure emulsion": big, "diazo emulsion": old}
    assert sorted(said("bucket").values()) == sorted((big, old))
    assert said("mesh") == {"230/in": (2, 3, 4, 45)}  # a piece counts for each stencil that hung
    assert said("left out") == {"-degrease": big, "+degrease": old}
    assert [one.name for one in found["left out"]] == ["-degrease", "+degrease"]
    assert sound.check(two_runs.db) == []


def test_the_page_has_the_counts_beside_each_other(
    two_runs: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    page = sign_in(client, "Di Novak").get("/desk/wrong").text
    part = page.split("Press stops, swaps and misprints by screen")[1].split("</details>")[0]
    text = " ".join(re.sub(r"<[^>]+>", " ", part).split())
    assert "without: Degrease 1 of 1 2 of 10 with: Degrease 1 of 2 2 of 35" in text
    assert "%" not in text


def test_a_lamp_is_called_steady_only_by_readings_after_those_that_its_limits_are_drawn_from(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    bench.frames(1)
    bench.db.execute("INSERT INTO burnt VALUES ('Big lamp', '2026-03-02', 0, 1, 0)")
    phone = sign_in(client, "Di Novak")

    def held(steps: list[float], first: int) -> str:
        """The part of the page about the lamp, once it has these readings too, a day apart."""
        rows = [
            (n, f"s{n:05d}", (START - timedelta(days=60 - n)).isoformat(), step) for n, step in enumerate(steps, first)
        ]
        with store.writing(bench.db):
            bench.db.conn.executemany(
                "INSERT INTO washouts (screen, place, entry, at, exposure_unit, mesh_colour, preset, step_held, "
                "result, fault) VALUES (1, ?, ?, ?, 'Big lamp', '', '', ?, 'good', '')", rows,
            )  # fmt: skip
        part = phone.get("/desk/wrong").text.split("<h3>Big lamp</h3>")[1].split("</section>")[0]
        assert part.count('d="m-4-4 8 8m0-8-8 8"') == 2, "a cross at the strip, and one beside its name"
        return " ".join(re.sub(r"<[^>]+>", " ", part).split())

    young = held([7.0] * 14 + [4.0] + [7.0] * 5, 0)
    assert "! Step wedge of" in young and "far from the others : step 4 held, on one of the first step wedges" in young
    assert "20 step wedges: too few to say anything. Judging starts after the first 20 that can be compared." in young
    assert "✓" not in young and "Moved" not in young
    old = held([7.0, 7.0, 6.5], 20)
    assert "! Step wedge of" in old and "✓ nothing moved in the 2 step wedges after the first ones" in old
