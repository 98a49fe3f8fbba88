"""Every text in every language, and pages that offer the same in each.

The catalogues are the ordinary ones of gettext; Babel is asked what the program says and how a catalogue is packed.
Run as a program it brings each catalogue up to what the program says (new texts still to be said in it) and packs it:
`python tests/test_languages.py`; with the short name of a language it begins one.
"""

from __future__ import annotations

import gettext
import io
import re
import sys
import tomllib
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from string import Formatter
from typing import Any

import pytest
import shop as shops
from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.frontend import parse_mapping_cfg
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import Environment
from shop import NOW, Shop
from test_statements import addresses
from visible import MARKS, ROOT, texts

from tickets import demo, i18n, store
from tickets.actions import people, printing
from tickets.calculator import kinds, mesh, units
from tickets.calculator.verdict import say
from tickets.domain.jobs.job_reading import read
from tickets.domain.lists import columns
from tickets.domain.person import ROLES, role_of, role_said
from tickets.domain.runs.as_run import fibre_said
from tickets.domain.runs.run import state_said
from tickets.store import people as stored_people
from tickets.store.settings import save_setting
from web import quick

I18N = ROOT / "tickets" / "i18n"
OTHERS = sorted(path.parent.parent.name for path in I18N.glob("locale/*/LC_MESSAGES/tickets.po"))
AS_IT_IS = {
    "CSV", "trace", "· 305/in", "230/in", "tickets person secret NAME",
    "tickets person add NAME --role manager --secret-stdin",
}  # fmt: skip
"""What templates say in no language: commands, columns, the form of a mesh count."""


WRITTEN = {
    "English", "2 Shore A", "Big lamp", "Rack 3", "95 s · Big lamp", "highlight white", "white", "orange",
    "keep flooded between pieces", "Tote bags for the summer terrace", "no", "reclaimed", "aluminium",
}  # fmt: skip
"""What is said so in every language, and what people of the invented shop wrote that the program says too."""


def catalogue(language: str) -> Catalog:
    with (I18N / "locale" / language / "LC_MESSAGES" / "tickets.po").open("rb") as file:
        return read_po(file, locale=language)


KEYWORDS: dict[str, Any] = {"ngettext": (1, 2), "Nn_": (1, 2), "pgettext": ((1, "c"), 2), "Np_": ((1, "c"), 2)}
BEHIND = "\x04"
"""What stands between a context and its text, as in a packed catalogue."""


def said_by_the_program() -> Iterator[tuple[str, Any, str | None]]:
    """What Babel finds in the program: the file that says it, the text (or its forms), and in which context."""
    with (I18N / "babel.cfg").open(encoding="utf-8") as file:
        methods, options = parse_mapping_cfg(file)
    keywords: Any = {mark: KEYWORDS.get(mark) for mark in MARKS}
    seen: set[str] = set()
    for folder in ("tickets", "web"):
        here = [(name.partition("/")[2], how) for name, how in methods if name.startswith(folder)]
        found = extract_from_dir(ROOT / folder, here, options, keywords, directory_filter=lambda _path: True)
        for row in found:
            if row[2]:
                seen.update([row[2]] if isinstance(row[2], str) else row[2])
                yield f"{folder}/{Path(row[0]).as_posix()}", row[2], row[4]
    for text in texts():  # before 3.12 Babel does not look into f-strings
        if text.says and text.says not in seen:
            yield text.where.partition(":")[0], text.says, None


def written(language: str) -> None:
    """The catalogue of a language as the program is now: what is said no more is left out, what is new waits empty."""
    file = I18N / "locale" / language / "LC_MESSAGES" / "tickets.po"
    file.parent.mkdir(parents=True, exist_ok=True)
    kept = catalogue(language) if file.exists() else Catalog(locale=language)
    said = {one(message): message for message in kept if message.id}
    now = Catalog(locale=language, header_comment=kept.header_comment, charset="utf-8", fuzzy=False)
    now.mime_headers = kept.mime_headers
    for where, text, context in said_by_the_program():
        each = [named(text, context)] if isinstance(text, str) else list(text)
        before = forms(said[each[0]].string) if each[0] in said else [""] * len(each)
        if len(before) != len(each):  # it is said with a number now, or no more
            before = [forms(said[one].string)[0] if one in said else "" for one in each]
        filled = before[0] if isinstance(text, str) else tuple(before)
        message = now.add(text, filled, locations=[(where, None)], context=context)
        message.flags.discard("python-format")  # Babel takes "5 % of" for a mark of Python's
    waits = [one(message) for message in now if message.id and not all(forms(message.string))]
    with file.open("wb") as out:
        write_po(out, now, width=120, sort_output=True)
    with file.with_suffix(".mo").open("wb") as out:
        write_mo(out, catalogue(language))
    print(f"{language}: {len(now)} texts, {len(waits)} still to be said in {file.relative_to(ROOT)}")
    for text in waits:
        print("   ", text)


@pytest.fixture(scope="module")
def said_here() -> set[str]:
    return {named(text, context) for _where, text, context in said_by_the_program()}


def named(text: Any, context: str | None) -> str:
    """What a text is found by: its first form, behind its context."""
    first = text if isinstance(text, str) else text[0]
    return f"{context}{BEHIND}{first}" if context else str(first)


def one(message: Message) -> str:
    return named(message.id, message.context)


def forms(said: Any) -> list[str]:
    return [said] if isinstance(said, str) else list(said)


def fields(text: str) -> set[str]:
    return {name for _text, name, _how, _as in Formatter().parse(text) if name is not None}


def test_spanish_is_spoken_by_its_own_name() -> None:
    assert i18n.LANGUAGES["en"] == "English" and i18n.LANGUAGES["es"] == "Español"
    assert set(i18n.LANGUAGES) == {"en", *OTHERS}


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_is_said_in_every_language(language: str, said_here: set[str]) -> None:
    assert len(said_here) > 5000
    kept = catalogue(language)
    missing = sorted(said_here - {one(message) for message in kept if message.id and all(forms(message.string))})
    assert not missing, f"python tests/test_languages.py, then say them: {missing[:20]}"
    assert not sorted({one(message) for message in kept if message.id} - said_here)[:20], "said no more"
    assert not [message.id for message in kept if message.id and message.fuzzy]


def test_one_english_text_of_two_senses_is_two_in_spanish(said_here: set[str]) -> None:
    """Wherever a text is said in a context and without one, since otherwise the context does nothing."""
    kept = catalogue("es")
    twice = [(context, text) for context, _, text in (one.partition(BEHIND) for one in said_here) if text in said_here]
    assert {"Print", "Order", "Prints", "ready", "printing", "good", "missing"} <= {text for _context, text in twice}
    for context, text in twice:
        parted, plain = kept.get(text, context), kept.get(text)
        assert parted and plain and parted.string != plain.string, (context, text)


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_filled_in_is_filled_in_in_every_language(language: str) -> None:
    for message in catalogue(language):
        if not message.id:
            continue
        each, said = forms(message.id), forms(message.string)
        may = set().union(*map(fields, each))
        for text, other in zip(each, said, strict=True):
            lacks = fields(text) - fields(other) if len(each) == 1 else set()
            assert not lacks and fields(other) <= may, (text, other)
            assert (text[0] == " ", text[-1] == " ") == (other[0] == " ", other[-1] == " "), (text, other)
            assert text.count("\n") == other.count("\n"), (text, other)


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_spoken_is_what_was_written(language: str) -> None:
    packed = io.BytesIO()
    write_mo(packed, catalogue(language))
    file = I18N / "locale" / language / "LC_MESSAGES" / "tickets.mo"
    assert file.read_bytes() == packed.getvalue(), "python tests/test_languages.py"


TAG = re.compile(r"<(script|style)\b.*?</\1>|<!--.*?-->|<[^>]*>", re.DOTALL)
TOLD = re.compile(r'\s(?:title|aria-label|placeholder|alt|content)="([^"]*)"')


def unmarked(template: str) -> Iterator[str]:
    """What a template says that no gettext function was given."""
    lexed = Environment().lex(template)
    text = "".join("\0" if kind.endswith("_begin") else said if kind == "data" else "" for _line, kind, said in lexed)
    for part in (*TOLD.findall(text), TAG.sub("\0", text)):
        for said in re.sub(r"&#?\w+;", "", part).split("\0"):
            if re.search(r"[^\W\d_]{2}", said) and '="' not in said and not said.strip().endswith(('"', '="')):
                yield said.strip()


def test_no_template_says_what_cannot_be_translated() -> None:
    assert list(unmarked('<p title="Rack {{ 1 }}">Put away <b>{{ _("there") }}</b></p>')) == ["Rack", "Put away"]
    found = {
        (path.name, said)
        for path in (ROOT / "web" / "templates").rglob("*.html")
        for said in unmarked(path.read_text("utf-8"))
        if said not in AS_IT_IS and said not in ("width=device-width, initial-scale=1", "light", ", ΔE")
    }
    assert found <= {("_fields.html", 'class="field'), ("_fields.html", '" tabindex="-1')}, found


@pytest.mark.parametrize(
    ("accepted", "spoken"),
    [
        ("es", "es"), ("es-MX,es;q=0.9,en;q=0.8", "es"), ("en-US,es;q=0.5", "en"), ("es;q=0.4, en;q=0.6", "en"),
        ("pl,es;q=0.3", "es"), ("pl", None), ("", None), ("*", None), ("es;q=0", None), ("es;q=x,en;q=0.1", "en"),
        ("es;q=²", None), ("ES-419", "es"),
    ],
)  # fmt: skip
def test_the_language_that_a_phone_asks_for(accepted: str, spoken: str | None) -> None:
    """RFC 9110, 12.5.4 and 12.4.2: weights from 0 to 1, 0 for what will not do."""
    assert i18n.best_of(accepted) == spoken


def spoken(answer: Any) -> str:
    found = re.search(r'<html lang="(\w+)"', answer.text)
    assert found, answer.text[:200]
    return found[1]


def test_who_signs_in_chooses_and_the_phone_keeps_it(tmp_path: Path) -> None:
    with shops.pages(shops.staffed(tmp_path)) as app:
        phone = shops.phone_of(app)
        assert spoken(phone.get("/sign-in")) == "en", "the shop's"
        mexican = {"Accept-Language": "es-MX"}
        asked = phone.get("/sign-in", headers=mexican)
        assert spoken(asked) == "es", "the phone's own goes before the shop's"
        assert 'href="/sign-in?language=en"' in asked.text and ">English<" in asked.text
        chosen = phone.get("/sign-in?language=en", headers=mexican)
        assert spoken(chosen) == "en" and spoken(phone.get("/sign-in", headers=mexican)) == "en"
        assert spoken(phone.get("/sign-in?language=es&next=/words")) == "es"
        assert spoken(phone.get("/sign-in?language=xx")) == "es"
        shops.signed_in(phone, "Ada Holm")
        assert spoken(phone.get("/screens")) == "es", "and who signs in there reads on in it"


def test_the_shop_s_own_language_is_for_phones_that_say_nothing(tmp_path: Path) -> None:
    with shops.pages(shops.staffed(tmp_path)) as app:
        db = app.extensions["pool"].lend()
        save_setting(db, "language", "es", "2026-01-05T08:00:00Z", 1)
        app.extensions["pool"].take_back(db)
        phone = shops.phone_of(app)
        assert spoken(phone.get("/sign-in")) == "es"
        assert spoken(phone.get("/sign-in", headers={"Accept-Language": "en"})) == "en"


def test_paper_speaks_the_language_of_the_shop(tmp_path: Path) -> None:
    """Whoever prints it: it hangs where all read it, and the same is printed again byte by byte."""
    shop = Shop.begun(tmp_path)
    shop.job(shops.one_colour())
    code = shop.frame()
    made = []
    for reader in ("en", "es"):
        with i18n.speaking(reader):
            made.append(printing.print_tags(shop.db, shop.actor("Di Novak"), [code], now=NOW, anyway=True).pdf)
            assert i18n.language() == reader
    assert made[0] == made[1]


JOB = """
title = "Camisetas" \ncustomer = "Muelle Gris" \ndue = 2026-03-20
[art]\nname = "Olas"\nrevision = "1"
[[garment]]\nstyle = "Playera"\ncolour = "azul"\npieces = 20\nfibre = { "Algodón peinado" = 60, "poliester" = 40 }
[[placement]]\nname = "Frente"\nwidth = "200 mm"\nheight = "150 mm"\nplaten = "normal"
[[placement.station]]\ndoes = "print"\ncolour = "blanco"\nink = "Descarga"\nmesh = { count = "43/cm" }
"""


def test_what_is_typed_is_understood_in_every_language() -> None:
    """A fibre or an ink that is said in Spanish is judged as in English, and said to each reader in theirs."""
    job = read(tomllib.loads(JOB))
    assert dict(job.garments[0].fibre) == {"cotton peinado": 60, "polyester": 40}
    assert job.placements[0].stations[0].ink == "discharge"
    assert fibre_said(job.garments[0]) == "60 % cotton peinado, 40 % polyester"
    with i18n.speaking("es"):
        assert fibre_said(job.garments[0]) == "60 % algodón peinado, 40 % poliéster"
    assert kinds.undyed("Blanco") and kinds.undyed(" natural") and not kinds.undyed("azul")
    assert kinds.fibre_named("Polyester") == "Polyester" and kinds.fibre_named("poly") == "polyester"
    assert kinds.fibre_named("licra") == "spandex" and kinds.fibre_named("yute") == "yute"


def test_each_word_that_is_shown_for_a_role_or_a_kind_is_understood_where_one_is_typed(tmp_path: Path) -> None:
    """Whatever a refusal offers would do: at a command, and in a list that is brought in."""
    for language in i18n.LANGUAGES:
        with i18n.speaking(language):
            for role in ROLES:
                said = role_said(role)
                assert role_of(f" {said.upper()}") == role and columns.word_of("role", said) == role
            for field, words in columns._KEYS.items():
                for key, word in words.items():
                    assert columns.word_of(field, i18n.gettext(word)) == key, (language, field, key)
    assert role_of("baker") == "baker"
    assert quick.WITHOUT_PRINT["enfriar"] == "cool" and quick.WITHOUT_PRINT["flash"] == "flash"
    with i18n.speaking("es"):
        assert kinds.fibre_said(kinds.OPEN_FIBRE) == "todavía no se conoce"
    db = store.connect(shops.staffed(tmp_path))
    number = people.add_person(db, "Eva Roth", "equipo de maquina", None, NOW)
    assert stored_people.get(db, number).role == "press"
    people.change_person(db, number, "Press lead", None, NOW)
    assert stored_people.get(db, number).role == "press lead"


class Offered(HTMLParser):
    """What a page lets people do: forms, fields and links, without what anybody reads."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, ...]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.found.append((tag, has.get("method", ""), has.get("action", "")))
        elif tag in ("input", "select", "textarea", "button"):
            told = "" if has.get("name", "").endswith(("entry", "source", "name")) else has.get("value", "")
            self.found.append((tag, has.get("name", ""), has.get("type", ""), told if tag != "button" else ""))
        elif tag == "a" and "language=" not in has.get("href", ""):
            self.found.append((tag, has.get("href", "")))


def offered(answer: Any) -> list[tuple[str, ...]]:
    """Sorted, since lists of steps are in the order of the words that people read."""
    page = Offered()
    page.feed(answer.text)
    return sorted(page.found)


@pytest.fixture(scope="module")
def invented(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shops.the_demo(tmp_path_factory.mktemp("languages"))


@pytest.fixture(scope="module")
def invented_pages(invented: Path) -> Iterator[Flask]:
    with shops.pages(invented) as app:
        yield app


def holder(app: Flask, role: str) -> FlaskClient:
    name = next(name for name, (has, _secret) in demo.SECRETS.items() if has == role)
    return shops.signed_in(shops.phone_of(app), name, demo.SECRETS[name][1])


@pytest.mark.parametrize("role", sorted({role for role, _secret in demo.SECRETS.values()}))
def test_every_page_offers_the_same_in_every_language(role: str, invented: Path, invented_pages: Flask) -> None:
    """Each page that a role may open, of many things in the invented shop: its forms, fields and links. Left out is
    what a field of words would be filled with (where a value comes from, what new racks are called)."""
    phone, differ, looked = holder(invented_pages, role), dict[str, Any](), 0
    for rule, paths in addresses(invented_pages, invented).items():
        for path in paths[:6] if rule != "/t/<path:text>" else paths:
            english = phone.get(path, headers={"Accept-Language": "en"})
            english.close()
            if english.mimetype != "text/html" or english.status_code >= 400 or "<html" not in english.text:
                continue
            looked += 1
            spanish = phone.get(path, headers={"Accept-Language": "es"})
            assert spoken(spanish) == "es", path
            one, other = offered(english), offered(spanish)
            if one != other:
                differ[path] = [pair for pair in zip(one, other, strict=False) if pair[0] != pair[1]][:3] or len(one)
    assert looked > 60
    assert not differ, differ


WIDE = {ord(letter): ord(letter) + 0xFEE0 for letter in "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"}
"""Each letter as its full-width twin of Unicode: a language that can be read and is written nowhere else."""


def widened(text: str) -> str:
    """A text of the program in that language; what is filled in stays as it is."""
    parts = re.findall(r"\{[^{}]*\}|%\w?|[^{}%]+", text)
    return "".join(part if part[0] in "{%" else part.translate(WIDE) for part in parts)


class Wide(gettext.NullTranslations):
    """The catalogue of that language: it has what Babel finds in the program, and nothing else."""

    def __init__(self, texts: Iterable[Any]) -> None:
        super().__init__()
        self.said = {text: widened(text) for text in texts if isinstance(text, str)}
        self.many = {text: tuple(map(widened, text)) for text in texts if not isinstance(text, str)}
        self.said |= {one: widened(one) for one, _many in self.many}

    def gettext(self, message: str) -> str:
        return self.said.get(message, message)

    def pgettext(self, context: str, message: str) -> str:
        return self.gettext(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.many.get((msgid1, msgid2), (msgid1, msgid2))[n != 1]


class Read(HTMLParser):
    """What a page says, piece by piece, in the language that it is in: not what it marks as another's."""

    def __init__(self) -> None:
        super().__init__()
        self.pieces: list[str] = []
        self.within: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "style", "code") or (tag != "html" and dict(attrs).get("lang")):
            self.within.append(tag)
        self.pieces += [told for name, told in attrs if told and name in ("title", "aria-label", "placeholder", "alt")]

    def handle_endtag(self, tag: str) -> None:
        if self.within and tag == self.within[-1]:
            self.within.pop()

    def handle_data(self, data: str) -> None:
        if not self.within:
            self.pieces.append(data)


@pytest.fixture(scope="module")
def english() -> Callable[[str], bool]:
    """Whether a piece of a page is a text of the program as it is written in the source."""
    texts_of = [text for _where, text, _context in said_by_the_program()]
    found = [one for text in texts_of for one in ([text] if isinstance(text, str) else text)]
    plain = {text.strip().casefold() for text in found}
    filled: dict[str, list[re.Pattern[str]]] = {}
    for text in dict.fromkeys(found):
        parts = [part for part in Formatter().parse(text)]
        fixed = max((part[0] for part in parts), key=len).strip()
        if any(name is not None for _text, name, _how, _as in parts) and len(re.findall("[A-Za-z]", fixed)) > 8:
            form = "".join(re.escape(said) + (".*" if name is not None else "") for said, name, _how, _as in parts)
            filled.setdefault(fixed, []).append(re.compile(form, re.IGNORECASE | re.DOTALL))

    @cache
    def is_english(piece: str) -> bool:
        if piece.casefold() in plain:
            return True
        return any(form.fullmatch(piece) for fixed, forms in filled.items() if fixed in piece for form in forms)

    return is_english


@pytest.mark.parametrize("role", sorted({role for role, _secret in demo.SECRETS.values()}))
def test_no_page_speaks_past_the_catalogue(
    role: str, invented: Path, invented_pages: Flask, english: Callable[[str], bool], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a language of which every letter is known, what is left of English is what people wrote, or a fault."""
    wide, real = Wide([text for _where, text, _context in said_by_the_program()]), i18n._catalogue
    monkeypatch.setattr(i18n, "_catalogue", lambda language: wide if language == "xx" else real(language))
    monkeypatch.setitem(i18n.LANGUAGES, "xx", "Wide")
    phone, found = holder(invented_pages, role), dict[str, set[str]]()
    for rule, paths in addresses(invented_pages, invented).items():
        if rule in ("/look", "/desk/files"):  # made up to be looked at; names of files
            continue
        for path in paths[:6] if rule != "/t/<path:text>" else paths:
            answer = phone.get(path, headers={"Accept-Language": "xx"})
            if answer.mimetype == "text/html" and answer.status_code < 400 and "<html" in answer.text:
                page = Read()
                page.feed(answer.text)
                for piece in page.pieces:
                    said = " ".join(piece.split())
                    if re.search("[A-Za-z]{2}", said) and said not in WRITTEN and english(said):
                        found.setdefault(said, set()).add(path)
            answer.close()
    assert not found


if __name__ == "__main__":
    for each in sys.argv[1:] or OTHERS:
        written(each)


def test_a_state_is_no_time_and_an_ink_has_its_word() -> None:
    """A run that prints is said by what it does; the kinds of ink in a reason are words of ours, not keys."""
    with i18n.speaking("es"):
        assert state_said("printing") == "imprimiendo" != i18n.gettext("printing")
        assert units.show_named("inks", "discharge, water-base") == "descarga, base agua"
        assert units.show_named("ink", "house blend") == "house blend"


def test_one_count_is_said_as_one() -> None:
    rounded = 305 * (1 + 1e-13)
    assert rounded != 305
    (same,) = mesh.judge_same(305, None, rounded, None, count_tolerance_pct=2, thread_tolerance_um=2)
    assert "(305/in)" in say(same).sentence
