"""The same number, asked of each page, command, file, interface and wall that shows it: they agree, in a lively shop
and after whatever is done in it."""

from __future__ import annotations

import csv
import html
import io
import json
import random
import re
from collections import Counter
from collections.abc import Callable
from datetime import timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

import pytest
import shop as shops
from flask.testing import FlaskClient
from shop import NOW, Clock, Shop, fresh, one_colour, two_colours

from tickets import demo
from tickets.actions import buckets, jobs, screens, stocktake, tokens
from tickets.domain.posted import form
from tickets.domain.refusal import Refused
from tickets.queries import find
from tickets.store import jobs as stored_jobs
from tickets.store import runs as stored_runs
from tickets.store import screens as stored_screens
from web.menu import every_page

Told = dict[str, Any]
"""What each place says of a number: by its name (a page, a command, a file)."""


class Asked:
    """A shop at one time, asked by the manager's phone, by commands, by a program and by the wall; each is asked
    once."""

    def __init__(self, shop: Shop, phone: FlaskClient, tickets: shops.Tickets, keys: dict[str, str]) -> None:
        self.shop, self.phone, self.tickets, self.keys = shop, phone, tickets, keys
        self._kept: dict[Any, Any] = {}

    def _once(self, key: Any, ask: Callable[[], Any]) -> Any:
        if key not in self._kept:
            self._kept[key] = ask()
        return self._kept[key]

    def raw(self, path: str) -> str:
        """A page as it is sent."""

        def ask() -> str:
            answer = self.phone.get(path)
            assert answer.status_code == 200, (path, answer.status_code)
            return answer.text

        return str(self._once(path, ask))

    def page(self, path: str) -> str:
        """The lines of a page as people read them, without what is only drawn."""
        return self._once((path, "text"), lambda: lines_of(self.raw(path)))  # type: ignore[no-any-return]

    def every_page(self, path: str) -> str:
        """A list as it is sent, all of its pages."""
        found: list[str] = []
        for _page in range(40):
            found.append(self.raw(path))
            more = re.search(r'<a class="button" href="([^"]+)">(?:Next page|More|Later jobs)<', self.raw(path))
            if not more:
                break
            path = html.unescape(more[1])
        return "".join(found)

    def data(self, *command: str) -> Any:
        """What a command prints with `--json`."""

        def ask() -> Any:
            answer = self.tickets(*command, "--json")
            assert answer.exit_code == 0, (command, answer.output)
            return json.loads(answer.output)

        return self._once(command, ask)

    def file(self, name: str) -> list[dict[str, str]]:
        """The lines of a file to take along."""
        return self._once((name, "csv"), lambda: list(csv.DictReader(io.StringIO(  # type: ignore[no-any-return]
            self.phone.get(f"/desk/files/{name}.csv").text.removeprefix("\ufeff")))))  # fmt: skip

    def program(self, part: str) -> list[dict[str, Any]]:
        """What a program reads of a part."""

        def ask() -> list[dict[str, Any]]:
            found: list[dict[str, Any]] = []
            since: Any = 0
            while since is not None:
                key = {"Authorization": f"Bearer {self.keys['interface']}"}
                answer = self.phone.get(f"/api/{part}?since={since}&limit=500", headers=key)
                assert answer.status_code == 200, answer.text
                found += answer.json["items"]
                since = answer.json["next"]
            return found

        return self._once((part, "api"), ask)  # type: ignore[no-any-return]

    def wall(self) -> str:
        """The lines of the wall."""
        return self.page(f"/wall?token={self.keys['wall']}")

    # what there is to ask about

    @cached_property
    def jobs(self) -> list[dict[str, Any]]:
        """The open jobs."""
        return list(self.data("job", "list"))

    @cached_property
    def runs(self) -> list[int]:
        """The runs, by number."""
        return [int(one["run"]) for one in self.file("runs")]

    @cached_property
    def screens(self) -> list[str]:
        """The codes of all screens."""
        return [one["code"] for one in self.data("screen", "list")]


def lines_of(page: str) -> str:
    """The lines of a page as people read them."""
    page = re.sub(r"<(script|style|svg|nav)\b.*?</\1>", " ", page, flags=re.S)
    page = re.sub(r"\s+", " ", page)
    page = re.sub(r"</(?:p|li|tr|h\d|div|section|fieldset|summary|option|header)>|<br>", "\n", page)
    told = html.unescape(re.sub(r"<[^>]*>", " ", page)).replace("\N{NO-BREAK SPACE}", " ")
    return "\n".join(" ".join(line.split()) for line in told.splitlines() if line.strip())


# -- what each place says of a number


def number(text: str, pattern: str, none: int | None = None) -> int:
    """The one number that a pattern finds in a page (`none`: what it means when it finds nothing)."""
    found = re.findall(pattern, text, re.M)
    if not found and none is not None:
        return none
    assert len(found) == 1, (pattern, found, text)
    return int(found[0])


def late_jobs(ask: Asked) -> Told:
    lines = len(re.findall(r'<li class="late"><a class="job-line"', ask.raw("/desk")))
    assert bool(lines) != ("No press date has passed." in ask.page("/desk"))
    heads = re.findall(r"<h3>(.*?)</h3>", ask.every_page("/screen-room"), re.S)
    room = [re.findall(r'href="/jobs/(\w+)"', one)[0] for one in heads if re.search(r"\bdays? late\b", one)]
    return {
        "the desk": lines,
        "the desk on paper": ask.raw("/desk?print=1").count('class="due late"'),
        "the screen room": len(set(room)),
        "the week": number(ask.page("/week"), r"! (\d+) press dates? ha(?:s|ve) passed\.", 0),
        "the jobs of the week": len(re.findall(r'<li id="\w+" class="late">', ask.raw("/week"))),
        "the week as data": ask.data("job", "list", "--week")["late"],
        "the wall": number(ask.wall(), r"! (\d+) press dates? ha(?:s|ve) passed\b", 0),
        "the list of jobs": ask.every_page("/jobs").count("! late<"),
    }


Ready = dict[str, tuple[int, int]]
"""By code of a job how many of its screens are ready, and how many it needs."""


def of_all(said: str, all_of_it: int) -> tuple[int, int]:
    """`2 of 6`, or all of them."""
    found = re.search(r"(\d+) of (\d+)", said)
    return (int(found[1]), int(found[2])) if found else (all_of_it, all_of_it)


def screens_ready(ask: Asked) -> Told:
    """Of the jobs of the next seven days."""
    desk: Ready = {}
    for code, line in re.findall(r'<a class="job-line" href="/jobs/(\w+)">(.*?)</a></li>', ask.raw("/desk"), re.S):
        desk[code] = of_all(line.split('class="figure"')[1], line.count('class="dot '))
    paper: Ready = {}
    tags = re.findall(r'<span class="numbers">(.*?)</span>\n', ask.raw("/desk?print=1"), re.S)
    for code, line in zip(desk, tags, strict=True):
        ready, way, none = (number(lines_of(line), rf"(\d+) {word}", 0) for word in ("ready", "on the way", "without"))
        paper[code] = (ready, ready + way + none)
    week: Ready = {}
    for code, line in re.findall(r'<li id="(\w+)"[^>]*>(.*?)</a>', ask.raw("/week?days=8"), re.S):
        said = line.split('class="screens-of"')[1]
        week[code] = of_all(said, said.count('class="dot '))
    data = {
        one["code"]: (one["screens_ready"], one["screens_needed"])
        for day in ask.data("job", "list", "--week")["days"]
        for one in day["jobs"]
    }
    room: Ready = {}
    for part in ask.every_page("/screen-room").split('<article class="placement">')[1:]:
        code = re.findall(r'<h3>.*?href="/jobs/(\w+)"', part, re.S)[0]
        before = room.get(code, (0, 0))
        marks = re.findall(r'<p class="state"><span><span class="tag">(.)', part)
        room[code] = (before[0] + marks.count("✓"), before[1] + len(marks))
    own: Ready = {}
    for code in desk:
        told = re.findall(r"(\d+) of (\d+) screens? ready", ask.page(f"/jobs/{code}"))
        own[code] = (sum(int(one) for one, _all in told), sum(int(every) for _one, every in told))
    both = desk.keys() & week.keys()
    assert both, "no job to compare"
    return {
        "the desk": {code: desk[code] for code in both},
        "the desk on paper": {code: paper[code] for code in both},
        "the week": {code: week[code] for code in both},
        "the week as data": {code: data[code] for code in both},
        "the screen room": {code: room[code] for code in both},
        "the job’s page": {code: own[code] for code in both},
    }


def pieces_to_print(ask: Asked) -> Told:
    """Of each job of the week; then of each day and press as planning says it."""
    week: dict[str, int] = {}
    for code, line in re.findall(r'<li id="(\w+)"[^>]*>(.*?)</a>', ask.raw("/week"), re.S):
        week[code] = number(lines_of(line), r"(\d+) pieces?\b")
    days = re.findall(r"^(\d+) jobs?, (\d+) pieces?", ask.page("/week"), re.M)
    data = ask.data("job", "list", "--week")["days"]
    counted = {}
    for code in week:
        job = ask.data("job", "show", code)
        good: Counter[str] = Counter()
        for run in job["runs"]:
            shown = ask.data("run", "show", str(run))
            good[shown["placement"]] += shown["good"]
        ordered = sum(one["pieces"] for one in job["garments"])
        counted[code] = max(0, *(ordered - good[one["name"]] for one in job["placements"]))
    return {
        "the week": week,
        "the week as data": {one["code"]: one["pieces"] for day in data for one in day["jobs"]},
        "ordered, less what its runs counted": counted,
        "the days of the week": week if sum(int(one) for _jobs, one in days) == sum(week.values()) else days,
        "its sum": week
        if number(ask.page("/week"), r"Today and the next 6 days: \d+ jobs?, (\d+) pieces?") == sum(week.values())
        else {},
    }


def planned(ask: Asked) -> Told:
    """What is planned on each day and press: jobs and pieces."""
    week: dict[tuple[str, str], tuple[int, int]] = {}
    today = ask.shop.now.date()
    for day in ask.data("job", "list", "--week")["days"]:
        for one in day["jobs"] if day["day"] else ():
            if one["press"] and ask.data("job", "show", one["code"])["planned"]["day"] == day["day"]:
                jobs, pieces = week.get((day["day"], one["press"]), (0, 0))
                week[day["day"], one["press"]] = (jobs + 1, pieces + one["pieces"])
    slots: dict[tuple[str, str], tuple[int, int]] = {}
    page = ask.raw(f"/jobs/{ask.jobs[0]['code']}/plan")
    for iso, name, load in re.findall(r'name="slot" value="([\d-]+) \w+"[^>]*>(?:✓ )?([^<]+)\n<small>([^<]*)', page):
        if found := re.fullmatch(r"(\d+) jobs?, (\d+) pieces?", load):
            slots[iso, name.strip()] = (int(found[1]), int(found[2]))
    assert all(day >= today.isoformat() for day, _press in slots)
    return {"the week": week, "planning a job": slots}


def good_pieces(ask: Asked) -> Told:
    """Good, misprinted pieces of each run."""
    listed = dict(re.findall(r'<td class="short">(\d+)</td>.*?data-word="good">(\d+)<', ask.every_page("/runs"), re.S))
    pages, data = {}, {}
    for run in ask.runs:
        text, shown = ask.page(f"/runs/{run}"), ask.data("run", "show", str(run))
        found = re.search(r"(\d+) good(?: of \d+ ordered)?, (\d+) misprinted", text)
        pages[run] = (int(found[1]), int(found[2])) if found else (0, 0)
        data[run] = (shown["good"], shown["misprinted"])
    assert {run: int(listed[str(run)]) for run in ask.runs} == {run: good for run, (good, _bad) in pages.items()}
    lines = ask.program("log")
    log: dict[int, tuple[int, int]] = dict.fromkeys(ask.runs, (0, 0))
    for one in lines:
        if one["step"] == "count" and not one.get("crossed_out_by"):
            good, bad = log[one["run"]]
            log[one["run"]] = (good + int(one["good"] or 0), bad + int(one["misprinted"] or 0))
    return {
        "its page": pages,
        "its data": data,
        "the file": {int(one["run"]): (int(one["good"]), int(one["misprinted"])) for one in ask.file("runs")},
        "a program": {one["run"]: (one["good"], one["misprinted"]) for one in ask.program("runs")},
        "the log": log,
    }


def pieces_of_a_job(ask: Asked) -> Told:
    """Good, misprinted pieces and minutes of press stops of the jobs whose runs are all over, by what they cost."""
    pages, data, file = {}, {}, {}
    over = {one["job"] for one in ask.file("runs")} - {one["job"] for one in ask.file("runs") if not one["done_at"]}
    for code in sorted(over):
        rows = [one for one in ask.file("runs") if one["job"] == code]
        file[code] = tuple(sum(float(one[name]) for one in rows) for name in ("good", "misprinted", "stop_minutes"))
        cost = ask.data("job", "cost", code)["all"]
        data[code] = (cost["good"], cost["misprinted"], cost["stop_min"] or 0)
        text = lines_of(ask.raw(f"/desk/cost/{code}").split("<tfoot>")[-1])
        found = re.search(r"^(\d+) (\d+)$|^(\d+) good", text, re.M)
        pages[code] = data[code] if found is None else (int(found[1]), int(found[2]), data[code][2])
    months = {one["done_at"][:7] for one in ask.file("runs") if one["done_at"]}
    summed = [ask.data("job", "cost", "--month", month)["all"] for month in sorted(months)]
    done = [one for one in ask.file("runs") if one["done_at"]]
    assert sum(one["good"] for one in summed) == sum(int(one["good"]) for one in done)
    assert sum(one["misprinted"] for one in summed) == sum(int(one["misprinted"]) for one in done)
    return {"its page": pages, "its data": data, "the file of runs": file}


def stops(ask: Asked) -> Told:
    """Press stops and their minutes, and misprints, of the last 90 days."""
    wrong, since = ask.page("/desk/wrong"), (ask.shop.now - timedelta(days=90)).date().isoformat()
    rows = [one for one in ask.file("upsets") if one["at"] >= since]
    found = re.findall(r"(\d+) press stops? , (\d+) min in all", wrong)
    part = wrong.split("Misprints\n")[1].split("Reclaiming\n")[0].split("By press\n")
    bad = [[(int(one), int(every)) for one, every in re.findall(r"(\d+) of (\d+) pieces", some)] for some in part]
    stopped = [one for one in rows if one["step"] == "stop"]
    everything = {every for _one, every in bad[0]} or {0}
    return {
        "what goes wrong": (
            sum(int(one) for one, _min in found), sum(int(minutes) for _one, minutes in found),
            sum(one for one, _every in bad[0]),
        ),
        "the file": (
            len(stopped), sum(float(one["minutes"] or 0) for one in stopped),
            sum(int(one["misprinted"] or 0) for one in rows),
        ),
        "by press": (
            len(stopped), sum(float(one["minutes"] or 0) for one in stopped), sum(one for one, _every in bad[1]),
        ) if everything == {sum(every for _one, every in bad[1])} else bad,
    }  # fmt: skip


def by_stage(ask: Asked) -> Told:
    """Screens at each stage that are there."""
    table = ask.raw("/screens").split('<table class="counts">')[1].split("</table>")[0]
    names = [re.sub("<.*?>", "", one) for one in re.findall(r'<th scope="col" class="amount">(.*?)</th>', table)][1:]
    links = re.findall(r'<th scope="col" class="amount"><a href="/screens\?(?:standing|due)=([^"&]+)[^"]*">', table)
    sums = [int(one) for one in re.findall(r'class="amount">(\d+)<', table.split("<tfoot>")[1])][1:]
    assert len(names) == len(links) == len(sums)
    told = dict(zip([html.unescape(one).replace("+", " ") for one in links], sums, strict=True))
    apart = {name: told.pop(name, 0) for name in ("missing", "slack")}
    there = [one for one in ask.data("screen", "list") if not one["missing"]]
    listed = {
        stage: len(ask.data("screen", "list", "--stage", stage)) - sum(
            one["missing"] for one in ask.data("screen", "list", "--stage", stage))
        for stage in told
    }  # fmt: skip
    filed = Counter(one["stage"] for one in ask.file("screens") if one["missing"] != "yes")
    program = Counter(one["stage"] for one in ask.program("screens") if one["missing"] != "yes")
    row = '<tr><th scope="row"><a href="/screens/'
    rows = {stage: ask.every_page(f"/screens?standing={stage.replace(' ', '+')}").count(row) for stage in told}
    slack = apart["slack"]
    assert sum(told.values()) + slack == len(there), "a slack frame is counted by itself"
    loose = Counter(one["standing"] for one in ask.data("screen", "list", "--due", "slack") if one["standing"] in FREE)
    return {
        "the table": told,
        "its lists": rows,
        "a list by command": {stage: listed[stage] - loose[stage] for stage in told},
        "the file": {stage: filed[stage] - loose[stage] for stage in told},
        "a program": {stage: program[stage] - loose[stage] for stage in told},
    }


FREE = {"bare", "degreased", "coated", "stripped"}


def free_frames(ask: Asked) -> Told:
    """Free frames by mesh as labelled; the pool has several labels under one mesh, so there their sum."""
    bars: dict[str, int] = {}
    for mesh, line in re.findall(r'<li><b class="mesh">([^<]+)</b>(.*?)</li>', ask.raw("/desk"), re.S):
        if free := number(lines_of(line), r"(\d+) free(?!,)", 0):
            bars[mesh] = free
    paper = {
        mesh: int(free)
        for mesh, free in re.findall(
            r'<tr><th scope="row">([^<]+)</th>\n?<td class="amount" data-word="free">(\d+)', ask.raw("/desk?print=1"))
    }  # fmt: skip
    loose = {one["code"] for one in ask.data("screen", "list", "--due", "slack")}
    listed = Counter(
        one["mesh"]
        for one in ask.data("screen", "list")
        if one["standing"] in FREE and not one["missing"] and one["code"] not in loose
    )
    pool = sum(int(one) for one in re.findall(r"\((\d+) free", ask.page("/desk/pool")))
    return {
        "the desk": bars,
        "the desk on paper": paper,
        "the list": dict(listed),
        "the pool": bars if pool == sum(bars.values()) else pool,
    }


def missing(ask: Asked) -> Told:
    table = ask.raw("/screens").split("<tfoot>")[1].split("</tfoot>")[0]
    above = ask.raw("/screens").split("<thead>")[1].split("</thead>")[0]
    heads = re.findall(r'<a href="/screens\?(?:standing|due)=([^"&]+)[^"]*">', above)
    sums = [int(one) for one in re.findall(r'class="amount">(\d+)<', table)][1:]
    pool = [int(one) for one in re.findall(r"(\d+) more (?:is|are) missing", ask.page("/desk/pool"))]
    stays = ask.page("/desk/pool").split("How long screens stay at each stage")[1].split("Screens made ready")[0]
    more = [int(one) for one in re.findall(r"(\d+) more (?:is|are) missing", stays)]
    return {
        "the desk’s card": number(ask.page("/desk"), r"^(\d+) missing since", 0),
        "the desk’s frames": number(ask.page("/desk"), r"^(\d+) more (?:is|are) missing since", 0),
        "the desk on paper": number(ask.page("/desk?print=1"), r"^(\d+) · missing since", 0),
        "the table": dict(zip(heads, sums, strict=True)).get("missing", 0),
        "the list": ask.every_page("/screens?due=missing").count("missing since a stock-take</b>"),
        "the list by command": len(ask.data("screen", "list", "--due", "missing")),
        "a column": sum(one["missing"] for one in ask.data("screen", "list")),
        "the file": sum(one["missing"] == "yes" for one in ask.file("screens")),
        "a program": sum(one["missing"] == "yes" for one in ask.program("screens")),
        "the pool’s meshes": sum(pool) - sum(more),
        "the pool’s stages": sum(more),
    }


def due(what: str, on_desk: str) -> Callable[[Asked], Told]:
    """The screens that are due for something."""

    def told(ask: Asked) -> Told:
        rows = r'<tr><th scope="row"><a href="/screens/(\w+)"'
        found: Told = {
            "the list": len(re.findall(rows, ask.every_page(f"/screens?due={what}"))),
            "the list by command": len(ask.data("screen", "list", "--due", what)),
        }
        if on_desk:
            found["the desk"] = number(ask.page("/desk"), rf"^(\d+) {on_desk}", 0)
            found["the desk on paper"] = number(ask.page("/desk?print=1"), rf"^(\d+) · {on_desk}", 0)
        if what in ("slack", "worn", "idle"):
            head = {"slack": "Under the floor", "worn": "Mesh near its end", "idle": "Not used for long"}[what]
            found["frames to look after"] = number(ask.page("/desk/frames"), rf"^{head}: (\d+)$")
            found["to look after, by command"] = len(ask.data("screen", "tend")[what])
            sheet = ask.raw(f"/desk/frames?print={what}")
            found["the sheet to take along"] = len(set(re.findall(r'code-small">([^<]+)<', sheet)))
        if what == "slack":
            slack = r"^(?:Stretch new mesh on|Retension) (\d+) "
            found["the screen room"] = sum(map(int, re.findall(slack, ask.page("/screen-room"), re.M)))
        return found

    return told


def to_reclaim(ask: Asked) -> Told:
    every = ask.every_page("/desk/kept")
    return {
        "all that are kept": every.count("✕ reclaim"),
        "those not worth keeping": ask.every_page("/desk/kept?strip=1").count("✕ reclaim"),
        "the list to print": len(re.findall(r'class="code-small">', ask.raw("/desk/kept?print=1"))),
    }


def kept(ask: Asked) -> Told:
    every = ask.every_page("/desk/kept")
    listed = [one for one in ask.data("screen", "list", "--stage", "kept")]
    return {
        "kept screens": every.count("✓ keep") + every.count("✕ reclaim"),
        "the list": sum(not one["missing"] for one in listed),
    }


def buckets_out(ask: Asked) -> Told:
    """Expired buckets with how long ago; those that fail their test too."""
    desk = ask.raw("/desk")
    said = dict(re.findall(r'href="/buckets/(\w+)">.*?<span>[^<]*? · ([^<]+)</span>', desk, re.S))
    clock = r'<th scope="row"><a href="/buckets/(\w+)">.*?<span class="clock [^"]*">([^<]+)<'
    listed = dict(re.findall(clock, ask.raw("/buckets"), re.S))
    over = {code: text for code, text in said.items() if text.startswith("expired")}
    shown = {one["code"]: one for one in ask.data("bucket", "list")}
    assert set(shown) == set(listed)
    return {
        "the desk": over,
        "the list": {code: text.split(" (")[0] for code, text in listed.items() if text.startswith("expired")},
        "its data": {code: over.get(code) for code in shown if ask.data("bucket", "show", code)["past"]},
        "the number": over if number(ask.page("/desk"), r"^(\d+) buckets? that expired", 0) == len(over) else desk,
    }


def entries_of_days(ask: Asked) -> Told:
    """What was logged on each of the last seven days."""
    page: dict[str, int] = {}
    link = r'href="/log\?day=([\d-]+)"[^>]*>.*?<small>(?:&nbsp;|\s)*· (\d+)'
    for day, many in re.findall(link, ask.raw("/log"), re.S):
        page[day] = int(many)
    assert len(page) == 7
    said = {one["day"]: one["entries"] for one in ask.data("log", "--days")}
    one_by_one = {day: len(ask.data("log", "--day", day)) for day in page}
    filed: Counter[str] = Counter(one["at"][:10] for one in ask.file("entries"))
    return {
        "the log": page,
        "by command": said,
        "its lines": one_by_one,
        "the file": {day: filed[day] for day in page},
    }


def remakes(ask: Asked) -> Told:
    """Screens made again, by month and by job; of the jobs whose runs are all in one month."""
    months = sorted({one["done_at"][:7] for one in ask.file("runs") if one["done_at"]})
    by_job: dict[str, tuple[int, int, int]] = {}
    own: dict[str, tuple[int, int, int]] = {}
    sums = {}
    for month in months:
        found = ask.data("job", "cost", "--month", month)
        for one in found["jobs"]:
            by_job[one["job"]] = (one["screens_needed"], one["screens_made"], one["screens_made_again"])
        sums[month] = found["all"]["screens_made_again"] == sum(one["screens_made_again"] for one in found["jobs"])
        listed = found["remakes"]
        assert sum(one["screens"] for one in listed) == found["all"]["screens_made_again"]
        text = ask.page(f"/desk/cost?month={month}")
        if not found["all"]["screens_made_again"]:
            assert "None: no screen had to be made a second time" in text
    assert all(sums.values()), sums
    runs_of: dict[str, set[str]] = {}
    for one in ask.file("runs"):
        runs_of.setdefault(one["job"], set()).add(one["done_at"][:7])
    alone = [job for job, some in runs_of.items() if len(some) == 1 and job in by_job]
    for job in alone:
        one = ask.data("job", "cost", job)["all"]
        own[job] = (one["screens_needed"], one["screens_made"], one["screens_made_again"])
    return {"its month": {job: by_job[job] for job in alone}, "by itself": own}


def uses(ask: Asked) -> Told:
    """Uses and impressions of each screen’s mesh."""
    listed = {one["code"]: (one["uses"], one["impressions"]) for one in ask.data("screen", "list")}
    some = [code for code, (used, _printed) in listed.items() if used][:12]
    pages, lives, data = {}, {}, {}
    pattern = r"(\d+) uses? · (\d+) impressions?"
    for code in some:
        for told, path in ((pages, f"/screens/{code}"), (lives, f"/desk/screens/{code}")):
            found = re.findall(pattern, ask.page(path))
            told[code] = (int(found[0][0]), int(found[0][1])) if found else None
        shown = ask.data("screen", "show", code)
        data[code] = (shown["uses"], shown["impressions"])
    row = r'href="/screens/(\w+)">(?:(?!</tr>).)*data-word="uses">(\d+)<'
    rows = dict(re.findall(row, ask.every_page("/screens"), re.S))
    assert {code: int(rows[code]) for code in some} == {code: listed[code][0] for code in some}
    filed = {one["screen"]: (int(one["uses"]), int(one["impressions"])) for one in ask.file("screens")}
    program = {one["screen"]: (one["uses"], one["impressions"]) for one in ask.program("screens")}
    return {
        "the list": {code: listed[code] for code in some},
        "its page": pages,
        "its life": lives,
        "its data": data,
        "the file": {code: filed[code] for code in some},
        "a program": {code: program[code] for code in some},
    }


def impressions(ask: Asked) -> Told:
    """Of all runs: what their screens printed, by run and by stencil."""
    runs_ = {int(one["run"]): int(one["impressions"]) for one in ask.file("runs")}
    log = dict.fromkeys(runs_, 0)
    for one in ask.program("log"):
        if one["step"] == "print" and not one.get("crossed_out_by") and one["run"] in log:
            log[one["run"]] += int(one["impressions"] or 0)
    own = {}
    for run in runs_:
        own[run] = sum(one["impressions"] for one in ask.data("run", "show", str(run))["used"])
    return {"the file": runs_, "the log": log, "its data": own}


def at_places(ask: Asked) -> Told:
    """Screens at each place."""
    row = r'href="/places/(\w+)">([^<]+)</a></th>.*?<td class="amount" data-word="screens?">(\d+)<'
    rows = re.findall(row, ask.every_page("/places"), re.S)
    page = {name: int(many) for _code, name, many in rows if int(many)}
    takes = re.findall(r"<strong>([^<]+)</strong> <span>(\d+) screens? in the log", ask.raw("/desk/stocktake"))
    listed = Counter(one["place"] for one in ask.data("screen", "list") if one["place"] and not one["missing"])
    counted = {name: int(many) for name, many in takes if int(many)}
    presses = {name: many for name, many in page.items() if name not in dict(takes)}
    own = {}
    for code, name, _many in rows:
        text = ask.page(f"/places/{code}")
        found = re.search(r"^(\d+) screens?", text, re.M)
        if found:
            own[name] = int(found[1])
    return {
        "the places": page,
        "the stock-take": {**counted, **presses},
        "the list": dict(listed),
        "each place": {**page, **{name: many for name, many in own.items() if many}},
    }


def frames_short(ask: Asked) -> Told:
    """Meshes that run short in the next days, with how many and when."""
    said = r"(\S+/(?:in|cm) · \S+ µm): ✕ (\d+ frames? too few for \d+ \w+)"
    return {
        "the desk": set(re.findall(said, ask.page("/desk").split("Frames left")[0])),
        "the desk on paper": set(re.findall(said, ask.page("/desk?print=1"))),
        "its picture": set(re.findall(said, ask.page("/desk").split("Frames left")[1])),
        "where frames run out": set(re.findall(said, ask.page("/desk/short?days=7"))),
    }


def to_do(ask: Asked) -> Told:
    """What waits in the screen room."""
    part = ask.page("/desk").split("Screen room now\n")[1].split("Needs a look")[0]
    room = ask.page("/screen-room").split("To do now\n")[1].split("Screens to make")[0]
    wall = ask.wall().split("To do now\n")[1].split("Presses wait for")[0]
    steps = re.compile(r"^([A-Z][a-z ]*?\b\d+ [a-z -]*?(?:screens?|frames?)\b)", re.M)
    found = [steps.findall(some) for some in (part, room)]
    return {
        "the desk": found[0],
        "the screen room": found[1],
        "the wall": found[0] if steps.findall(wall) == found[0][:4] else steps.findall(wall),
    }


def step_wedges(ask: Asked) -> Told:
    """The step wedges read under the lamp that is in each exposure unit now."""
    units: dict[str, int] = {}
    for card in ask.raw("/exposure-units").split('<section class="card">')[1:]:
        name = re.findall("<h2>([^<]+)</h2>", card)[0]
        units[name] = number(lines_of(card).replace("\n", " "), r"Step wedges read under this lamp (\d+)")
    wrong = {}
    for card in ask.raw("/desk/wrong").split('<section class="card">')[1:]:
        wrong[re.findall("<h3>([^<]+)</h3>", card)[0]] = number(lines_of(card), r"(\d+) step wedges?(?: in|:)")
    own = {name: number(ask.page(f"/exposure-units/{name}"), r"^Lamp of .* by (\d+) step wedges", 0) for name in units}
    return {"the units": units, "what goes wrong": wrong, "each unit": own}


def led_to(ask: Asked) -> Told:
    """Each number of the desk and of the table of screens that leads to a list, and how many lines that has."""
    row = '<tr><th scope="row"><a href="/screens/'
    link = r'<a(?: class="[^"]*")? href="(/screens\?[^"]+)"[^>]*>(?:<span>)?(\d+)<'
    links = {path: int(many) for page in ("/desk", "/screens") for path, many in re.findall(link, ask.raw(page))}
    assert len(links) > 40, links
    return {"said": links, "there": {path: ask.every_page(html.unescape(path)).count(row) for path in links}}


def paper_outdated(ask: Asked) -> Told:
    desk, old = ask.page("/desk"), ask.data("print", "outdated")
    return {
        "the desk": (
            number(desk, r"^(\d+) job tickets out of date", 0),
            number(desk, r"^(\d+) tags and tickets with an old address", 0),
        ),
        "by command": (len(old["jobs"]), len(old["left_behind"])),
    }


NUMBERS: dict[str, Callable[[Asked], Told]] = {
    "late jobs": late_jobs,
    "screens ready of needed": screens_ready,
    "pieces to print": pieces_to_print,
    "planned on a day": planned,
    "good and misprinted pieces": good_pieces,
    "pieces of a job": pieces_of_a_job,
    "press stops and misprints": stops,
    "screens by stage": by_stage,
    "free frames": free_frames,
    "missing screens": missing,
    "tension to measure": due("tension", "tension to measure"),
    "coated too long": due("coated", "coated too long"),
    "log unclear": due("unclear", "log unclear"),
    "kept too long": due("keep", "kept too long"),
    "too slack": due("slack", "under the floor"),
    "near the end": due("worn", "meshes likely near their end"),
    "idle": due("idle", ""),
    "to reclaim": to_reclaim,
    "kept": kept,
    "expired buckets": buckets_out,
    "entries of a day": entries_of_days,
    "screens made again": remakes,
    "uses and impressions": uses,
    "impressions of runs": impressions,
    "screens at a place": at_places,
    "frames short": frames_short,
    "to do in the screen room": to_do,
    "lists led to": led_to,
    "step wedges": step_wedges,
    "paper out of date": paper_outdated,
}
"""Each number that more than one place shows, and how each of them says it."""


# -- a lively shop, and what is done in it


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The invented shop."""
    return shops.the_demo(tmp_path / "shop")


@pytest.fixture
def lively(db: Any) -> Shop:
    """That shop after a day on which much went otherwise than planned."""
    made = Shop(db, NOW)
    much_goes_otherwise(made)
    return made


def much_goes_otherwise(shop: Shop) -> None:
    """Jobs that are late, planned, printed on two presses at once; frames too slack, coated long ago, kept too long,
    near torn, gone; buckets over; screens made again."""
    late = shop.job(two_colours("Paper boats", due=(shop.now - timedelta(days=2)).date().isoformat()))
    coming = shop.job(two_colours("Kite day", revision="3"))
    over = shop.job(one_colour(mesh={"count": "230/in", "thread": "48 um"}))
    shop.screen(coming, 1)
    code = shop.screen(over, 1, kind=3)
    runs_of = [shop.set_up(over, {1: code}, press="Press 1")]
    shop.approve(runs_of[0])
    shop.step(runs_of[0], "start")
    shop.step(runs_of[0], "stop", cause="pinhole", minutes="4")
    shop.step(runs_of[0], "count", good=60, misprinted=3, cause="pinhole")
    shop.step(runs_of[0], "pause")
    for job, press, days in ((late, "Press 1", 1), (coming, "Press 2", 1), (over, "Press 2", 2)):
        day = (shop.now + timedelta(days=days)).date().isoformat()
        jobs.plan(shop.db, shop.lead, job, press, day, post=fresh(), now=shop.now)
    slack, aged, kept, blurred = shop.frames(4, days_ago=300, thread_um="48", mark="X 1")
    shop.past(slack, "tension", 3, readings_n_per_cm="9 9 9 9 9")
    shop.past(aged, "coat", 24 * 60)
    shop.made(kept, [shop.separation(coming)], days_ago=40, kept=True)
    shop.past(kept, "decide", 24 * 30, then="keep", until=(shop.now - timedelta(days=5)).date().isoformat())
    shop.past(blurred, "check", 2, result="good")
    shop.past(blurred, "found", 1, standing_seen="ready")
    shop.mix("Emulsion C", hours_ago=24 * 90)
    failed = shop.mix("Emulsion D")
    bucket = find.bucket(shop.db, failed)
    buckets.log(shop.db, shop.me, bucket, "test", form({"result": "fault"}), post=fresh(), now=shop.tick())
    rack = find.place(shop.db, "Rack 2")
    stocktake.put_right(shop.db, shop.manager, rack, [], post=fresh(), now=shop.tick())


STEPS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("tension", {"readings_n_per_cm": "24 24 23 24 24"}),
    ("tension", {"readings_n_per_cm": "11 11 10 11 11"}),
    ("degrease", {}),
    ("coat", {}),
    ("washout", {"result": "good"}),
    ("washout", {"result": "fault", "fault": "pinholes"}),
    ("check", {"result": "good"}),
    ("check", {"result": "fault", "fault": "scum", "then": "strip"}),
    ("decide", {"then": "keep"}),
    ("decide", {"then": "strip"}),
    ("strip", {}),
    ("haze", {}),
    ("rack", {"place": "Rack 1"}),
    ("fault", {"kind": "torn", "then": "restretch"}),
    ("fault", {"kind": "ghost", "then": "use on"}),
    ("stretch", {"mesh_count_as_labelled": "230/in", "thread_um": "48"}),
    ("retire", {"cause": "frame"}),
    ("note", {"note": "Seen."}),
)
"""What is done to screens, as it comes."""
RUN_STEPS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("approve", {"approved_by": "Vera Lind", "approved_as": "customer", "how": "piece in hand"}),
    ("start", {}),
    ("count", {"good": "12", "misprinted": "1", "cause": "ink"}),
    ("stop", {"cause": "misregister", "minutes": "7"}),
    ("pause", {}),
    ("finish", {"then": "keep"}),
)


def by_chance(shop: Shop, chance: random.Random) -> str:
    """One act that somebody might do next; what was done (empty: the shop refused it)."""
    shop.tick(minutes=chance.randrange(1, 400))
    kind = chance.choice(("screen", "screen", "screen", "run", "run", "cross", "job", "plan", "gone", "bucket"))
    try:
        return f"{kind} {DONE_BY[kind](shop, chance)}"
    except Refused:
        return ""


def _of_a_screen(shop: Shop, chance: random.Random) -> str:
    number = chance.choice(list(stored_screens.every_number(shop.db)))
    screen = stored_screens.get(shop.db, number)
    assert screen is not None
    images = [one for one in shop.db.execute("SELECT DISTINCT separation FROM stations").fetchall()]
    step, sent = chance.choice([*STEPS, ("image", {"separations": str(chance.choice(images)[0])})])
    shop.log(str(screen.code), step, in_hand="yes", still_needed="yes", **sent)
    return step


def _of_a_run(shop: Shop, chance: random.Random) -> str:
    run = chance.choice([*stored_runs.open_ones(shop.db), stored_runs.latest(shop.db, 1)[0]])
    step, sent = chance.choice(RUN_STEPS)
    shop.step(run.id, step, **sent)
    return step


def _crossed_out(shop: Shop, chance: random.Random) -> str:
    rows = shop.db.execute("SELECT entry FROM entries WHERE screen IS NOT NULL ORDER BY id DESC LIMIT 40").fetchall()
    entry = chance.choice(rows)[0]
    crossed = form({"crosses": entry, "why": "wrong value"})
    screens.cross_out(shop.db, shop.manager, crossed, post=fresh(), now=shop.now)
    return str(entry)


def _entered(shop: Shop, chance: random.Random) -> str:
    days = chance.randrange(-2, 9)
    sheet = two_colours(f"Order {chance.random():.6f}", due=(shop.now + timedelta(days=days)).date().isoformat())
    return str(shop.job(sheet).code)


def _planned(shop: Shop, chance: random.Random) -> str:
    line = chance.choice(stored_jobs.listed(shop.db, None, 50))
    job, day = find.job(shop.db, line.code), (shop.now + timedelta(days=chance.randrange(9))).date().isoformat()
    jobs.plan(shop.db, shop.lead, job, chance.choice(("Press 1", "Press 2")), day, post=fresh(), now=shop.now)
    return day


def _gone(shop: Shop, chance: random.Random) -> str:
    """A stock-take that finds half of what is on a rack."""
    rack = find.place(shop.db, chance.choice(("Rack 1", "Rack 3")))
    there = [row[0] for row in shop.db.execute("SELECT screen FROM standings WHERE place = ?", [rack.id]).fetchall()]
    seen = [one for one in there if chance.random() < 0.7]
    stocktake.put_right(shop.db, shop.manager, rack, seen, post=fresh(), now=shop.now)
    return rack.name


def _mixed(shop: Shop, chance: random.Random) -> str:
    return shop.mix("Emulsion A", hours_ago=chance.choice((0.0, 700.0, 3000.0)))


DONE_BY: dict[str, Callable[[Shop, random.Random], str]] = {
    "screen": _of_a_screen,
    "run": _of_a_run,
    "cross": _crossed_out,
    "job": _entered,
    "plan": _planned,
    "gone": _gone,
    "bucket": _mixed,
}


@pytest.fixture
def keys(lively: Shop) -> dict[str, str]:
    """The tokens of a wall and of a program that reads everything."""
    made = {}
    for scope, parts in (("wall", ()), ("interface", tuple(tokens.PARTS))):
        _number, made[scope] = tokens.make(
            lively.db, lively.manager, scope, f"Our {scope}", True, parts, post=fresh(), now=lively.now
        )
    return made


def disagreements(ask: Asked) -> dict[str, Told]:
    """The numbers that are not the same everywhere, with what each place says."""
    found = {}
    for name, asks in NUMBERS.items():
        told = asks(ask)
        if any(one != next(iter(told.values())) for one in told.values()):
            found[name] = told
    return found


Asks = Callable[[], Asked]


@pytest.fixture
def asks(lively: Shop, keys: dict[str, str], client: FlaskClient, commands: shops.Tickets, clock: Clock) -> Asks:
    """The shop as it is at the time of its own clock, asked anew."""

    def now() -> Asked:
        clock.now = lively.now
        return Asked(lively, shops.signed_in(client, "Di Novak", demo.SECRETS["Di Novak"][1]), commands, keys)

    return now


def test_a_number_is_the_same_wherever_it_is_shown(asks: Asks) -> None:
    assert disagreements(asks()) == {}


@pytest.mark.parametrize("seed", [4, 12])
def test_it_is_the_same_after_whatever_is_done(lively: Shop, asks: Asks, seed: int) -> None:
    chance, done = random.Random(seed), list[str]()
    while len(done) < 20:
        done += [act] if (act := by_chance(lively, chance)) else []
    assert disagreements(asks()) == {}, done


# -- what a page's numbers count, and over which span

COUNTED: dict[str, tuple[str, ...]] = {
    "/desk": ("Late, and the next 7 days", "measured more than 90 days ago, 5 stencils ago, or never"),
    "/week": ("Open jobs with pieces still to print", "Today and the next 6 days"),
    "/desk/short": ("Open jobs of the next 14 days against the frames of each mesh",),
    "/desk/pool": ("of the last 90 days", "A frame is busy from degreasing until it is reclaimed"),
    "/desk/frames": ("As the log has them now", "were enough for 95 % of the last"),
    "/desk/kept": ("for 90 days after its last print",),
    "/desk/wrong": ("Counted is what was logged in the last 90 days",),
    "/desk/cost": ("Counted are the runs that were finished in this month",),
    "/desk/limits": ("Of the newest 300 runs at most",),
    "/desk/stocktake": ("counted 10 Mar by Di Novak",),
    "/mesh-lives": ("from stretching until a mesh tore", "Counted is the whole log"),
    "/log": ("Beside each day: what was done on it",),
    "/exposure-units": ("Step wedges read under this lamp",),
}
"""By page of the manager that counts something: how it says what is counted, and over which span."""
NO_COUNTS = frozenset({"/desk/trace", "/desk/files"})
"""Pages of the desk that list what there is, and count nothing over a span."""


def test_every_page_of_the_manager_says_what_it_counts_and_over_which_span(asks: Asks) -> None:
    ask = asks()
    desk = {one.path for _word, some in every_page("manager") for one in some if one.path.startswith("/desk")}
    assert desk - NO_COUNTS == {one for one in COUNTED if one.startswith("/desk")}, "a new page says what it counts"
    for path, said in COUNTED.items():
        text = " ".join(ask.page(path).split())
        assert [one for one in said if one not in text] == [], path
