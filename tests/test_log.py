"""The log answers: narrowed to anything, by an index, counted by day, as a page, a file, a command."""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Callable
from datetime import timedelta
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from shop import NOW, Shop, commands, two_colours, with_presses
from sqlite_utils import Database

from tickets.actions import people, runs
from tickets.domain.person import Actor
from tickets.domain.posted import form
from tickets.queries import log_now
from tickets.queries.said import Reader
from tickets.queries.shop_rules import day_span
from tickets.store import entries, log
from tickets.store import jobs as stored_jobs
from tickets.store import places as stored_places
from tickets.store.ordered import PageStart

SignIn = Callable[[FlaskClient, str], FlaskClient]


@pytest.fixture
def busy(db: Database) -> Shop:
    """Entries of two people on several days: of screens, racks, a run on a press, overridden, crossed out."""
    made = with_presses(db)
    made.place("Rack 1")
    made.place("Rack 2")
    made.ben = Actor(
        people.add_person(db, "Ben Quist", "press lead", "481516", made.now), "Ben Quist", "press lead", "pin"
    )
    job = made.job(two_colours())
    first, second = made.frames(2)
    for code, asked in zip((first, second), stored_jobs.asked(db, job, 1), strict=True):
        made.made(code, [asked.separation], days_ago=2)
        made.past(code, "rack", 30, place="Rack 1")
    made.past(second, "rack", 20, place="Rack 2")
    wrong = made.log(first, "note", note="nobody knows").entries[0]
    made.log(first, "cross-out", crosses=wrong, why="wrong screen")
    press = stored_places.every(db, "press")[0].name
    sent = form({"job": job.code, "placement": "1", "press": press})
    run = runs.open_run(db, made.ben, sent, post=f"{7:024x}", now=made.tick(minutes=1))
    made.run, made.order, made.screens = run, job, (first, second)
    for code in (first, second):
        made.step(run, "hang", screen=code, override="as it is")
    return made


def every(made: Shop, **asked: Any) -> list[str]:
    narrowed, faults = log_now.narrowed(Reader.of(made.db, made.now), made.me, {n: str(v) for n, v in asked.items()})
    assert not faults, faults
    return [one.entry for one in log_now.every(made.db, narrowed.asked)]


def test_each_way_to_narrow_it_finds_just_what_it_says(busy: Shop) -> None:
    lines = list(entries.every(busy.db))[::-1]
    of_run = {one.entry for one in lines if one.run == busy.run}
    crossed = {str(one.crosses) for one in lines if one.crosses}
    zone = Reader.of(busy.db, busy.now).zone
    day = next(one.at for one in lines if one.step == "rack").astimezone(zone).date()
    press = next(one for one in stored_places.every(busy.db, "press"))
    other = next(one for one in stored_places.every(busy.db, "press") if one.id != press.id)
    rack = stored_places.find(busy.db, "Rack 1")
    assert rack is not None and len(crossed) == 1 and of_run
    right = {
        (): lambda one: True,
        (("who", busy.ben.id),): lambda one: one.person == busy.ben.id,
        (("who", "Ben Quist"),): lambda one: one.person == busy.ben.id,
        (("step", "rack"),): lambda one: one.step == "rack",
        (("place", "Rack 1"),): lambda one: one.values.get("place") == rack.id,
        (("press", press.name),): lambda one: one.entry in of_run,
        (("press", other.name),): lambda one: False,
        (("job", busy.order.code),): lambda one: one.entry in of_run or one.job == busy.order.id,
        (("screen", busy.screens[0]),): lambda one: one.screen == 1,
        (("only", "overridden"),): lambda one: one.override,
        (("only", "crossed-out"),): lambda one: one.entry in crossed,
        (("day", day),): lambda one: one.at.astimezone(zone).date() == day,
        (("from", day),): lambda one: one.at.astimezone(zone).date() >= day,
        (("to", day),): lambda one: one.at.astimezone(zone).date() <= day,
    }  # type: dict[tuple[tuple[str, Any], ...], Callable[[Any], Any]]
    for (one, its), (two, same) in itertools.combinations(right.items(), 2):
        given = {**dict(one), **dict(two)}
        if len(given) < len(one) + len(two) or ("day" in given and {"from", "to"} & set(given)):
            continue
        wanted = [line.entry for line in lines if its(line) and same(line)]
        if given.get("only") == "crossed-out" and {"day", "from", "to"} & set(given):
            continue  # by the day of the crossing out, below
        assert sorted(every(busy, **given)) == sorted(wanted), given
    for one, its in right.items():
        assert sorted(every(busy, **dict(one))) == sorted(line.entry for line in lines if its(line)), one
    today = busy.now.astimezone(zone).date()
    assert every(busy, only="crossed-out", day=today) == list(crossed)
    assert every(busy, only="crossed-out", to=today - timedelta(days=1)) == []


def test_every_combination_is_read_along_an_index(busy: Shop) -> None:
    """Nothing is sorted but what one job or one screen has, and no table is gone through."""
    kinds: dict[str, Any] = {
        "since": "2026-01-01", "until": "2026-05-01", "person": 1, "step": "rack", "place": 1, "press": 1, "job": 1,
        "screen": 1, "overridden": True, "crossed": True,
    }  # fmt: skip
    behind, heard = ("2026-02-02", 5), list[str]()
    for size in range(len(kinds) + 1):
        for some in itertools.combinations(kinds, size):
            asked = log.LogAsked(**{name: kinds[name] for name in some})
            place = (PageStart(), PageStart(True), PageStart(True, behind), PageStart(True, behind, True))[
                len(heard) % 4
            ]
            heard.clear()
            busy.db.conn.set_trace_callback(heard.append)
            log.page(busy.db, asked, place)
            busy.db.conn.set_trace_callback(None)
            (plan,) = [busy.db.execute(f"EXPLAIN QUERY PLAN {heard[0]}").fetchall()]
            few = "crossed" not in some and {"screen", "job"} & set(some)
            for line in (row[3] for row in plan):
                assert few or "TEMP B-TREE" not in line, (some, line)
                assert not line.startswith("SCAN") or "USING" in line or line == "SCAN e", (some, line)


def test_a_page_goes_on_where_the_one_before_ended(busy: Shop) -> None:
    for asked in (log.LogAsked(), log.LogAsked(step="rack"), log.LogAsked(person=busy.me.id, screen=1)):
        whole = [entry.entry for _n, entry in log.page(busy.db, asked, PageStart(down=True), 1000)[0]]
        seen, row = list[str](), 0
        while True:
            some, further = log.page(busy.db, asked, log.place_in(busy.db, True, row), 2)
            assert not further
            seen += [entry.entry for _n, entry in some]
            if len(some) < 2:
                break
            row = some[-1][0]
        assert seen == whole and len(whole) > 2


def test_days_are_counted_as_the_log_is_narrowed(busy: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    zone = Reader.of(busy.db, busy.now).zone
    days = [busy.now.astimezone(zone).date() - timedelta(days=back) for back in range(11)]
    spans = [day_span(busy.db, day) for day in days]
    lines = list(entries.every(busy.db))
    for asked, its in (
        (log.LogAsked(), lambda one: True),
        (log.LogAsked(person=busy.ben.id), lambda one: one.person == busy.ben.id),
        (log.LogAsked(step="hang", overridden=True), lambda one: one.override and one.step == "hang"),
    ):
        right = [sum(bool(its(one)) and one.at.astimezone(zone).date() == day for one in lines) for day in days]
        assert [one.entries for one in log.counted(busy.db, asked, spans)] == right
    assert sum(one.entries for one in log.counted(busy.db, log.LogAsked(), spans)) == len(lines)
    today = dict(zip(("since", "until"), spans[0], strict=True))
    assert log.by_person(busy.db, log.LogAsked(**today)).keys() == {
        one.person for one in lines if one.at.astimezone(zone).date() == days[0]
    }
    assert not any(one.more for one in log.counted(busy.db, log.LogAsked(), spans))
    monkeypatch.setattr(log, "LOOKED_THROUGH", 2)
    assert log.counted(busy.db, log.LogAsked(), spans)[0] == log.Count(2, True), "not more than so many are looked at"


def test_the_page_answers_who_logged_what_that_day(busy: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    boss = sign_in(client, "Di Novak")
    front = boss.get("/log").text
    week = front.split('aria-label="Days"')[1].split("</nav>")[0]
    taps = re.findall(
        r'<a class="button quiet" href="([^"]+)"[^>]*>(\w+)\s*<span class="date">[^<]*</span><small>&nbsp;· (\d+)', week
    )
    assert len(taps) == 7 and sum(int(many) for _link, _word, many in taps)
    link = next(unescape(link) for link, _word, many in taps if many != "0")
    day = boss.get(link).text
    people_of = day.split('aria-label="Who"')[1].split("</nav>")[0]
    counts = [int(one) for one in re.findall(r"· (\d+)", people_of)]
    assert (
        sum(counts)
        == int(next(many for one, _word, many in taps if unescape(one) == link))
        == day.count("<tr>") - 1 + day.count('<tr class="crossed">')
    )
    one_person = unescape(re.findall(r'href="([^"]+)"', people_of)[0])
    narrowed = boss.get(one_person).text
    assert "day=" in one_person and "who=" in one_person
    tags = [unescape(one) for one in re.findall(r'<a class="tag" href="([^"]+)"', narrowed)]
    assert len(tags) == 2 and any("day=" in one and "who=" not in one for one in tags), "each is taken off by a tap"
    assert f'href="/screens/{busy.screens[0]}"' in front and f'href="/runs/{busy.run}"' in front


def test_an_empty_day_says_so_and_where_there_is_something(busy: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    boss = sign_in(client, "Di Novak")
    empty = boss.get("/log?day=2026-02-01").text
    assert "Nothing was logged: 1 Feb." in empty
    near = unescape(empty.split("The nearest days that have some:</p>")[1].split("</nav>")[0])
    (link,) = re.findall(r'href="([^"]+)"', near)
    assert "Nothing" not in boss.get(link).text and '<table class="sheet list">' in boss.get(link).text
    later = boss.get("/log?day=2027-05-05&step=rack").text
    assert "Nothing of this was logged." in later and later.count("step=rack") > 3


def test_odd_filters_are_said_and_left_out(busy: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    boss = sign_in(client, "Di Novak")
    odd_ones = {
        "day=soup": "is not a day", "day=0001-01-01": "is not a day", "only=x": "overridden, crossed-out",
        "place=Nowhere": "There is no place", "screen=7K32XM": "no screen", "job=none": "no job",
    }  # fmt: skip
    for odd, told in odd_ones.items():
        answer = boss.get(f"/log?{odd}")
        assert answer.status_code == 200 and told in unescape(answer.text), odd
    assert "job Kite club tees" in boss.get(f"/log?code={busy.order.code}").text
    assert "Rack 1" in boss.get("/log", query_string={"code": stored_places.find(busy.db, "Rack 1").code}).text
    assert ">9 Mar" in boss.get("/log?to=2026-03-09&from=2026-03-10").text, "turned round where it is the wrong way"


def test_another_person_and_the_file_are_the_managers(busy: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    room = sign_in(client, "Ada Holm")
    me = next(one.id for one in people_rows(busy) if one.name == "Ada Holm")
    assert "Only a manager sees" in room.get(f"/log?who={busy.ben.id}").text
    assert "Only a manager" not in room.get(f"/log?who={me}").text
    assert 'aria-label="Who"' not in room.get("/log?day=2026-03-10").text
    assert room.get("/log.csv").status_code == 403 and "/log.csv" not in room.get("/log").text


def people_rows(made: Shop) -> list[Any]:
    from tickets.store import people as rows

    return rows.every(made.db)


def test_the_file_and_the_command_say_the_same_as_the_page(
    busy: Shop, client: FlaskClient, sign_in: SignIn, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(log_now, "AT_A_TIME", 2)
    boss = sign_in(client, "Di Novak")
    page = boss.get("/log?step=rack").text
    link = unescape(next(one for one in re.findall(r'href="([^"]+)"', page) if one.startswith("/log.csv")))
    lines = boss.get(link).text.splitlines()
    assert lines[0].lstrip("\ufeff").split(",")[:5] == ["when", "saved", "person", "signed", "step"] and len(lines) == 4
    kept = [json.loads(one) for one in boss.get(link.replace(".csv", ".jsonl")).text.splitlines()]
    assert [one["entry"] for one in kept] == every(busy, step="rack")
    tickets = commands(folder)
    said = tickets("log", "--step", "rack", "--json")
    assert [one["entry"] for one in json.loads(said.stdout)] == every(busy, step="rack")
    assert json.loads(said.stdout)[0]["screen"] == busy.screens[1]
    (crossed,) = json.loads(tickets("log", "--only", "crossed-out", "--json").stdout)
    assert crossed["crossed_out"]["why"] == "wrong screen"
    assert len(tickets("log", "--person", "Ben Quist", "--limit", "1").stdout.splitlines()) == 1
    assert "There is no step" in tickets("log", "--step", "soup").stderr
    days = tickets("log", "--days", "--from", f"{NOW:%Y-%m-%d}", "--to", f"{NOW:%Y-%m-%d}", "--json")
    assert json.loads(days.stdout) == [
        {"day": f"{NOW:%Y-%m-%d}", "entries": len(every(busy, day=f"{NOW:%Y-%m-%d}")), "more": False}
    ]
