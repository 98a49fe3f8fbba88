"""The pages of what the log teaches, and the charts on them."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import g
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment, FileSystemLoader
from shop import MINUTE, NOW, Shop, fresh, one_colour
from sqlite_utils import Database

from tickets.actions import hanging, places, runs, screens, shop
from tickets.calculator import lamp
from tickets.domain.desk import control
from tickets.domain.entry import stamp
from tickets.domain.posted import form
from tickets.domain.screens.readings import Lesson, MeshLife
from tickets.domain.spec import Row
from tickets.queries import find
from tickets.store import readings, writing
from web import charts, desk, learning
from web.charts import Axis, Drawing, LevelLine, Series, chart, reach, ticks

SignIn = Callable[[FlaskClient, str], FlaskClient]


@pytest.fixture
def the_shop(db: Database) -> Shop:
    """Some weeks back."""
    made = Shop(db, NOW - timedelta(days=30), MINUTE, "Di Novak")
    made.noted["mesh_colour"] = "dyed"
    made.lamp = "Big lamp & co"
    made.unit(made.lamp, "point")
    made.bucket = made.mix()
    return made


def taught(the_shop: Shop, code: str, held: float, seconds: float = 100) -> None:
    """A strip is read, once a day."""
    the_shop.taught(code, held, exposure_s=seconds)
    the_shop.tick(hours=20)


@pytest.fixture
def manager(client: FlaskClient, sign_in: SignIn) -> FlaskClient:
    return sign_in(client, "Di Novak")


PATH = "/exposure-units/Big%20lamp%20%26%20co"


# Exposure units


def test_a_unit_shows_its_drift_its_lamp_and_what_it_teaches(the_shop: Shop, manager: FlaskClient) -> None:
    code = the_shop.frame()
    places.change_lamp(the_shop.db, the_shop.me, "Big lamp & co", post=fresh(), now=the_shop.tick())
    for held in (7, 7, 7):
        taught(the_shop, code, held)
    assert "3 step wedges: too few to say how the lamp is doing; 8 are needed." in manager.get(PATH).text
    for held in (*[7] * 5, *[5] * 8):
        the_shop.now += timedelta(days=1)
        taught(the_shop, code, held)
    listed = manager.get("/exposure-units").text
    assert (
        f'href="{PATH}"' in listed
        and "Caution:" in listed
        and "more time than when the lamp was new, surely between" in listed
    )
    desk = manager.get("/desk").text
    assert f'href="{PATH}"' in desk and "lamps due" in desk
    page = manager.get(PATH).text
    assert "Big lamp &amp; co" in page and "The same stencils take" in page
    assert (
        'role="img"' in page
        and "The lamp now takes" in page
        and "by 16 step wedges of 1 mix of emulsion and mesh." in page
    )
    assert "230/in" in page and "of 15 step wedges" in page


def test_a_set_time_that_the_strips_contradict_is_said_on_the_list_the_units_page_and_the_desk(
    the_shop: Shop, manager: FlaskClient
) -> None:
    """Step 6 where 7 is wanted, with 60 s from the first reading on: 60 x 2 ** 0.5 = 84.9 s, 41 % more; no drift."""
    code = the_shop.frame()
    for _time in range(6):
        taught(the_shop, code, 6, seconds=60)
    said = "The shop’s exposure time is 60\u00a0s; the last 6 step wedges ask for 84.9\u00a0s: 41\u00a0% more."
    for path in ("/exposure-units", PATH, "/desk"):
        assert said not in manager.get(path).text
    row = Row(0, "exposure-time", 60.0, "s", {"exposure_unit": "Big lamp & co"}, "a test of ours")
    shop.add_spec_row(the_shop.db, the_shop.me, row, now=the_shop.tick())
    number = the_shop.db.execute("SELECT max(id) FROM spec").fetchone()[0]
    for path in ("/exposure-units", PATH, "/desk", "/desk?print=1"):
        assert said in manager.get(path).text, path
    page = manager.get(PATH).text
    assert page.count(said) == 2  # on top, and in the row of its combination
    assert f'href="/spec/{number}">Change the set time' in page and manager.get(f"/spec/{number}").status_code == 200


def test_both_times_are_a_tap_away_and_the_manager_makes_the_taught_one_the_shops(
    the_shop: Shop, client: FlaskClient, sign_in: SignIn
) -> None:
    """Step 5 where 7 is wanted, with 60 s set: twice the time, 120 s."""
    code = the_shop.frame()
    row = Row(0, "exposure-time", 60.0, "s", {"exposure_unit": "Big lamp & co"}, "a test of ours")
    shop.add_spec_row(the_shop.db, the_shop.me, row, now=the_shop.tick())
    for _time in range(3):
        taught(the_shop, code, 5, seconds=60)
    the_shop.coated(code)
    phone = sign_in(client, "Ada Holm")
    tap = f"/screens/{code}?step=expose&amp;exposure_unit=Big%20lamp%20%26%20co&amp;exposure_s="
    page = phone.get(f"/screens/{code}").text
    assert f'href="{tap}60"' in page and f'href="{tap}120"' in page and "the shop’s set time" not in page
    assert 'name="exposure_s" type="text" value="60"' in " ".join(page.split())
    tapped = " ".join(phone.get(f"{tap}120".replace("&amp;", "&")).text.split())
    assert 'name="exposure_s" type="text" value="120"' in tapped
    phone = sign_in(client, "Di Novak")
    page = phone.get(f"/screens/{code}").text
    number = the_shop.db.execute("SELECT max(id) FROM spec").fetchone()[0]
    assert f'action="/spec/{number}"' in page and "Make 120\u00a0s the shop’s set time" in page
    assert f'action="/spec/{number}"' in phone.get(PATH).text
    sent = dict(re.findall(r'<input type="hidden" name="(value|value.unit|source)" value="([^"]*)">', page))
    assert sent == {"value": "120", "value.unit": "s", "source": "our own step wedges, the last 3"}
    assert phone.post(f"/spec/{number}", data=sent).status_code == 303
    page = phone.get(f"/screens/{code}").text
    assert 'name="exposure_s" type="text" value="120"' in " ".join(page.split()) and "shop’s set time" not in page


def test_a_unit_that_was_never_read_says_step_test_and_one_that_is_none_is_not_found(
    the_shop: Shop, manager: FlaskClient
) -> None:
    page = manager.get(PATH).text
    assert "Shoot a step wedge" in page and "<svg" not in page and "Unknown" in page
    assert manager.get("/exposure-units/none").status_code == 404


def test_only_the_manager_is_offered_a_new_lamp(the_shop: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    phone = sign_in(client, "Ada Holm")
    assert "/lamp" not in phone.get(PATH).text
    assert phone.post(f"{PATH}/lamp", data={"entry": fresh()}).status_code == 403
    phone = sign_in(client, "Di Novak")
    assert "/lamp" in phone.get(PATH).text
    assert phone.post(f"{PATH}/lamp", data={"entry": fresh()}).status_code == 303
    page = phone.get(PATH).text
    assert "New lamp on" in page
    bad = phone.post(f"{PATH}/lamp", data={"entry": fresh(), "at": "2999-01-01T10:00"})
    assert bad.status_code == 422 and "2999-01-01T10:00" in bad.text and "ahead" in bad.text
    number = re.search(r'name="withdraw" value="(\d+)"', page)
    assert number is not None
    assert phone.post(f"{PATH}/lamp", data={"entry": fresh(), "withdraw": number[1]}).status_code == 303
    assert "New lamp on" not in phone.get(PATH).text


def test_a_screens_exposure_says_what_its_time_rests_on(the_shop: Shop, manager: FlaskClient) -> None:
    code = the_shop.frame()
    for _time in range(2):
        taught(the_shop, code, 7)
    the_shop.coated(code)
    page = manager.get(f"/screens/{code}?step=expose").text
    assert "from two step wedges only, a hint" in page and 'value="100"' in page
    the_shop.log(code, "strip", still_needed="yes")
    taught(the_shop, code, 7)
    the_shop.coated(code)
    assert "the middle of 3 step wedges" in manager.get(f"/screens/{code}?step=expose").text


def test_a_screen_shows_its_tension_to_come(the_shop: Shop, manager: FlaskClient) -> None:
    code = the_shop.frame()
    for value in ("25", "24"):
        the_shop.log(code, "tension", readings_n_per_cm=value)
    page = manager.get(f"/screens/{code}").text
    assert "Tension forecast" in page and "A forecast needs 3" in page
    assert "new mesh, still settling" in page and "one place only" in page


def test_a_mesh_that_settles_still_is_given_no_number_of_uses(the_shop: Shop, manager: FlaskClient) -> None:
    """Three readings, the last at the first of the two uses that a new mesh takes to settle."""
    code = the_shop.frame()
    for value in ("25", "24.8"):
        the_shop.log(code, "tension", readings_n_per_cm=value)
    the_shop.used(code)
    the_shop.log(code, "tension", readings_n_per_cm="23.5")

    def told() -> str:
        page = manager.get(f"/desk/screens/{code}").text.split("Tension forecast")[1].split("</details>")[0]
        return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", page))

    settling = "The mesh was still settling when its tension was last measured, at use 1; it settles by about use 2."
    assert settling in told() and "uses left" not in told() and "1 uses" not in told()
    the_shop.used(code)
    assert settling in told() and "uses left" not in told()  # the readings are still those of new mesh
    the_shop.used(code)
    the_shop.log(code, "tension", readings_n_per_cm="22")
    assert settling not in told() and "uses left" in told()


# Mesh lives


def test_mesh_lives_show_a_curve_a_table_and_who_is_near_the_end(the_shop: Shop, manager: FlaskClient) -> None:
    codes = []
    for uses, cause in [*((uses, "torn") for uses in range(10, 20)), (12, ""), (1, "")]:
        codes.append(the_shop.frame())
        ended = "2026-03-09T09:00:00.000000Z" if cause else ""
        life = MeshLife(1, "2026-03-01T09:00:00.000000Z", "aluminium", 90.0, 48.0, uses, uses, 1, ended, cause)
        with writing(the_shop.db):
            number = find.screen(the_shop.db, codes[-1]).id
            readings.save(the_shop.db, [readings.Taught(number, Lesson(meshes=(life,)), None)])
    page = manager.get("/mesh-lives").text
    near = page[: page.index("Mesh 170/in to 240/in")]
    assert f"/screens/{codes[-2]}" in near and f"/screens/{codes[-1]}" not in near
    assert manager.get("/screens").text.count("! mesh near its end") == 1
    desk = manager.get("/desk").text
    assert f"/screens/{codes[-2]}" in desk and "meshes likely near their end" in desk
    assert "12 meshes, 10 ended" in page and "standard error" in page and "<svg" in page


def test_mesh_lives_without_any_mesh(manager: FlaskClient) -> None:
    assert "No mesh is on the list yet" in manager.get("/mesh-lives").text


def lives_of(the_shop: Shop, uses: list[tuple[int, str]], frame: str) -> None:
    """Meshes on such frames: how many uses each lasted and what ended it (nothing: it is in service)."""
    for number, cause in uses:
        code = the_shop.frame()
        ended = "2026-03-09T09:00:00.000000Z" if cause else ""
        life = MeshLife(1, "2026-03-01T09:00:00.000000Z", frame, 90.0, 48.0, number, number, 1, ended, cause)
        with writing(the_shop.db):
            screen = find.screen(the_shop.db, code).id
            readings.save(the_shop.db, [readings.Taught(screen, Lesson(meshes=(life,)), None)])


def test_the_sentence_of_the_survival_chart_says_what_half_of_the_meshes_last(
    the_shop: Shop, manager: FlaskClient
) -> None:
    """Kaplan and Meier by hand. Aluminium, ten torn after 10 to 19 uses, two in service with 12 and 1: 11 are at risk
    at 10, so that 10/11, 9/11, 8/11, then 8/11 x 6/7 = 0.62, 0.52, and 0.42 at 15. Roller, five torn at 30 and seven in
    service with 40: 7/12 are left at the end."""
    lives_of(the_shop, [*((number, "torn") for number in range(10, 20)), (12, ""), (1, "")], "aluminium")
    lives_of(the_shop, [*[(30, "torn")] * 5, *[(40, "")] * 7], "roller")
    page = manager.get("/mesh-lives").text
    (sentence,) = re.findall(r"<figcaption>(.*?)</figcaption>", page)
    assert sentence == "aluminium: half last 15 uses or more; roller: more than half last 40 uses"
    chart = page[page.index('<svg class="chart"') : page.index("</figure>")]
    assert all(f">{word}</text>" in chart for word in ("uses", "% still good", "half", "aluminium", "roller"))


def in_step(*held: float) -> control.Chart:
    """Step wedges of one unit, emulsion and mesh, one a day from 1 January."""
    first = datetime(2026, 1, 1, 9, tzinfo=UTC)
    return control.step_chart(
        [control.Strip(stamp(first + timedelta(days=day)), step) for day, step in enumerate(held)]
    )


LIKE = "than others with the same unit, emulsion and mesh"
KEEP = "! Moved on 26 Jan: from here on the step wedges keep coming out"


@pytest.mark.parametrize(
    ("held", "meaning"),
    [
        # the first one has no like, the 20 after it are never judged
        # the 22nd (22 January) at 3 is four steps off, at 11 as far the other way
        ((7.0,) * 25, "✓ nothing moved in the 4 step wedges after the first ones"),
        ((*(7.0,) * 21, 3.0), f"! Moved on 22 Jan: step 3 held, 4.0 steps lower {LIKE}"),
        ((*(7.0,) * 21, 11.0), f"! Moved on 22 Jan: step 11 held, 4.0 steps higher {LIKE}"),
        # a step to one side from the 26th (26 January) on adds up
        ((*(7.0,) * 25, *(6.0,) * 10), f"{KEEP} lower than before"),
        ((*(7.0,) * 25, *(8.0,) * 10), f"{KEEP} higher than before"),
        ((7.0,) * 9, "9 step wedges: too few to say anything."),
        # one of the first ones far off is told too, and is not what the chart means
        ((*(7.0,) * 14, 4.0, *(7.0,) * 10), "✓ nothing moved in the 4 step wedges after the first ones"),
    ],
)
def test_the_sentence_of_a_control_chart_says_whether_something_moved_when_and_which_way(
    app: Any, held: tuple[float, ...], meaning: str
) -> None:
    with app.test_request_context():
        g.now, g.settings = NOW, {}
        lines = desk._chart_said(in_step(*held))
    mark, text, more = lines[-1]
    assert f"{mark} {text}{': ' if more else ''}{more}".strip().startswith(meaning)
    assert any("Step wedge of 15 Jan: far from the others" in said for _mark, said, _more in lines) is (4.0 in held)


def test_the_sentence_of_the_lamp_says_what_share_of_the_time_it_takes_now(app: Any) -> None:
    """1.25 times the time when new is 125 %; two wedges say nothing."""
    points = tuple((float(day), 1 + day / 20) for day in range(9))
    known = lamp.Drift(points, points, 1.25, 1.1, 1.421, 0.1, 2)
    with app.test_request_context():
        g.now, g.settings = NOW, {}
        assert learning.drift_text(known) == (
            "The lamp now takes 125\u00a0% of the time it took when new, surely between 110\u00a0% and 142\u00a0%: "
            "by 9 step wedges of 2 mixes of emulsion and mesh."
        )
        few = learning.drift_text(lamp.Drift(points[:1]))
        assert few == "1 step wedge: too few to say how the lamp is doing; 8 are needed."


def test_the_sentence_of_a_tension_chart_says_how_far_the_floor_is(the_shop: Shop, manager: FlaskClient) -> None:
    """25, then 21.4 N/cm against the floor of 15 that comes along: 6.4 above it; then 14.2, 0.8 under it."""
    code = the_shop.frame()

    def told() -> str:
        return re.findall(r"<figcaption>(.*?)</figcaption>", manager.get(f"/screens/{code}").text)[0]

    for value in ("25", "21.4"):
        the_shop.log(code, "tension", readings_n_per_cm=value)
    assert told() == "Lowest at the last reading: 21.4\u00a0N/cm, 6.4\u00a0N/cm above the floor."
    the_shop.log(code, "tension", readings_n_per_cm="14.2")
    assert told() == "Lowest at the last reading: 14.2\u00a0N/cm, 0.8\u00a0N/cm under the floor."


# Ink


def test_a_job_shows_its_ink_and_advice_and_a_weighing_puts_it_right(the_shop: Shop, manager: FlaskClient) -> None:
    saved = the_shop.job(one_colour(flake="60 um"))
    page = manager.get(f"/jobs/{saved.code}").text
    assert "Mesh for this" in page and "Flakes of" in page and f"/jobs/{saved.code}/ink" in page
    ink = manager.get(f"/jobs/{saved.code}/ink").text
    assert "How much more is on the screens is not known: note the sizes of the frames" in ink
    sized = {"mesh_count_as_labelled": "230/in", "frame_size_mm": "23 x 31 in"}
    screens.add(the_shop.db, the_shop.me, form(sized), post=fresh(), now=the_shop.now)
    ink = manager.get(f"/jobs/{saved.code}/ink").text
    assert "This goes on the garments. 160\u00a0g more is on 1 screen; most of it comes back into the bucket." in ink
    assert "To load the screen: <b>160\u00a0g</b>" in ink
    assert "garment 1" in ink and "garment 5" in ink and "corner" not in ink  # garments are weighed, no spots of a mesh
    assert "not yet calibrated" in ink and "23.2\u00a0cm³/m²" in ink and "50\u00a0%" in ink
    entry = fresh()
    sent: dict[str, Any] = {"entry": entry, "placement": "1", "station": "1", "ink": "plastisol"}
    sent["weighed_g"] = ["0.4", "0.4"]
    bad = manager.post(f"/jobs/{saved.code}/weigh", data={**sent, "density_g_cm3": "heavy"})
    assert bad.status_code == 422 and entry in bad.text and 'value="heavy"' in bad.text
    sent["weighed_g"] = ["0.4", "0.5", "0.4"]
    sent |= {"density_g_cm3": "1.2", "density_g_cm3.unit": "g/cm3"}
    good = manager.post(f"/jobs/{saved.code}/weigh", data=sent)
    assert good.status_code == 303
    ink = manager.get(f"/jobs/{saved.code}/ink").text
    assert "(weighed)" in ink and "not yet calibrated" not in ink and "0.4\u00a0g" in ink


def test_a_printer_is_not_offered_the_weighing(the_shop: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    saved = the_shop.job(one_colour())
    phone = sign_in(client, "Bo Lind")
    assert "/weigh" not in phone.get(f"/jobs/{saved.code}/ink").text
    sent = {"entry": fresh(), "placement": "1", "station": "1", "weighed_g": ["1", "1", "1"], "density_g_cm3": "1"}
    assert phone.post(f"/jobs/{saved.code}/weigh", data=sent).status_code == 403


# Charts


LOOK = Environment(loader=FileSystemLoader(Path(charts.__file__).parent / "templates"), autoescape=True)


def svg_of(drawing: Drawing) -> str:
    """The chart as pages draw it."""
    module: Any = LOOK.get_template("_look.html").module
    return str(module.drawn(drawing))


def drawn(svg: str) -> ET.Element:
    """The chart as XML: it is well-formed."""
    return ET.fromstring(svg)


def a_chart(name: str = "lowest", points: list[tuple[float, float]] | None = None) -> str:
    made = points if points is not None else [(0.0, 25.0), (3.0, 22.0), (9.0, 20.0)]
    series = [Series(made, name, "circle", ""), Series(made, "", "cross", "dotted", stair=True)]
    levels = [LevelLine(15, "floor"), LevelLine(5, "new lamp", upright=True), LevelLine(999, "outside")]
    return svg_of(chart("Tension", Axis("uses", 0, 10), Axis("N/cm", 10, 30), series, levels, "It falls."))


@given(st.integers(0, 5000))
def test_a_chart_of_many_readings_draws_few_of_them_and_the_newest(number: int) -> None:
    points = [(float(n), 1.0) for n in range(number)]
    drawn = learning._thinned(points)
    assert len(drawn) <= learning.MOST_POINTS and list(drawn) == sorted(set(drawn) & set(points))
    assert number == 0 or drawn[-1] == points[-1]
    assert number > learning.MOST_POINTS or list(drawn) == points


def test_a_chart_is_drawn_in_the_colour_of_the_text_alone() -> None:
    """So that it reads in safelight view and on paper, and no meaning hangs on a hue."""
    for element in drawn(a_chart()).iter():
        for attribute in ("stroke", "fill"):
            assert element.get(attribute, "none") in {"none", "currentColor"}
        assert element.get("style") is None and element.get("class") in {None, "chart"}


def test_a_chart_says_in_words_what_it_shows_and_names_its_lines() -> None:
    root = drawn(a_chart())
    assert root.get("role") == "img" and root.get("aria-label") == "Tension. It falls."
    texts = {element.text for element in root.iter() if element.text and element.text.strip()}
    assert {"lowest", "floor", "new lamp", "uses", "N/cm"} <= texts and "outside" not in texts


def test_names_in_a_chart_cannot_be_markup() -> None:
    svg = a_chart('<script>"&')
    assert "<script" not in svg and drawn(svg) is not None


_number = st.floats(-1e6, 1e6, allow_nan=False)


@given(st.lists(st.tuples(_number, _number), min_size=1, max_size=20))
def test_whatever_is_drawn_stays_inside_the_picture(points: list[tuple[float, float]]) -> None:
    x_low, x_high = reach([x for x, _y in points])
    y_low, y_high = reach([y for _x, y in points])
    made = chart("t", Axis("x", x_low, x_high), Axis("y", y_low, y_high), [Series(points, "n", "circle", "line")])
    pairs = [pair for one in made.lines for pair in one.points.split()]
    assert len(made.marks) == len(points) + 1, "each point, and a sample beside the name"
    for x, y in [*(map(float, pair.split(",")) for pair in pairs), *((one.x, one.y) for one in made.marks)]:
        assert 0 <= x <= charts.WIDTH and 0 <= y <= charts.HEIGHT
    assert len(drawn(svg_of(made)).findall("path")) == len(made.marks)


@pytest.mark.parametrize(
    ("kind", "fill"),
    [("circle", True), ("triangle", True), ("cross", False), ("tick", False), ("square", False), ("ring", False)],
)
def test_each_kind_of_mark_has_a_shape_of_its_own_where_its_value_lies(kind: str, fill: bool) -> None:
    made = chart("t", Axis("x", 0, 10), Axis("y", 0, 10), [Series([(5.0, 10.0)], "", kind, "")])
    (mark,) = drawn(svg_of(made)).findall("path")
    middle = charts.LEFT + (charts.WIDTH - charts.LEFT - charts.RIGHT) / 2
    assert mark.get("transform") == f"translate({middle} {float(charts.TOP)})"
    assert (mark.get("fill") == "currentColor") is fill
    others = [chart("t", Axis("x", 0, 10), Axis("y", 0, 10), [Series([(5.0, 10.0)], "", other, "")])
              for other in ("circle", "triangle", "cross", "tick", "square", "ring") if other != kind]  # fmt: skip
    assert mark.get("d") not in {drawn(svg_of(one)).findall("path")[0].get("d") for one in others}


@given(_number, st.floats(1e-3, 1e6))
def test_ticks_are_few_in_order_and_inside(low: float, span: float) -> None:
    found = ticks(low, low + span)
    assert 1 <= len(found) <= 7 and found == sorted(found)
    slack = 1e-6 * max(1, span, abs(low))
    assert all(low - slack <= one <= low + span + slack for one in found)


def test_ticks_are_round() -> None:
    assert ticks(0, 10) == [0, 2, 4, 6, 8, 10] and ticks(13, 27) == [15, 20, 25] and ticks(3, 3) == [3]


# Colour at the press


def test_the_approval_takes_readings_folded_away_and_says_a_faulty_one_at_its_field(
    the_shop: Shop, manager: FlaskClient
) -> None:
    saved = the_shop.job(one_colour())
    code = the_shop.frame()
    the_shop.log(code, "tension", readings_n_per_cm="24")
    the_shop.log(code, "degrease")
    the_shop.log(code, "coat", bucket=the_shop.bucket, preset="2+1 round edge")
    the_shop.tick(minutes=120)
    the_shop.log(code, "image", separations=the_shop.separation(saved))
    the_shop.log(code, "expose", exposure_s=80, exposure_unit="Big lamp & co")
    the_shop.log(code, "washout", result="good")
    the_shop.log(code, "check", result="good", dry="yes")
    places.add(the_shop.db, the_shop.me, "Press 1", "press", post=fresh(), now=the_shop.tick(), heads=4)
    number = runs.open_run(
        the_shop.db, the_shop.me, form({"job": saved.code, "press": "Press 1"}), post=fresh(), now=the_shop.tick()
    )
    hanging.hang(
        the_shop.db, the_shop.me, number, form({"screen": code, "head": "1"}), post=fresh(), now=the_shop.tick()
    )
    runs.log(the_shop.db, the_shop.me, number, "sheet", form({}), post=fresh(), now=the_shop.tick())
    page = manager.get(f"/runs/{number}").text
    assert 'name="lab.1"' in page and 'name="lab_instrument"' in page
    sent = {"entry": fresh(), "approved_by": "Di Novak", "approved_as": "press", "lab_conditions": "D50, 2°, bench"}
    sent["secret"] = "long-enough-password"
    bad = manager.post(f"/runs/{number}/approve", data={**sent, "approved_by": "Nobody Here", "lab.1": "52 red"})
    assert bad.status_code == 422 and "Three numbers are needed" in bad.text and 'value="52 red"' in bad.text
    assert "does not work here" in bad.text  # all that is wrong, together
    assert manager.post(f"/runs/{number}/approve", data={**sent, "lab.1": "52 60 30"}).status_code == 303
    page = manager.get(f"/runs/{number}").text
    assert "L* 52, a* 60, b* 30" in page and "D50, 2°, bench" in page
