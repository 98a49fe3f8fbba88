"""A bar while long work goes on, on a terminal alone."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from tickets.domain.told import Told


@contextmanager
def shown(label: str) -> Iterator[Told]:
    """What is told how far the work is, and draws a bar for each part of it; nothing where messages go elsewhere."""
    from tickets.domain.told import nobody

    if not sys.stderr.isatty():
        yield nobody
        return
    with ExitStack() as drawn:
        bar: Any = None

        def told(done: int, of: int) -> None:
            nonlocal bar
            if bar is None or done <= bar.pos or of != bar.length:
                drawn.close()
                bar = drawn.enter_context(click.progressbar(length=of, label=label, file=sys.stderr))
            bar.update(done - bar.pos)

        yield told
