"""What everybody needs of every page: a way past its head, a title that says what came of it, the focus on that,
nothing white in the dark, nothing lost when the light is switched, ink on white paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
import shop as shops
from flask import Flask
from flask.testing import FlaskClient
from shop import Shop, answered
from test_forms_hold import Tree
from test_web_runs import start_run

from tickets import demo, store

SignIn = Callable[[FlaskClient, str], FlaskClient]


def title(page: str) -> str:
    """The title of a page, without the shop."""
    return Tree(page).named("title")[0].text.rpartition(" – ")[0]


def test_the_way_past_the_head_comes_first_and_the_pages_before_the_page(client: FlaskClient, sign_in: SignIn) -> None:
    for page in (client.get("/sign-in").text, sign_in(client, "Di Novak").get("/desk").text):
        tree = Tree(page)
        first = next(one for one in tree.named("a", "button", "input", "summary"))
        (target,) = [one for one in tree.all if one.get("id") == first.get("href")[1:]]
        assert target.name == "main" and target.get("tabindex") == "-1"
        parts = [one.name for one in tree.all if one.name in ("nav", "main")]
        assert parts[0] == ("nav" if '<details class="menu"' in page else "main")


def test_titles_say_what_came_of_it_and_the_focus_is_there(shop: Shop, client: FlaskClient, sign_in: SignIn) -> None:
    phone = sign_in(client, "Cy Marsh")
    job = shop.job()
    run, bare = start_run(phone, shop, job), shop.screen(job, 1, until="coat")
    right = shop.screen(job, 1)

    def focused(page: str) -> str:
        (one,) = [tag for tag in Tree(page).all if "autofocus" in tag.attrs]
        return one.get("class") or one.name

    stop = phone.get(f"/runs/{run}?screen={bare}").text
    assert title(stop).startswith("Stop: ") and "verdict" in focused(stop)
    assert title(phone.get(f"/runs/{run}?screen={right}").text).startswith("Right screen: ")
    sent = {"entry": shops.fresh(), "readings_n_per_cm": "24", "readings_n_per_cm.unit": "N/cm"}
    logged = phone.post(f"/screens/{bare}/tension", data=sent, follow_redirects=True).text
    assert title(logged).startswith("Logged: ") and focused(logged) == "done"
    refused = phone.post(
        f"/screens/{bare}/tension", data={**sent, "entry": shops.fresh(), "readings_n_per_cm": "x"}
    ).text
    assert title(refused).startswith("Not saved: ") and focused(refused) == "faults"
    nobody = phone.post("/hand-over", data={"name": "Nobody"})
    assert nobody.status_code >= 400 and focused(nobody.text)


WHITE = ("/screen-room?print=1", "/desk?print=1", "/desk/kept?print=1", "/desk/files/screens.csv",
         "/desk/files/screens.jsonl", "/desk/files/columns.csv",
         "/calculator/mesh?count=77/cm&thread=48+um&format=json")  # fmt: skip


def test_in_the_dark_nothing_white_opens(client: FlaskClient, sign_in: SignIn) -> None:
    phone = sign_in(client, "Di Novak")
    for path in WHITE:
        answer = phone.get(path)
        assert answer.status_code == 200 and 'class="safelight"' not in answer.get_data(as_text=True), path
        answer.close()
    phone.post("/view", data={"view": "safelight", "next": "/"})
    for path in WHITE:
        page = phone.get(path).get_data(as_text=True)
        assert "<h1" in page and "This is white" in page and 'class="safelight"' in page, path
        assert f'name="next" value="{path.replace("&", "&amp;")}"' in page, path
    page = phone.post("/print/tags", data={"codes": "7K32XM"})
    assert page.status_code == 409 and "Nothing was printed." in page.text


@pytest.mark.slow
def test_no_link_in_the_dark_leads_to_white(tmp_path: Any) -> None:
    """All that the pages of the invented shop lead to, a few of each sort."""
    folder = shops.the_demo(tmp_path / "shop")
    with shops.pages(folder) as app:
        phone = shops.signed_in(shops.phone_of(app), "Di Novak", demo.SECRETS["Di Novak"][1])
        phone.post("/view", data={"view": "safelight", "next": "/"})
        db = store.connect(folder)
        code, run = (db.execute(sql).fetchone()[0] for sql in ("SELECT code FROM screens", "SELECT max(id) FROM runs"))
        db.close()
        links: dict[str, str] = {}
        for path in ("/desk", "/screen-room", "/desk/kept", "/desk/files", "/desk/pool", f"/desk/screens/{code}",
                     f"/screens/{code}", f"/runs/{run}", f"/runs/{run}/sheet", f"/print/run/{run}",
                     "/calculator/mesh?count=77/cm&thread=48+um"):  # fmt: skip
            for link in re.findall(r'href="(/[^"#]*)', phone.get(path).text):
                sort = re.sub(r"/([0-9A-HJKMNP-TV-Z]{6}|\d+)(?=/|\?|$)", "/*", link)
                if not link.startswith("/static"):
                    links.setdefault(sort, link.replace("&amp;", "&"))
        for link in links.values():
            answer = phone.get(link, follow_redirects=True)
            assert answer.mimetype == "text/html" and 'class="safelight"' in answer.text, link
    assert len(links) > 60


@pytest.mark.browser
def test_hands_and_keys(phone: Any, served: Flask, sign_in_page: Callable[[Any, str], None], bench: Shop) -> None:
    """The way past the head; focus on what is wrong and on what was logged; the light switched with a form half filled
    in; Escape; which keys a PIN brings up; forced colours; ink on white paper."""
    code = bench.screen(bench.job(), 1, until="expose")
    phone.goto("/sign-in")
    secret = phone.locator("input[name=secret]")
    assert secret.get_attribute("autocomplete") == "current-password"
    for name, keys in (("Ada Holm", "numeric"), ("Di Novak", "")):
        phone.get_by_role("radio", name=name).check()
        assert secret.evaluate("one => one.inputMode") == keys
    sign_in_page(phone, "Ada Holm")
    phone.goto(f"/screens/{code}?step=tension")
    phone.keyboard.press("Tab")
    assert phone.evaluate("document.activeElement.getBoundingClientRect().left") >= 0
    phone.keyboard.press("Enter")
    assert phone.evaluate("document.activeElement.id") == "main"
    boxes = phone.locator("input[name=readings_n_per_cm]")
    for at, text in enumerate(("24.5", "23", "25")):
        boxes.nth(at).fill(text)
    for view in ("safelight", "day"):
        with answered(phone):
            phone.locator("form.view button").click()
        tapped = phone.locator("input[name^='readings_n_per_cm.r']:checked").evaluate_all(
            "all => all.map(one => one.value)"
        )
        assert tapped == (["2", "4", "5", "2", "3", "0", "2", "5", "0"] if view == "safelight" else [])
    assert boxes.evaluate_all("all => all.map(one => one.value)")[:4] == ["24.5", "23", "25", ""]
    boxes.nth(1).fill("many")
    with answered(phone):
        phone.locator("form.step button.primary").first.click()
    assert phone.evaluate("document.activeElement.id") == "faults" and phone.title().startswith("Not saved: ")
    phone.locator("#faults a").first.click()
    assert phone.evaluate("[document.activeElement.name, document.activeElement.value]") == [
        "readings_n_per_cm",
        "many",
    ]
    phone.keyboard.press("Control+A")
    phone.keyboard.type("23")
    with answered(phone):
        phone.keyboard.press("Enter")
    assert phone.evaluate("document.activeElement.className") == "done" and phone.title().startswith("Logged: ")
    menu = phone.locator("details.menu")
    menu.locator("> summary").click()
    phone.keyboard.press("Escape")
    assert (
        menu.get_attribute("open") is None
        and phone.evaluate("document.activeElement.parentElement.className") == "menu"
    )
    phone.goto(f"/screens/{code}?step=washout")
    phone.emulate_media(forced_colors="active")
    mark = "one => [getComputedStyle(one, '::after').borderTopWidth, getComputedStyle(one, '::after').content]"
    assert phone.locator("input[type=radio]:checked").first.evaluate(mark)[0] == "6px"
    phone.emulate_media(forced_colors="none")
    with answered(phone):
        phone.locator("form.view button").click()
    phone.emulate_media(media="print")
    inks = phone.evaluate("""() => [...document.querySelectorAll("main *")]
        .filter((one) => one.checkVisibility() && one.innerText).map((one) => getComputedStyle(one).color)""")
    assert set(inks) == {"rgb(0, 0, 0)"}
    assert not phone.locator("header.top, main button, .skip").filter(visible=True).count()
