"""The life of a screen on one page: nothing that was logged of it is missing, with who and when."""

from __future__ import annotations

import re
from collections.abc import Callable

from flask.testing import FlaskClient
from test_desk_rules import Bench
from test_desk_rules import bench as bench  # a fixture

from tickets.floor import screens
from web.screen_life import STENCILS


def test_every_entry_of_a_screen_stands_in_its_life(
    bench: Bench, client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
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
            bench.log(code, step, hours, **sent)
    bench.log(code, "fault", 1, kind="slack")
    phone = sign_in(client, "Di Novak")
    page, lines = f"/desk/screens/{code}", 0
    while page:
        text = phone.get(page).text
        lines += len(re.findall(r'<p>(?:<s class="crossed-out">)?<b>[^<]+</b> · [^·]+ · Ada Holm', text))
        older = re.search(rf'href="(/desk/screens/{code}\?before=\d+)"', text)
        page = older[1] if older else ""
    number = screens.find(bench.db, code).id
    assert lines == bench.db.execute("SELECT count(*) FROM entries WHERE screen = ?", [number]).fetchone()[0] > 70
    first = phone.get(f"/desk/screens/{code}").text
    assert "1 · 230/in · 48" in first, "the mesh as its label has it"
    table = first.split("Stencils as a table")[1].split("</table>")[0]
    assert table.count("<tr>") == 1 + STENCILS
