"""Templates, each compiled once, however many ask for it in the same moment.

Jinja compiles a template that it does not have yet for whoever asks, and the pages of a form take a third of a second.
A server that has just started, and is asked by a dozen threads at once, did that a dozen times, and nobody had a page
for seconds meanwhile.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, MutableMapping
from typing import Any

from jinja2 import BaseLoader, Environment, Template


class Once(BaseLoader):
    """Loads as another loader does, one template at a time."""

    def __init__(self, inner: BaseLoader) -> None:
        self._inner, self._turn = inner, threading.RLock()
        self._made: dict[str, Template] = {}

    def get_source(self, environment: Environment, template: str) -> tuple[str, str | None, Callable[[], bool] | None]:
        """As the other one."""
        return self._inner.get_source(environment, template)

    def list_templates(self) -> list[str]:
        """As the other one."""
        return self._inner.list_templates()

    def load(self, environment: Environment, name: str, globals: MutableMapping[str, Any] | None = None) -> Template:
        """The template; the one that somebody else had compiled meanwhile, as long as its file is as it was."""
        with self._turn:
            made = self._made.get(name)
            if made is None or not made.is_up_to_date:
                made = self._made[name] = self._inner.load(environment, name, globals)
            return made
