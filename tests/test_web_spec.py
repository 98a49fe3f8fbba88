"""The spec and the settings as pages: read by all, changed by the manager, nothing lost, faults beside their fields."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from shop import clock
from sqlite_utils import Database

from tickets import cli
from tickets.actions import places, shop
from tickets.calculator.defaults import DEFAULTS, SPANS
from tickets.domain.limits import LIMITS
from tickets.domain.stages import ALWAYS_LOGGED
from tickets.queries.shop_rules import the_spec
from tickets.store import spec as rows
from tickets.store.settings import setting

SignIn = Callable[[FlaskClient, str], FlaskClient]
READ_ONLY = ("Ada Holm", "Bo Lind", "Cy Marsh")


def text_of(html: str) -> str:
    body = html.split("<main", 1)[1]
    return " ".join(re.sub(r"<[^>]+>", " ", body).split())


def row_of(db: Database, key: str, **conditions: Any) -> int:
    """The number of the row that counts now for these very conditions."""
    return next(row.id for row in the_spec(db).rows if row.key == key and dict(row.conditions) == conditions)


def test_every_shipped_limit_has_its_row() -> None:
    assert {row.key for row in DEFAULTS} <= set(LIMITS) and all(one.words and one.group for one in LIMITS.values())


def test_no_shipped_row_has_a_condition_that_is_never_asked() -> None:
    """What the page would refuse must not be shipped either."""
    for row in DEFAULTS:
        names = {next((key for key, span in SPANS.items() if name in (span.over, span.to)), name) for name in row.when}
        allowed = set(LIMITS[row.key].asked)
        assert names <= allowed, (row.key, names - allowed)


def test_the_page_says_value_unit_case_source_and_that_advice_disagrees(client: FlaskClient, sign_in: SignIn) -> None:
    text = text_of(sign_in(client, "Bo Lind").get("/spec").text)
    assert "Published advice disagrees" in text
    assert "22 N/cm halftones" in text
    assert "21 N/cm aluminium frames, over 240/in" in text
    assert "Screen Printing, Sept 2003" in text and "came with the program" in text
    assert "No time is set yet" in text


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_command_says_value_and_case_as_the_page_does(
    client: FlaskClient, sign_in: SignIn, db: Database, folder: Path, units: str
) -> None:
    phone = sign_in(client, "Di Novak")
    phone.post("/settings/units", data={"units": units})
    told = CliRunner().invoke(cli.root, ["spec", "list", "--data", str(folder)]).output.replace("\xa0", " ")
    listed = [re.split(r" {2,}", line) for line in told.splitlines()]
    assert len(listed) == len(the_spec(db).rows)
    page = text_of(phone.get("/spec").text)
    for row in listed:
        assert " ".join(row[2:4]).removesuffix(" –") in page, row
    cure = next(row[2] for row in listed if row[1] == "cure-temperature")
    assert cure == {"metric": "160 °C", "us": "320 °F"}[units]


def test_a_value_that_only_one_reading_can_be_is_not_asked_about(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    """A step of 7.500 is 7.5, since no scale has thousands; 1.000 days may be a day or a thousand of them."""
    manager = sign_in(client, "Di Novak")
    step, days = (next(row.id for row in the_spec(db).rows if row.key == key) for key in ("wanted-step", "keep-days"))
    sent = {"source": "our tests", "entry": "a" * 24}
    assert manager.post(f"/spec/{step}", data={**sent, "value": "7.500"}).status_code == 303
    assert the_spec(db).value("wanted-step") == 7.5
    assert manager.post(f"/spec/{days}", data={**sent, "value": "1.000"}).status_code == 422


def test_us_units(client: FlaskClient, sign_in: SignIn, db: Database, app: Any) -> None:
    """Tension stays N/cm, as meters read everywhere (1 lbf/in = 1.75127 N/cm, NIST SP 811); 35 degC = 95 degF."""

    now = clock()
    shop.set_up(db, shop.command_line(db, now), "units", "us", now=now)
    text = text_of(sign_in(client, "Di Novak").get("/spec").text)
    assert "22 N/cm halftones" in text and "95 °F" in text
    number = row_of(db, "tension-watch", work="halftone")
    page = client.get(f"/spec/{number}").text
    assert 'value="22"' in page
    assert (
        client.post(f"/spec/{number}", data={"value": "13", "value.unit": "lbf/in", "source": "ours"}).status_code
        == 303
    )
    assert the_spec(db).value("tension-watch", work="halftone") == pytest.approx(13 * 1.75127, rel=1e-4)


@pytest.mark.parametrize("name", READ_ONLY)
def test_only_the_manager_changes(client: FlaskClient, sign_in: SignIn, db: Database, name: str) -> None:
    phone = sign_in(client, name)
    before = rows.newest(db)
    sent = {"value": "1", "source": "x"}
    assert phone.post("/spec/1", data=sent).status_code == 403
    assert phone.post("/spec/1/withdraw", data=sent).status_code == 403
    assert phone.post("/spec", data={**sent, "key": "tension-floor", "work": "colours"}).status_code == 403
    assert phone.post("/settings/shop", data={"shop": "Mine"}).status_code == 403
    assert rows.newest(db) == before and setting(db, "shop") == ""
    assert "<button>" not in phone.get("/settings").text.split("<main", 1)[1]
    assert "Change it" not in phone.get("/spec/1").text


def test_a_change_is_appended_counts_at_once_and_keeps_its_history(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    phone = sign_in(client, "Di Novak")
    number = row_of(db, "tension-floor", work="colours")
    was = len(rows.rows(db))
    answer = phone.post(f"/spec/{number}", data={"value": "16,5", "value.unit": "N/cm", "source": "our own breaks"})
    there = row_of(db, "tension-floor", work="colours")
    assert there != number and (answer.status_code, answer.location) == (303, f"/spec/{there}?changed=yes")
    assert the_spec(db).value("tension-floor", work="colours", frame="aluminium") == 16.5
    assert len(rows.rows(db)) == was + 1
    history = text_of(phone.get(f"/spec/{number}").text).split("History", 1)[1]
    assert history.index("16.5 N/cm") < history.index("15 N/cm")
    assert "Di Novak" in history and "our own breaks" in history
    # sent twice: one row
    phone.post(f"/spec/{number}", data={"value": "16.5", "value.unit": "N/cm", "source": "our own breaks"})
    assert len(rows.rows(db)) == was + 1


@pytest.mark.parametrize(
    "typed, unit, value",
    [("16", "N/cm", 16.0), ("16,5", "N/cm", 16.5), ("9.42 lbf/in", "N/cm", 16.5), ("9.42", "lbf/in", 16.5)],
)
def test_values_are_read_with_their_unit(
    client: FlaskClient, sign_in: SignIn, db: Database, typed: str, unit: str, value: float
) -> None:
    """1 lbf/in = 1.75127 N/cm (NIST SP 811), so 9.42 lbf/in = 16.497 N/cm."""
    number = row_of(db, "tension-floor", work="colours")
    data = {"value": typed, "value.unit": unit, "source": "ours"}
    assert sign_in(client, "Di Novak").post(f"/spec/{number}", data=data).status_code == 303
    assert the_spec(db).value("tension-floor", work="colours") == pytest.approx(value, abs=0.01)


@pytest.mark.parametrize("typed", ["", "x", "-3", "1e3", "nan", "inf", "16 s", "1.2.3", "999999999", "16,5 N/cm N/cm"])
def test_a_faulty_value_comes_back_beside_its_field(
    client: FlaskClient, sign_in: SignIn, db: Database, typed: str
) -> None:
    before = rows.newest(db)
    phone = sign_in(client, "Di Novak")
    page = phone.post("/spec/1", data={"value": typed, "value.unit": "N/cm", "source": "kept as typed"})
    assert page.status_code == 422
    assert 'id="f-value-fault"' in page.text and 'value="kept as typed"' in page.text
    assert rows.newest(db) == before


def test_a_value_and_its_missing_source_are_told_together(client: FlaskClient, sign_in: SignIn) -> None:
    page = sign_in(client, "Di Novak").post("/spec/1", data={"value": "", "value.unit": "N/cm", "source": " "})
    assert 'id="f-value-fault"' in page.text and 'id="f-source-fault"' in page.text


def test_withdrawing_the_shops_row_brings_back_the_one_that_came(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    phone = sign_in(client, "Di Novak")
    number = row_of(db, "tension-spread", work="halftone")
    (came,) = [one for one in rows.rows(db) if one.id == number]
    sent = {"value": "2", "value.unit": "N/cm", "source": "ours"}
    assert phone.post(f"/spec/{number}", data=sent).status_code == 303
    own = row_of(db, "tension-spread", work="halftone")
    assert the_spec(db).value("tension-spread", work="halftone") == 2
    told = text_of(phone.get(f"/spec/{own}?changed=yes").text)
    assert "Changed: 2 N/cm" in told and f"It was {came.value:g} N/cm." in told
    assert f"{came.value:g} N/cm, which came with the program, counts again then." in text_of(
        phone.post(f"/spec/{own}/withdraw").text
    )
    assert phone.post(f"/spec/{own}/withdraw", data={"sure": "yes"}).status_code == 303
    assert the_spec(db).value("tension-spread", work="halftone") == came.value
    (now,) = [one for one in the_spec(db).rows if one.identity == came.identity]
    assert (now.value, now.source) == (came.value, came.source) and now.id in rows.came(db)
    page = phone.get(f"/spec/{now.id}").text
    assert "removed" not in text_of(page) and "ours" in text_of(page)  # the history has all three
    assert "Judge without this limit" in page and "Remove this row" not in page
    assert phone.post(f"/spec/{own}/withdraw", data={"sure": "yes"}).status_code == 303  # the same tap twice
    assert the_spec(db).value("tension-spread", work="halftone") == came.value
    bad = phone.post("/spec/" + str(row_of(db, "tension-floor", work="colours")), data={**sent, "value": "24.5"})
    assert bad.status_code == 422 and "no more than that would do" in bad.text and 'value="24.5"' in bad.text


@pytest.mark.parametrize(
    ("key", "when", "value", "unit", "said"),
    [
        ("wanted-step", {}, "25", "", "between 1 and 21"),
        ("wanted-step", {}, "0", "", "between 1 and 21"),
        ("discharge-cotton-least", {}, "101", "%", "between 0 and 100"),
        ("cure-temperature", {"ink": "plastisol"}, "180", "degC", "no more than that would do"),
        ("ink-ceiling", {"ink": "plastisol"}, "150", "degC", "no less than that would do"),
        ("discharge-cotton", {}, "40", "%", "no less than that would do"),
    ],
)
def test_a_limit_that_nothing_could_meet_is_refused(
    client: FlaskClient, sign_in: SignIn, db: Database, key: str, when: dict[str, str], value: str, unit: str, said: str
) -> None:
    """A grey scale has 21 steps, a share is no more than the whole, and no ink cures above its own ceiling."""
    phone = sign_in(client, "Di Novak")
    sent = {"value": value, "value.unit": unit, "source": "ours"}
    answer = phone.post(f"/spec/{row_of(db, key, **when)}", data=sent)
    assert answer.status_code == 422 and said in answer.text and f'value="{value}"' in answer.text


def test_every_limit_can_be_changed_from_its_page_as_it_is_served(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    """The form comes with the row's own unit beside the box: sent back as it is, it is taken."""
    phone = sign_in(client, "Di Novak")
    done = set()
    for row in the_spec(db).rows:
        if (row.key, row.unit) in done:
            continue
        done.add((row.key, row.unit))
        page = phone.get(f"/spec/{row.id}").text
        value = re.search(r'name="value"[^>]* value="([^"]*)"', page)
        unit = re.search(r'name="value.unit" value="([^"]*)"(?: checked)?', page)
        checked = re.search(r'name="value.unit" value="([^"]*)" checked', page) or unit
        assert value is not None
        sent = {"value": value[1], "value.unit": unescape(checked[1]) if checked else "", "source": "as it was"}
        assert phone.post(f"/spec/{row.id}", data=sent).status_code == 303, row.key
        assert the_spec(db).value(row.key, **_case(row)) == pytest.approx(float(row.value or 0)), row.key


def _case(row: Any) -> dict[str, Any]:
    facts = dict(row.conditions)
    for span in SPANS.values():
        over, to = facts.pop(span.over, None), facts.pop(span.to, None)
        if over is not None or to is not None:
            facts[span.fact] = to if to is not None else over + 10
    return facts


def test_the_load_of_a_screen_is_added_by_the_size_of_its_frame(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    phone = sign_in(client, "Di Novak")
    page = phone.get("/spec/new?key=ink-load").text
    assert "Shorter side of the frame" in page and 'name="side_over_cm"' in page
    sent = {"key": "ink-load", "ink": "plastisol", "side_over_cm": "24", "side_to_cm": "32", "side.unit": "in"}
    sent |= {"value": "9", "value.unit": "oz", "source": "weighed here"}
    assert phone.post("/spec", data=sent).status_code == 303
    row = rows.rows(db)[-1]
    assert row.conditions == {"ink": "plastisol", "side_over_cm": 60.96, "side_to_cm": 81.28} and row.unit == "g"
    assert row.value == pytest.approx(255.15, abs=0.01)
    assert "frames over 61 cm up to 81.3 cm wide" in text_of(phone.get("/spec").text).replace("\u00a0", " ")
    bad = phone.post("/spec", data={**sent, "side_over_cm": "90", "side.unit": "cm", "side_to_cm": "20"})
    assert bad.status_code == 422 and "holds none" in bad.text


def test_withdrawing_leaves_the_history(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    phone = sign_in(client, "Di Novak")
    number = row_of(db, "tension-spread", work="halftone")
    asked = phone.post(f"/spec/{number}/withdraw")  # asked once
    assert asked.status_code == 422 and 'name="sure"' in asked.text
    assert "Then 5 N/cm counts here, as for everything." in text_of(asked.text)
    gone = phone.post(f"/spec/{number}/withdraw", data={"sure": "yes"}, follow_redirects=True)
    assert "Changed: removed" in text_of(gone.text)
    assert the_spec(db).value("tension-spread", work="halftone") == 5  # the general row speaks again
    page = phone.get(f"/spec/{number}").text
    assert "removed" in text_of(page)
    row = next(one for one in rows.rows(db) if one.id == number)
    (back,) = re.findall(r'<form method="post" action="/spec/(\d+)">(<input type="hidden".*?)</form>', page)
    assert re.search(rf'<li><a href="/spec/{back[0]}"><span class="value">removed', phone.get("/spec").text)
    assert "by Di Novak" in phone.get("/spec").text.split("removed</span>")[1].split("</li>")[0]
    sent = {name: unescape(value) for name, value in re.findall(r'name="([^"]+)" value="([^"]*)"', back[1])}
    assert phone.post(f"/spec/{back[0]}", data=sent).status_code == 303  # one tap sets it again
    now = the_spec(db).rows
    assert [one.value for one in now if one.identity == row.identity] == [row.value]
    assert "removed" not in phone.get("/spec").text
    assert phone.post(f"/spec/{number}", data={"value": "3", "value.unit": "N/cm", "source": "back"}).status_code == 303
    assert the_spec(db).value("tension-spread", work="halftone") == 3


def test_a_narrower_row_wins(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    sent = {
        "key": "tension-floor", "work": "colours", "frame": "roller", "count_over_per_in": "79",
        "count_to_per_in": "120", "count.unit": "/cm", "value": "18", "value.unit": "N/cm", "source": "the maker",
    }  # fmt: skip
    assert sign_in(client, "Di Novak").post("/spec", data=sent).status_code == 303
    row = the_spec(db).rows[-1]
    assert dict(row.conditions) == {
        "work": "colours", "frame": "roller", "count_over_per_in": 200.66, "count_to_per_in": 304.8,
    }  # fmt: skip
    assert the_spec(db).value("tension-floor", work="colours", frame="roller", count_per_in=230) == 18
    assert the_spec(db).value("tension-floor", work="colours", frame="aluminium", count_per_in=230) == 15


def test_an_ambiguous_row_is_refused_beside_the_conditions(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    """Frame alone is as particular as work alone: neither would win."""
    before = rows.newest(db)
    sent = {"key": "tension-floor", "frame": "roller", "value": "18", "value.unit": "N/cm", "source": "ours"}
    page = sign_in(client, "Di Novak").post("/spec", data=sent)
    assert page.status_code == 422
    assert re.search(r"Row \d+ is just as specific for the same case", page.text)
    assert rows.newest(db) == before


@pytest.mark.parametrize(
    "key, sent, where",
    [
        ("tension-age", {"work": "halftone"}, "never asked for by work"),
        ("tension-floor", {"job": "ABC"}, "never asked for by job"),
        ("tension-floor", {"work": "anything"}, "One of: one-colour"),
        ("tension-floor", {"count_over_per_in": "x"}, "f-count_over_per_in-fault"),
        ("tension-floor", {"count_over_per_in": "300", "count_to_per_in": "200"}, "holds none"),
        ("exposure-time", {}, "Say which exposure unit"),
        ("exposure-time", {"exposure_unit": "Nowhere"}, "One of:"),
    ],
)
def test_conditions_that_cannot_be_are_refused(
    client: FlaskClient, sign_in: SignIn, db: Database, key: str, sent: dict[str, str], where: str
) -> None:
    before = rows.newest(db)
    unit = "s" if key == "exposure-time" else "d" if key == "tension-age" else "N/cm"
    page = sign_in(client, "Di Novak").post(
        "/spec", data={"key": key, "value": "9", "value.unit": unit, "source": "s", **sent}
    )
    assert page.status_code == 422 and where in page.text
    assert rows.newest(db) == before


def test_unknown_rows_and_keys_are_not_found(client: FlaskClient, sign_in: SignIn) -> None:
    phone = sign_in(client, "Di Novak")
    assert phone.get("/spec/99999").status_code == 404
    assert phone.post("/spec/99999", data={"value": "1"}).status_code == 404
    assert phone.get("/spec/new?key=nonsense").status_code == 404
    assert phone.post("/spec", data={"key": "nonsense"}).status_code == 404


def test_a_wanted_exposure_time_fills_in_the_screen_makers_forms(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:

    from tickets.domain.screens.screen import Life, Mesh
    from tickets.queries.judging import wanted_exposure

    now = clock()
    places.add_unit(db, shop.command_line(db, now), "Big lamp", "point", post="spec-entry-00000001", now=now)
    phone = sign_in(client, "Di Novak")
    form = phone.get("/spec/new?key=exposure-time").text
    assert 'value="Big lamp"' in form and 'value="2+1 round edge"' in form and 'value="dual-cure"' in form
    sent = {
        "key": "exposure-time", "exposure_unit": "Big lamp", "count_to_per_in": "240", "count.unit": "/in",
        "mesh_colour": "dyed", "value": "1.5", "value.unit": "min", "source": "our step test",
    }  # fmt: skip
    assert phone.post("/spec", data=sent).status_code == 303
    dyed = Life(mesh=Mesh("230/in", 230 / 2.54, 48.0, "dyed"))
    now = clock()  # the time that counts now, not that of before it was set
    assert wanted_exposure(db, dyed, "Big lamp", now) == 90
    assert wanted_exposure(db, Life(mesh=Mesh("230/in", 230 / 2.54, 48.0, "white")), "Big lamp", now) is None
    assert "90 s on Big lamp, dyed mesh, up to 240/in" in text_of(phone.get("/spec").text)


# The settings ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name, sent, value",
    [
        ("shop", {"shop": "  Grey   Heron "}, "Grey Heron"),
        ("zone", {"zone": "Europe/Warsaw"}, "Europe/Warsaw"),
        ("units", {"units": "us"}, "us"),
        ("language", {"language": "en"}, "en"),
        ("shift_hours", {"shift_hours": "8"}, 8),
        ("shifts", {"shifts": "7, 15"}, "7 15"),
        ("address", {"address": "http://192.168.77.5:8600"}, "http://192.168.77.5:8600"),
        (
            "presets",
            {
                "preset.name": ["1+2 sharp", "", "x"],
                "preset.print_side": ["1", "", "0"],
                "preset.squeegee_side": ["2", "", "3"],
            },
            [
                {"name": "1+2 sharp", "print_side": 1, "squeegee_side": 2},
                {"name": "x", "print_side": 0, "squeegee_side": 3},
            ],
        ),
    ],
)
def test_the_manager_changes_a_setting(
    client: FlaskClient, sign_in: SignIn, db: Database, name: str, sent: dict[str, Any], value: Any
) -> None:
    phone = sign_in(client, "Di Novak")
    answer = phone.post(f"/settings/{name}", data=sent)
    assert answer.status_code in (200, 303)  # 200: saved, with a warning beside it
    assert setting(db, name) == value
    if name not in ("language",):
        assert "Di Novak" in phone.get("/settings").text.split(f'id="{name}"', 1)[1].split("</section>", 1)[0]


@pytest.mark.parametrize(
    "name, sent",
    [
        ("shop", {"shop": ""}),
        ("shop", {"shop": "x" * 61}),
        ("zone", {"zone": "Mars/North"}),
        ("zone", {"zone": ""}),
        ("units", {"units": "imperial"}),
        ("language", {"language": "xx"}),
        ("shift_hours", {"shift_hours": "0"}),
        ("shifts", {"shifts": "15 7"}),
        ("shift_hours", {"shift_hours": "1e1"}),
        ("steps", {"steps": ["coat", "fly"]}),
        ("presets", {}),
        ("presets", {"preset.name": ["a", "a"], "preset.print_side": ["1", "1"], "preset.squeegee_side": ["1", "1"]}),
        ("presets", {"preset.name": ["a"], "preset.print_side": ["many"], "preset.squeegee_side": ["1"]}),
        ("presets", {"preset.name": ["a"], "preset.print_side": ["1"]}),
        ("address", {"address": "not an address"}),
    ],
)
def test_a_faulty_setting_changes_nothing(
    client: FlaskClient, sign_in: SignIn, db: Database, name: str, sent: dict[str, Any]
) -> None:
    before = setting(db, name)
    page = sign_in(client, "Di Novak").post(f"/settings/{name}", data=sent)
    assert page.status_code == 422
    assert 'class="fault"' in page.text
    assert setting(db, name) == before


def test_steps_logged_keep_those_that_no_shop_goes_without(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    phone = sign_in(client, "Di Novak")
    assert phone.post("/settings/steps", data={"steps": ["check"]}).status_code == 303
    assert set(setting(db, "steps")) == {"check"} | ALWAYS_LOGGED
    page = phone.get("/settings").text
    assert re.search(r'value="check" checked', page) and not re.search(r'value="coat" checked', page)
    assert 'name="steps" value="hang"' not in page


def test_settings_that_are_none_are_not_found(client: FlaskClient, sign_in: SignIn, db: Database) -> None:
    phone = sign_in(client, "Di Novak")
    for name in ("demo", "first_manager", "nonsense"):
        assert phone.post(f"/settings/{name}", data={name: "1"}).status_code == 404
    assert setting(db, "demo") is False


@pytest.mark.browser
@pytest.mark.parametrize("path", ["/spec", "/spec/1", "/spec/new?key=tension-floor", "/settings"])
def test_the_pages_fit_a_phone(phone: Any, sign_in_page: Callable[[Any, str], None], path: str) -> None:
    phone.set_viewport_size({"width": 320, "height": 640})
    sign_in_page(phone, "Di Novak")
    phone.goto(path)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 320
    small = phone.evaluate(
        "[...document.querySelectorAll('main a, main button, main .tile, main summary')]"
        ".map(e => e.getBoundingClientRect()).filter(r => r.width && (r.height < 47.5 || r.width < 47.5)).length"
    )
    assert small == 0
