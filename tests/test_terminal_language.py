"""A command speaks the language of the terminal until a shop is opened, then the shop's; English where none is set."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import pytest
import shop as shops
from click.testing import CliRunner, Result
from sqlite_utils import Database

from tickets import cli, i18n
from tickets.cli.spoken import CLICKS
from tickets.store.settings import save_setting

UNSET = {"LANGUAGE": None, "LC_ALL": None, "LC_MESSAGES": None, "LANG": None}


@pytest.fixture(autouse=True)
def afterwards() -> Iterator[None]:
    yield
    CliRunner().invoke(cli.root, ["--version"], env=UNSET)


def typed(folder: Path, *arguments: str, **environment: str) -> Result:
    given = {**UNSET, "TICKETS_DATA": str(folder), **environment}
    return CliRunner().invoke(cli.root, list(arguments), env=given, catch_exceptions=False)


@pytest.mark.parametrize(
    ("environment", "language"),
    [
        ({}, "en"), ({"LANG": "es_MX.UTF-8"}, "es"), ({"LANG": "es"}, "es"), ({"LANG": "C.UTF-8"}, "en"),
        ({"LANG": "es_MX.UTF-8", "LC_ALL": "en_US.UTF-8"}, "en"), ({"LC_ALL": "es_ES@euro", "LANG": "en"}, "es"),
        ({"LANGUAGE": "es:en", "LANG": "en_US.UTF-8"}, "es"), ({"LANGUAGE": "pl:es"}, "es"), ({"LANG": "pl_PL"}, "en"),
        ({"LANGUAGE": "en:es"}, "en"), ({"LC_ALL": "", "LANG": "es_AR"}, "es"),
        ({"LC_ALL": "POSIX", "LANG": "es"}, "en"),
    ],
)  # fmt: skip
def test_which_language_a_terminal_asks_for(environment: dict[str, str], language: str) -> None:
    assert i18n.of_terminal(environment) == language


def test_help_is_said_in_the_terminal_s_language_and_in_nothing_else(tmp_path: Path) -> None:
    spanish = typed(tmp_path, "person", "add", "--help", LANG="es_MX.UTF-8").output
    assert "Uso:" in spanish and "Opciones:" in spanish and "Muestra este mensaje" in spanish
    for english in ("Usage", "Options", "Show this", "required"):
        assert english not in spanish
    english = typed(tmp_path, "person", "add", "--help").output
    assert "Usage:" in english and "Options:" in english and "Show this message" in english
    assert "Uso:" not in english and "Opciones" not in english


def every_command(group: click.Group, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    context = click.Context(group)
    for name in group.list_commands(context):
        one = group.get_command(context, name)
        yield (*path, name)
        if isinstance(one, click.Group):
            yield from every_command(one, (*path, name))


def test_no_command_s_help_says_anything_of_the_english_one(tmp_path: Path) -> None:
    """Line by line: what is the same in both are options, names and examples."""
    same = {}
    for command in every_command(cli.root):
        both = [typed(tmp_path, *command, "--help", LANG=one).output for one in ("", "es_MX.UTF-8")]
        lines = [{line.strip() for line in text.splitlines() if len(line.split()) > 4} for text in both]
        if found := lines[0] & lines[1]:
            same[command] = found
    assert not same, same


def test_what_is_refused_before_a_shop_is_opened_is_said_in_the_terminal_s_language(tmp_path: Path) -> None:
    for arguments, said in (
        (["nosuch"], "No existe el comando"),
        (["person", "add"], "Falta el argumento"),
        (["screen", "list", "--nosuch"], "No existe la opción"),
        (["screen", "list"], "No hay taller en"),
    ):
        assert said in typed(tmp_path, *arguments, LC_ALL="es_ES.UTF-8").output
        assert said not in typed(tmp_path, *arguments).output


@pytest.mark.parametrize(("shops_own", "terminal"), [("es", "en_US.UTF-8"), ("en", "es_MX.UTF-8")])
def test_an_opened_shop_speaks_its_own(db: Database, folder: Path, shops_own: str, terminal: str) -> None:
    save_setting(db, "language", shops_own, "2026-01-05T08:00:00Z", 1)
    said = typed(folder, "person", "list", LANG=terminal).output
    assert ("cuarto de pantallas" in said) == (shops_own == "es")
    assert ("screen room" in said) == (shops_own == "en")


def test_a_command_without_a_terminal_s_language_is_english_whatever_went_before(tmp_path: Path) -> None:
    typed(tmp_path, "--help", LANG="es")
    assert "Usage:" in typed(tmp_path, "--help").output
    with shops.pages(shops.staffed(tmp_path / "shop")) as app:
        assert '<html lang="en"' in shops.phone_of(app).get("/sign-in").text


def test_what_click_says_is_in_every_catalogue() -> None:
    texts = [one if isinstance(one, str) else one[0] for one in CLICKS]
    assert len(texts) == len(set(texts)) > 30
