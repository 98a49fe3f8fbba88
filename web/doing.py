"""What a phone is doing, as its band says it."""

from __future__ import annotations

from typing import Any

from tickets.domain.steps import SCREEN_STEPS
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from web.support import one_of, set_doing


def counted(task: dict[str, Any]) -> None:
    """One more screen is done."""
    set_doing(with_text({**task, "count": int(task.get("count", 0)) + 1}))


def with_text(task: dict[str, Any]) -> dict[str, Any]:
    """The task with what the band says of it, and its way out."""
    place = task.get("name") or one_of(task.get("values", {}), "place")
    if task["step"] == "rack" and place:
        said = _("Every scan: put in {place}") if task.get("kind") == "cabinet" else _("Every scan: put on {place}")
        what = said.format(place=place)
    else:
        done, values = _(SCREEN_STEPS[task["step"]].done), task.get("said", "")
        what = _("Every scan: {done}").format(done=f"{done}, {values}" if values else done)
    number = ngettext("{n} screen so far", "{n} screens so far", task["count"]).format(n=task["count"])
    return {**task, "text": _("{what} · {number}").format(what=what, number=number), "out": "/doing/leave"}
