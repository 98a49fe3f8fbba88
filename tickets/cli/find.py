"""`tickets find`: everything that goes by some words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from tickets.cli import root
from tickets.cli.given import Call
from tickets.cli.options import BY, option
from tickets.cli.output import table
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _

if TYPE_CHECKING:
    from tickets.queries.search import FoundByWords

KINDS = ("screen", "job", "customer", "separation", "place", "bucket", "lot", "person")
"""As `queries.search.KIND_WORDS`, which is not loaded for the help."""


@command(
    root,
    "find",
    N_("Finds screens, jobs, customers, images, places, buckets, lots and people by code, mark or words."),
    option("--kind", type=click.Choice(KINDS), help=N_("Only these, and more of them.")),
    BY,
)
@click.argument("words", nargs=-1, required=True)
def find(call: Call, words: tuple[str, ...], kind: str | None) -> Reply:
    from tickets.queries import search
    from tickets.queries.said import Reader

    db = call.shop()
    found = search.search(Reader.of(db, call.now), call.actor, " ".join(words)[:200], kind or "")
    data = [{**hit.to_dict(), "instead": found.instead or None} for group in found.groups for hit in group.hits]
    return Reply(data, _lines(found))


def _lines(found: FoundByWords) -> Iterator[str]:
    from tickets.queries.search import KIND_WORDS

    if not found.groups:
        yield _("Nothing found.")
    if found.instead:
        yield _("Nothing goes by these words. Found instead: {words}.").format(words=found.instead)
    for group in found.groups:
        yield _(KIND_WORDS[group.kind])
        rows = [[hit.key, "" if hit.name == hit.key else hit.name, hit.about] for hit in group.hits]
        yield from (f"  {line}" for line in table(rows))
        if group.more:
            yield "  " + _("There are more: add a word.")
