"""The life of a screen on one page: nothing that was logged of it is missing, with who and when."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from flask.testing import FlaskClient
from shop import Shop, fresh

from tickets.actions import screens
from tickets.domain.posted import form
from tickets.queries import find
from web.screen_life import STENCILS


def test_every_entry_of_a_screen_stands_in_its_life(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """Also what was done to the bare frame, before the first stencil and between two."""
    (code,) = bench.frames(1, thread_um="48")
    hours = 200.0
    for _unused in range(STENCILS + 2):
        for step, sent in (
            ("tension", {"readings_n_per_cm": "24"}), ("degrease", {}), ("coat", {}), ("washout", {"result": "good"}),
            ("check", {"result": "good"}), ("strip", {}), ("note", {"note": f"bare at {hours:.0f}"}),
        ):  # fmt: skip
            hours -= 1
            bench.past(code, step, hours, **sent)
    bench.past(code, "fault", 1, kind="slack")
    phone = sign_in(client, "Di Novak")
    page, lines = f"/desk/screens/{code}", 0
    while page:
        text = phone.get(page).text
        lines += len(re.findall(r'<p>(?:<s class="crossed-out">)?<b>[^<]+</b> · [^·]+ · Ada Holm', text))
        older = re.search(rf'href="(/desk/screens/{code}\?before=\d+)"', text)
        page = older[1] if older else ""
    number = find.screen(bench.db, code).id
    assert lines == bench.db.execute("SELECT count(*) FROM entries WHERE screen = ?", [number]).fetchone()[0] > 70
    first = phone.get(f"/desk/screens/{code}").text
    assert "1 · 230/in · 48" in first, "the mesh as its label has it"
    table = first.split("Stencils as a table")[1].split("</table>")[0]
    assert table.count("<tr>") == 1 + STENCILS


def test_each_mark_of_the_picture_stands_for_what_was_logged_when_it_was_logged(
    bench: Shop, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
) -> None:
    """Three stencils: stripped; torn off the press, then new mesh; stripped, after a stripping that was a slip. The
    second was reported slack two days after it was begun, the third had scum at its washout."""
    (code,) = bench.frames(1, days_ago=9, thread_um="48")
    for hours, step, sent in (
        (200, "coat", {}), (199, "washout", {"result": "good"}), (181, "clean", {}), (180, "strip", {}),
        (150, "coat", {}), (149, "washout", {"result": "good"}), (100, "fault", {"kind": "slack", "then": "use on"}),
        (60, "pull", {"condition": "torn"}), (50, "stretch", {"mesh_count_as_labelled": "230/in"}),
        (40, "coat", {}), (39, "washout", {"result": "fault", "fault": "scum"}), (20, "strip", {}),
    ):  # fmt: skip
        bench.past(code, step, hours, **sent)
    slip = bench.past(code, "strip", 30)
    crossed = form({"crosses": slip, "why": "the wrong screen"})
    screens.cross_out(bench.db, bench.me, crossed, post=fresh(), now=bench.now)
    page = sign_in(client, "Di Novak").get(f"/desk/screens/{code}").text
    picture = page.split("<h2>Prints</h2>")[1].split("</svg>")[0]
    drawn = {
        "reclaimed": "h7v7h-7z", "torn": "h10l-5 9z", "fault": "m-4-4 8 8", "washout": "M0-4v8", "ink off": "M-3 0a3 3",
    }  # fmt: skip
    counts = {"reclaimed": 2, "torn": 1, "fault": 2, "washout": 3, "ink off": 1}
    assert {name: picture.count(mark) - 1 for name, mark in drawn.items()} == counts, "one more beside its name"
    assert all(f"{name}: {number}" in picture for name, number in counts.items())
    # 216 h from the stretching until now, and 2 % of that on either side, on a plot from 40 to 272
    faults = [float(x) for x in re.findall(r'translate\(([\d.]+) [\d.]+\)" d="m-4-4', picture)][:2]
    assert faults == pytest.approx([40 + 232 * (1.02 * 216 - hours) / (1.04 * 216) for hours in (100, 39)], abs=0.2)
    names = sorted(float(y) for y in re.findall(r'<text x="297" y="([\d.]+)"', picture))  # beside the plot
    apart = [below - above for above, below in zip(names, names[1:], strict=False)]
    assert len(names) == 6 and min(apart) >= 13 and names[-1] <= 204, "legible, and beside the plot, not under it"
    rows = page.split("Stencils as a table")[1].split("</table>")[0].split("<tr>")[2:]
    third, second, first = (" ".join(re.sub(r"<[^>]+>", " ", row).split()) for row in rows)
    when = r"\d+ \w+,? [^,]*\d\d:\d\d"
    assert re.fullmatch(rf"1, 1 .* {when}, Ada Holm 0 {when}, Ada Holm – Reclaimed, {when}, Ada Holm", first), first
    faulty = rf"slack, {when}, Ada Holm torn, {when}, Ada Holm"
    assert re.fullmatch(rf"1, 2 .* 0 – {faulty} New mesh stretched, {when}, Ada Holm", second), second
    scum = rf"scum in the open mesh, {when}, Ada Holm"
    assert re.fullmatch(rf"2, 1 .* 0 – {scum} Reclaimed, {when}, Ada Holm", third), third
