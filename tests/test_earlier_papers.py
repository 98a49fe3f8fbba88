"""Papers that were printed by earlier versions: kept as data, drawn again they are the same paper, line by line.

`earlier/papers.json` holds what was kept then, and a digest of what was drawn then; neither is made again. (Some
names in it were once changed for invented ones, and those digests with them, by a drawing that matched all before.)
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import zlib
from pathlib import Path
from typing import Any

import pytest

from tickets.domain.papers.ticket import from_dict
from tickets.paper.tags import tags_pdf
from tickets.queries.sheets import draw_again

KEPT = Path(__file__).parent / "earlier" / "papers.json"


def drawn_as(kept: dict[str, Any]) -> str:
    """A digest of what is drawn on the pages of a kept paper: every text, line and code with its place. Taken before it
    is packed, since another build of zlib packs the same page into other bytes."""
    kind, says = kept["kind"], kept["says"]
    again = tags_pdf([from_dict(says)], says["label"]) if "label" in says else draw_again(kind, says, None, "en")
    pages = hashlib.sha256()
    packed = re.findall(rb"stream\r?\n(G[!-u\s]*~>)\s*endstream", again)  # a page; fonts are packed otherwise
    for page in packed:
        pages.update(zlib.decompress(base64.a85decode(page[:-2])))
    assert packed
    return pages.hexdigest()


@pytest.mark.parametrize("kept", json.loads(KEPT.read_text("utf-8")), ids=lambda kept: str(kept["kind"]))
def test_a_paper_printed_by_an_earlier_version_draws_as_it_did(kept: dict[str, Any]) -> None:
    assert drawn_as(kept) == kept["drawn"]
