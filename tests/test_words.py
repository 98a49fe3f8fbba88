"""Words that must not come back: names of somebody, one maker's sentences, words that had two meanings."""

from __future__ import annotations

import html
import pkgutil
import re
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from reading_ease import figures, long_ones, sentences
from test_languages import OTHERS, catalogue
from visible import ROOT, texts

from tickets import calculator, domain, i18n, queries
from tickets.calculator import verdict
from tickets.calculator.verdict import Level, Reason
from tickets.domain.grounds import GROUNDS, first_ground, ground_of
from web.glossary import NOTHING, WORDS, others_in

SignIn = Callable[[FlaskClient, str], FlaskClient]
# A dot in each keeps this list from being found by itself.
MUST_NOT = tuple(
    one.replace("·", "")
    for one in (
        # names that firms, products or persons bear or may bear
        "Kes·trel", "Rega·tta", "Quick W·hite", "Aqua-f·ast", "Aqua c·oat", "Sun C·oat", "Sunc·oat", "Reed Ka·yaks",
        "Tern Ro·wing", "Puf·fin", "Tide·water", "Blue D·oor", "Blue Lan·tern", "Hill L·ane",
        # one maker's leaflet of a film with factors, and one supplier's chart of meshes
        "factor s·trip", "colour change st·ops", "color change st·ops", "double the test t·ime",
        "athletic n·umber", "puf·f", "shim·mer", "foil adh·esive",
    )
)  # fmt: skip
FOUND = re.compile("|".join(rf"\b{re.escape(one)}" for one in MUST_NOT), re.IGNORECASE)
READ = {".py", ".html", ".md", ".toml", ".json", ".csv", ".sql", ".txt", ".js", ".css", ".po"}


def files() -> list[Path]:
    """What is read by people, what makes it, and what the tests make it of."""
    top = (path for path in ROOT.iterdir() if path.is_file())
    below = (path for folder in ("tickets", "web", "tests", "sample_jobs") for path in (ROOT / folder).rglob("*"))
    return sorted(path for path in (*top, *below) if path.suffix in READ)


def test_no_name_of_somebody_and_no_maker_s_sentence_comes_back() -> None:
    read = files()
    assert {"README.md", "DEVELOPERS.md", "demo.py", "papers.json", "harbour-lights.toml"} <= {one.name for one in read}
    said = [
        f"{path.relative_to(ROOT)}:{number} {found[0]}"
        for path in read
        for number, line in enumerate(path.read_text("utf-8", "replace").splitlines(), 1)
        for found in FOUND.finditer(line)
    ]
    assert said == []


@pytest.mark.parametrize("word", MUST_NOT)
def test_each_of_them_would_be_found(word: str) -> None:
    assert FOUND.search(f"a “{word.upper()}”, and")


# One word, one thing -------------------------------------------------------------------------------------------------

RETIRED = {
    "position": r"\bprint orders? \{|(?<!\{)\bstations?\b",
    "reclaim": r"\bstripp(ed|ings?)\b|\bto strip\b|\bstrip (it|all|this|the|[{]n[}])|or strip\b",
    "light units": r"(?<!fault)[}] units\b",
    "image": r"(?<!files call it )(?<![“{])\bseparations?\b(?![”}])",
    "reorder, reprint": r"(?<!first )\bprints? (it |them |that one )?again\b|\brepeat(s|ed|ing)?\b(?! (this|it)\b)",
    "customer’s number": r"customer.s reference",
    "press date": r"\bdue \{|\bdue (next|within)\b",
    "missing": r"not found (here|at)|: not there\b|pieces? missing|pieces? .* (is|are) missing",
    "press stopped": r"(?<!press )\bstops? (noted|was logged)|note (a|the) stop\b|stops of",
    "tag": r"\b(its|bucket|own) label\b|label of (a|the) (bucket|mixed)|no such ticket",
    "remove": r"\bwithdraw\b|take this note back",
    "is, adds, withstands": r"\bstands?\b",
    "compare": r"\bhold .*against (?!the light)|hold it against(?! the light)|holds a screen against",
    "works, suits": r"\b(speed|peak) serves\b|what serves\b|\bserves again\b",
    "the log has": r"\bby the log\b",
    "step wedge": r"gr[ae]y scale|step strip|step test",
    "limits": r"\bthe spec\b|shipped spec",
    "caution from": r"watch limit",
    "set time": r"wanted time",
    "expired, no time limit": r"past its (time|day|date)|no clock",
    "removed, crossed out": r"withdrawn|taken back",
    "stage": r"\bstandings?\b(?![_}])",
    "find": r"\bsearch",
    "compare with": r"\bh[eo]ld the (first )?print against|is held against",
    "override": r"\b(go|goes|going|went|gone) past (it|this|a stop|the (limit|stop|warning))\b",
    "again, rebuilt": r"\banew\b|\bafresh\b",
    "worked out": r"\breckon",
    "image the screen": r"put the image on\b",
    "correct the log": r"found otherwise",
    "download the records": r"to take along",
    "frames short": r"what runs short",
    "screens to make": r"separations wanted",
    "no frame fits": r"nothing serves",
    "changed from target": r"not as the target",
    "ready about": r"at the usual pace",
    "anyway": r"\ball the same\b",
    "do you have it in front of you": r"in your hands",
    "history, details and log": r"its whole life|all about it\b",
    "out of date": r"says the truth|leads astray",
    "shown too often": r"\bnags?\b",
    "like it, the same": r"\balike\b(?! to the eye)|\bits (like|sort)\b|\bof (its|this) sort\b",
    "the same unit, emulsion and mesh": r"\bcombinations?\b",
    "the middle, half": r"\bmedians?\b",
    "on the list, add": r"\bregistered\b|\bregisters? (it|the first|screens|them)\b",
    "is not a": r"\b(is|are) no (?!longer\b|surer\b|more\b)(?<!there is no )(?<!there are no )",
    "belongs to": r"\banother thing\b",
    "judged by eye": r"\bnamed by eye\b",
    "exposure step, step wedge": r"\brun a step wedge\b",
}
"""What is said now, and what was said before: a second word for the same thing, or one that nobody says at a press."""

STILL_SAID = {
    "the makers of 21-step grey scales: 0.15 of density a step, half a stop": "a source, in its own words",
    "Separation": "the heading of a paper printed before, printed again as it was",
    "repeats {code}": "the same",
    "judgement: published advice only says that the screens of one job should be alike (points of new mesh)": "source",
}
"""Texts in which a retired word means something else, each with why."""


def test_a_word_that_was_retired_is_said_nowhere() -> None:
    said = [
        f"{one.where}: say “{now}” in: {one.says}"
        for one in texts()
        for now, before in RETIRED.items()
        if re.search(before, one.says, re.IGNORECASE) and one.says not in STILL_SAID
    ]
    assert said == []


def test_the_texts_are_read_out_of_pages_and_out_of_python() -> None:
    said = {one.says for one in texts()}
    assert {"Nothing was saved.", "Image the screen", "Use it anyway", "{count} remark", "{count} remarks"} <= said


# The page “Words” ----------------------------------------------------------------------------------------------------


def test_the_page_of_words_explains_each_to_whoever_asks(client: FlaskClient) -> None:
    page = html.unescape(client.get("/words").text)  # nobody is signed in
    rows = [row for _, words in WORDS for row in words]
    names = [row.word for row in rows]
    assert len(names) == len(set(names)) > 40
    for word, meaning, _others in rows:
        assert f"<dt><b>{word}</b></dt><dd>{meaning}</dd>" in page
        assert 10 < len(meaning) <= 100, f"{word}: two lines"
    assert 'href="/words"' in client.get("/sign-in").text


@pytest.mark.parametrize("reader", list(i18n.LANGUAGES))
def test_each_word_is_shown_in_the_reader_s_language_beside_the_others(client: FlaskClient, reader: str) -> None:
    """Each with what else people say for it in each language, of which a catalogue may have none."""
    page = html.unescape(client.get("/words", headers={"Accept-Language": reader}).text)
    rows = dict(re.findall(r"<dt><b>([^<]+)</b></dt>(.*?)(?=<dt>|</dl>)", page, re.DOTALL))
    said = {short: i18n._catalogue(short) for short in i18n.LANGUAGES}
    written = {short: catalogue(short) for short in OTHERS}
    more = dict.fromkeys(said, 0)
    for word, meaning, (context, others) in (row for _, words in WORDS for row in words):
        row = rows.pop(said[reader].gettext(word))
        assert f"<dd>{said[reader].gettext(meaning)}</dd>" in row, word
        for short, kept in said.items():
            if short in OTHERS:  # a word may be the same there; it is written down that it is
                there = [written[short].get(*text) for text in ((word,), (meaning,), (others, context))]
                assert all(one is not None and one.string for one in there), (short, word)
            also = kept.pgettext(context, others)
            assert also and (also == word or also == NOTHING or also[-1] == "."), (short, word, also)
            begins = "<dd>" if short == reader else f'<dd lang="{short}">{i18n.LANGUAGES[short]}: <b>'
            if short != reader:
                assert f"{begins}{kept.gettext(word)}</b>" in row, (short, word)
            if also not in (word, NOTHING):
                more[short] += 1
                assert f"{also}</dd>" in row, (short, word)
            assert row.count("<dd lang=") == len(said) - 1 and f"{NOTHING}</dd>" not in row
    assert not rows and min(more.values()) > 10, (rows, more)


def test_words_that_mislead_in_spanish_are_told_of() -> None:
    """Each of them where a reader of the page looks: at the word that it is taken for, or stands for here."""
    words = {row.word: others_in("es", row) for _, group in WORDS for row in group}
    for word, misleads in {
        "register": "Registro", "log": "registro", "exposure unit": "mesa de luz", "print order": "orden",
        "job": "Orden", "platen": "estación", "head": "estación", "ticket": "Ticket", "press": "Prensa",
        "flash": "linterna", "cure": "secar", "mesh": "Lineatura",
    }.items():  # fmt: skip
        assert misleads in words[word], word


def reasons() -> list[str]:
    """The keys of all reasons that any verdict may have."""
    for package in (calculator, domain, queries):
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            import_module(found.name)
    return sorted(verdict._PHRASES)


def test_every_reason_rests_on_a_formula_and_a_source_that_the_page_of_words_has(client: FlaskClient) -> None:
    keys = reasons()
    page = client.get("/words").text
    rows = dict(re.findall(r'<section id="why-([^"]+)">(.*?)</section>', page, re.DOTALL))
    assert len(keys) > 250 and list(rows) == [one.name for one in GROUNDS]
    used = set()
    for key in keys:
        ground = ground_of(key)
        used.add(max((one for one in ground.prefixes if key.startswith(one)), key=len))
        said = html.unescape(rows[ground.name])
        assert ground.formula in said and ground.source in said, key
        assert first_ground([Reason("of-an-earlier-program", Level.OK), Reason(key, Level.STOP)]) == ground.name
    assert used == {prefix for one in GROUNDS for prefix in one.prefixes}, "a prefix that no reason begins with"
    assert len({prefix for one in GROUNDS for prefix in one.prefixes}) == sum(len(one.prefixes) for one in GROUNDS)


def test_what_verdicts_rest_on_leads_to_pages_and_limits_that_are_there(client: FlaskClient, sign_in: SignIn) -> None:
    manager = sign_in(client, "Di Novak")
    limits = manager.get("/spec").text
    page = manager.get("/words").text
    for one in GROUNDS:
        assert not one.decide or all(any(key.startswith(begin) for key, _known in one.limits) for begin in one.decide)
        for key, _known in one.limits:
            assert f'href="/spec#{key}"' in page and f'id="{key}"' in limits, (one.name, key)
        if one.calculation:
            assert f'href="/calculator/{one.calculation}"' in page
            assert manager.get(f"/calculator/{one.calculation}").status_code == 200


@pytest.mark.parametrize("key", ["tension-under-floor", "right-image", "colour-far", "still-drying", "repeat-art"])
def test_a_verdict_links_to_the_row_that_it_rests_on(app: Flask, key: str) -> None:
    with app.test_request_context("/"):
        macros = app.jinja_env.get_template("_fields.html").module
        shown = macros.rests_on(verdict.judge([Reason("no-such", Level.OK), Reason(key, Level.STOP)]))  # type: ignore[attr-defined]
    assert f'href="/words#why-{ground_of(key).name}"' in shown


def test_no_word_is_explained_by_one_that_was_retired() -> None:
    said = " ".join(f"{word}: {meaning}" for _, words in WORDS for word, meaning, _others in words)
    assert [now for now, before in RETIRED.items() if re.search(before, said, re.IGNORECASE)] == []


# How easily they are read --------------------------------------------------------------------------------------------


def test_sentences_are_told_apart_and_counted() -> None:
    assert list(sentences("Coat it. Then dry it: {hours} h at 30.5 °C?")) == [
        "Coat it.",
        "Then dry it: {hours} h at 30.5 °C?",
    ]
    assert [len(words.split()) for words in long_ones([" ".join(["word"] * n) for n in (25, 26)])] == [26]
    assert (
        figures(["The cat sat on the mat."])["ease"]
        > 100
        > figures(["Considerable organisational complexity."])["ease"]
    )
