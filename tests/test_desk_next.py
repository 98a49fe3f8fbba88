"""What waits for an open bucket, and what the boards and a stock-take say of the odd ones; cases made by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from flask.testing import FlaskClient
from shop import Shop, fresh

from tickets.actions import buckets, jobs, places
from tickets.domain.jobs import job as sheets
from tickets.domain.posted import form
from tickets.queries import find, sound, trace
from tickets.store import buckets as stored

SignIn = Callable[[FlaskClient, str], FlaskClient]


def order(bench: Shop, title: str, days: int, ink: str, **station: str) -> None:
    """A job of one colour, due in so many days."""
    sheet = {
        "title": title, "customer": "Reedbed Walkers", "due": (bench.now + timedelta(days=days)).date().isoformat(),
        "art": {"name": title, "revision": "1"},
        "garment": [{"style": "Tote", "colour": "natural", "pieces": 100, "fibre": {"cotton": 100}}],
        "placement": [{"name": "Front", "width": "100 mm", "height": "100 mm", "station": [
            {"does": "print", "ink": ink, "mesh": {"count": "230/in", "thread": "48 um"}, **station}]}],
    }  # fmt: skip
    jobs.add(bench.db, bench.me, [sheets.read(sheet)], post=fresh(), now=bench.now)


def mix(bench: Shop, **sent: str) -> int:
    code = buckets.mix(bench.db, bench.me, form(sent), post=fresh(), now=bench.now)
    return find.bucket(bench.db, code).id


def test_a_bucket_is_next_for_the_job_that_names_its_ink(bench: Shop) -> None:
    """The first plastisol job prints gold: the white is for the second. Nobody prints black, which is said."""
    order(bench, "Gold totes", 2, "plastisol", colour="gold")
    order(bench, "White totes", 4, "plastisol", colour="white")
    made = [mix(bench, kind="plastisol ink", product=name) for name in ("Low-bleed White", "Black", "")]
    made.append(mix(bench, kind="discharge ink", product="Clear base"))  # nobody asks for its kind
    open_ones = {one.id: one for one in stored.open_ones(bench.db)}
    found = trace.next_uses(bench.db, [open_ones[number] for number in made])
    assert [text for text, _due, _path in found] == [
        "Low-bleed White: next for White totes",
        "Black: no open job asks for it; the next one in plastisol is Gold totes",
        "plastisol ink: no open job asks for it; the next one in plastisol is Gold totes",
    ]


def test_a_bucket_that_is_past_its_time_by_then_says_so(bench: Shop) -> None:
    order(bench, "Night totes", 5, "discharge", colour="clear")
    mix(bench, kind="discharge ink", product="Clear")
    (one,) = stored.open_ones(bench.db)
    assert one.good_until and one.good_until[:10] < (bench.now + timedelta(days=5)).date().isoformat()
    ((text, _due, _path),) = trace.next_uses(bench.db, [one])
    assert text == "Clear: next for Night totes – it has expired by then: mix a fresh one"


def test_an_emulsion_is_next_for_the_first_job_whose_inks_it_stands(bench: Shop) -> None:
    order(bench, "Wet totes", 2, "discharge", colour="clear")
    order(bench, "Dry totes", 4, "plastisol", colour="red")
    weak = mix(bench, kind="diazo emulsion", product="Plain", water_resistant="no")
    good = mix(bench, kind="dual-cure emulsion", product="Aqua", water_resistant="yes")
    open_ones = {one.id: one for one in stored.open_ones(bench.db)}
    said = [text for text, *_rest in trace.next_uses(bench.db, [open_ones[weak], open_ones[good]])]
    assert said == ["Plain: next to coat for Dry totes", "Aqua: next to coat for Wet totes"]


def test_lots_stand_with_their_ages(bench: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    old = form({"kind": "plastisol ink", "product": "White"})
    buckets.mix(bench.db, bench.me, old, post=fresh(), now=bench.now - timedelta(days=79))
    phone = sign_in(client, "Di Novak")
    for path in ("/buckets", "/desk/trace"):
        assert "mixed 21 Dec 2025, 79 days ago" in phone.get(path).text, path


def test_a_screen_on_the_way_whose_washout_failed_says_so(bench: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    (code,) = bench.frames(1, thread_um="48")
    (image,) = bench.images(1)
    bench.past(code, "coat", 5)
    bench.past(code, "image", 4, separations=[str(image)], means="film")
    bench.past(code, "expose", 3, exposure_s="60")
    bench.past(code, "washout", 2, result="fault", fault="pinholes")
    page = sign_in(client, "Di Novak").get("/desk?days=7").text
    assert "on the way: pinholes seen at the washout, to be mended" in page


def test_a_stock_take_keeps_in_sight_what_cannot_be_there(bench: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    rack = places.add(bench.db, bench.me, "Rack 1", "rack", post=fresh(), now=bench.now)
    (code,) = bench.frames(1, thread_um="48")
    bench.past(code, "retire", 1, cause="lost")
    phone = sign_in(client, "Di Novak")
    phone.post(f"/desk/stocktake/{rack}/seen", data={"code": code})
    done = phone.post(f"/desk/stocktake/{rack}/put-right", data={"entry": fresh()})
    assert done.status_code == 200 and "that cannot be: look at each" in done.text
    assert f'href="/screens/{code}"' in done.text.split("that cannot be")[1]
    assert find.screen(bench.db, code).life.standing.value == "retired" and sound.check(bench.db) == []
