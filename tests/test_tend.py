"""Frames to look after: the lists, the page, the sheet and the command name the same frames; what to order by mesh."""

from __future__ import annotations

import json
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
import shop as shops
from shop import Shop

from tickets import store
from tickets.actions import stocktake
from tickets.domain.desk.pool import MeshPool, Stock
from tickets.queries import tend
from tickets.store import places


@pytest.fixture(scope="module")
def racked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """Frames of all sorts on two racks, by what they are."""
    folder = tmp_path_factory.mktemp("tend")
    made = Shop.begun(folder)
    racks = {name: made.place(name) for name in ("Rack B", "Rack A")}
    frame = {
        "roller": made.frame(days_ago=20, frame="roller", mark="R1"),
        "glued": made.frame(days_ago=20, mark="G1"),
        "old": made.frame(days_ago=181, mark="O1"),
        "young": made.frame(days_ago=179, mark="Y1"),
        "kept": made.frame(days_ago=300, mark="K1"),
        "lost": made.frame(days_ago=300, mark="L1"),
    }
    for name in ("roller", "glued"):
        made.log(frame[name], "tension", readings_n_per_cm="8 8 8 8 8")
    made.made(frame["kept"], [made.separation()], days_ago=200, kept=True)
    made.log(frame["roller"], "rack", place=racks["Rack B"])
    made.log(frame["glued"], "rack", place=racks["Rack A"])
    made.log(frame["lost"], "rack", place=racks["Rack A"])
    made.db.close()
    return folder, frame


def codes(found: tend.TendList) -> list[str]:
    return [one.row.code for one in found.frames]


def test_each_reason_names_its_frames_with_what_to_do(racked: tuple[Path, dict[str, str]]) -> None:
    folder, frame = racked
    db = store.connect(folder)
    slack = tend.frames(db, shops.MORNING, "slack")
    assert [(one.row.code, one.place, one.do) for one in slack.frames] == [
        (frame["glued"], "Rack A", "stretch"), (frame["roller"], "Rack B", "retension")]  # fmt: skip
    assert slack.by_place == [("Rack A", 1), ("Rack B", 1)] and slack.by_mesh == [("230/in", 2)]
    later = shops.MORNING + timedelta(hours=2)
    idle = tend.frames(db, later, "idle")
    assert codes(idle) == [frame["lost"], frame["old"]] and not idle.more
    assert {one.do for one in idle.frames} == {"idle"}
    assert codes(tend.frames(db, later + timedelta(days=1), "idle"))[-1] == frame["young"]
    one = tend.frames(db, later, "idle", most=1)
    assert len(one.frames) == 1 and one.more
    assert tend.frames(db, later, "worn").frames == ()


def test_page_sheet_list_and_command_agree(racked: tuple[Path, dict[str, str]]) -> None:
    folder, frame = racked
    tickets = shops.commands(folder)
    told = json.loads(tickets("screen", "tend", "--json").stdout)
    listed = {why: json.loads(tickets("screen", "list", "--due", why, "--json").stdout) for why in tend.WHY}
    for why in tend.WHY:
        assert {one["screen"] for one in told[why]} == {one["code"] for one in listed[why]}, why
    assert {one["do"] for one in told["slack"]} == {"stretch", "retension"} and told["order"] == []
    with shops.pages(folder, lambda: shops.NOW) as app:
        phone = shops.signed_in(shops.phone_of(app), "Di Novak")
        page = phone.get("/desk/frames").text
        said = shops.said(page)
        assert f"Under the floor: {len(told['slack'])}" in said and f"Not used for long: {len(told['idle'])}" in said
        assert "1 × new mesh" in said and "1 × retension it" in said and "180 d" in said
        for why in tend.WHY[::2]:
            sheet = phone.get(f"/desk/frames?print={why}").text
            shown = phone.get(f"/screens?due={why}").text
            for one in told[why]:
                assert one["mark"] in sheet and f"/screens/{one['screen']}" in shown
        sheet = phone.get("/desk/frames?print=slack").text
        assert sheet.index("Rack A") < sheet.index("Rack B") and frame["roller"][:3] in sheet
        assert "To order" in shops.said(phone.get("/desk/frames?print=all").text)  # no such list


def test_what_a_stocktake_did_not_find_is_not_looked_after(racked: tuple[Path, dict[str, str]], tmp_path: Path) -> None:
    folder, frame = racked
    shutil.copytree(folder, tmp_path / "shop")
    made = Shop(store.connect(tmp_path / "shop"), shops.NOW)
    rack = next(one for one in places.every(made.db) if one.name == "Rack A")
    seen = [made.find(frame["glued"]).id]
    stocktake.put_right(made.db, made.manager, rack, seen, post=shops.fresh(), now=made.now)
    assert frame["lost"] not in codes(tend.frames(made.db, made.now, "idle"))
    made.db.close()


def test_what_to_order_is_what_runs_short_less_what_can_be_made_tight() -> None:
    """By hand: 12 needed, 7 there: short by 5; 2 slack ones serve again when tight: 3 to order."""

    def mesh(name: str, needed: int | None, there: int, slack: int = 0, missing: int = 0) -> MeshPool:
        return MeshPool(name, 0, 0, None, 0, None, needed, Stock(there=there, slack=slack, missing=missing))

    found = tend.to_order(
        [mesh("110/in", 4, 9), mesh("156/in", 12, 7, 2, 1), mesh("230/in", 6, 5, 3), mesh("305/in", None, 0)]
    )
    assert [(one.mesh, one.short, one.slack, one.missing, one.order) for one in found] == [
        ("156/in", 5, 2, 1, 3), ("230/in", 1, 3, 0, 0)]  # fmt: skip
