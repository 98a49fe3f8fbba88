"""Who may open which page and send which form: a row for each route, asked before the page is.

What hangs on the thing itself is judged where it is done: whose entry is crossed out, which stop is overridden
(`domain.person`). Whoever is named by `--by` at the command line is held to the same (`actions`, `cli.given`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from flask import Flask, current_app, g

from tickets.domain.person import ROLES, role_said
from tickets.domain.refusal import NotAllowed
from tickets.i18n import gettext as _

ANYBODY: tuple[str, ...] = ("anybody",)
"""Whoever reaches the server, signed in or not."""
EVERYBODY = ROLES
LEADS = ("press lead", "manager")
MANAGER = ("manager",)
FRAMES = ("screen room", "manager")
PLACES = ("screen room", "press lead", "manager")

WHO: Mapping[str, tuple[str, ...]] = {
    "static": ANYBODY,
    "people.ping": ANYBODY,
    "people.icon": ANYBODY,
    "people.words": ANYBODY,
    "look.look": EVERYBODY,
    "people.sign_in_form": ANYBODY,
    "people.sign_in": ANYBODY,
    "people.view": ANYBODY,
    "people.first_manager_form": ANYBODY,
    "people.make_first_manager": ANYBODY,
    # -- by a token in the address, which opens that one page alone
    "readers.wall": ANYBODY,
    "readers.calendar": ANYBODY,
    "interface.index": ANYBODY,
    "interface.described": ANYBODY,
    "interface.listed": ANYBODY,  # by a token that opens that part
    "interface.single": ANYBODY,
    "interface.enter": ANYBODY,
    "interface.log": ANYBODY,
    "readers.walls": MANAGER,
    "readers.make": MANAGER,
    "readers.withdraw": MANAGER,
    # -- who holds the phone, and what it is doing
    "people.first": EVERYBODY,
    "people.more": EVERYBODY,
    "people.mine": EVERYBODY,
    "people.choose": EVERYBODY,
    "people.hand_over": EVERYBODY,
    "people.sign_out": EVERYBODY,
    "people.leave_task": EVERYBODY,
    "scan.doing": EVERYBODY,
    "scan.done": EVERYBODY,
    "scan.into_place": EVERYBODY,
    "scan.repeat": EVERYBODY,
    # -- people, settings, limits
    "people.people": MANAGER,
    "people.add_person": MANAGER,
    "people.change_person": MANAGER,
    "people.leave": MANAGER,
    "settings.settings": EVERYBODY,
    "settings.change_setting": MANAGER,
    "settings.change_mail": MANAGER,
    "settings.the_clock": EVERYBODY,
    "settings.say_of_clock": MANAGER,
    "spec.limits": EVERYBODY,
    "spec.limit": EVERYBODY,
    "spec.new_limit": EVERYBODY,
    "spec.add_limit": MANAGER,
    "spec.change_limit": MANAGER,
    "spec.withdraw": MANAGER,
    # -- a scan, screens, places, buckets
    "scan.scan": EVERYBODY,
    "scan.find": EVERYBODY,
    "boards.screen_room": EVERYBODY,
    "boards.pick": EVERYBODY,
    "inventory.inventory": EVERYBODY,
    "inventory.new": EVERYBODY,
    "inventory.add": EVERYBODY,
    "screens.screen": EVERYBODY,
    "screens.log_step": EVERYBODY,  # crossing out: one's own entry of the day, others' by the manager
    "places.every": EVERYBODY,
    "places.place": EVERYBODY,
    "places.log_many": EVERYBODY,
    "places.add": PLACES,
    "places.change": MANAGER,
    "places.use": MANAGER,
    "places.add_unit": MANAGER,
    "buckets.every": EVERYBODY,
    "buckets.bucket": EVERYBODY,
    "buckets.new": EVERYBODY,
    "buckets.mix": EVERYBODY,
    "buckets.log_step": EVERYBODY,
    # -- jobs
    "jobs.listed": EVERYBODY,
    "jobs.job": EVERYBODY,
    "jobs.versions": EVERYBODY,
    "jobs.pick": EVERYBODY,
    "quick.form": LEADS,
    "quick.enter": LEADS,
    "job_form.new": LEADS,
    "job_form.enter": LEADS,
    "job_form.change_form": LEADS,
    "job_form.change": LEADS,
    "jobs.again_form": LEADS,
    "jobs.again": LEADS,
    "jobs.close": LEADS,
    "week.week": EVERYBODY,
    "week.plan_form": LEADS,
    "week.plan": LEADS,
    "learning.job_ink": EVERYBODY,
    "learning.weigh": LEADS,
    # -- at the press
    "runs.press": EVERYBODY,
    "run_list.listed": EVERYBODY,
    "runs.open_run": EVERYBODY,
    "runs.run": EVERYBODY,
    "runs.log": EVERYBODY,  # a stop is overridden by whom `domain.person` says; the next target is a lead's choice
    "runs.here_too": EVERYBODY,
    "runs.comparison": EVERYBODY,
    "runs.sheet": EVERYBODY,
    "pictures.picture": EVERYBODY,
    # -- the desk, its files, the log
    "boards.desk": EVERYBODY,
    "cost.month": MANAGER,
    "cost.job": MANAGER,
    "desk.frames": EVERYBODY,
    "desk.kept": EVERYBODY,
    "desk.limits": EVERYBODY,
    "desk.pool": EVERYBODY,
    "desk.short": EVERYBODY,
    "desk.wrong": EVERYBODY,
    "screen_life.screen_life": EVERYBODY,
    "trace.trace_start": EVERYBODY,
    "trace.trace": EVERYBODY,
    "stocktake.stocktakes": EVERYBODY,
    "stocktake.stocktake": EVERYBODY,
    "stocktake.stocktake_seen": EVERYBODY,
    "stocktake.stocktake_unseen": EVERYBODY,
    "stocktake.stocktake_put_right": EVERYBODY,
    "files.files": EVERYBODY,
    "files.file": EVERYBODY,  # but for those of `Table.office`: the manager
    "log.log": EVERYBODY,  # another person's entries by themselves: the manager (`queries.log_now`)
    "log.file": MANAGER,
    # -- the first day
    "first.start": MANAGER,
    "first.keep": MANAGER,
    "first.steps": MANAGER,
    "first.racks": MANAGER,
    # -- lists brought in: frames, places, people, each by who may enter such one by one (`actions.lists`)
    "bring.start": PLACES,
    "bring.send": PLACES,
    "bring.look": PLACES,
    "bring.choose": PLACES,
    "bring.take": PLACES,
    "bring.left_out": PLACES,
    "bring.template": PLACES,
    "from_paper.screen": EVERYBODY,
    "from_paper.log_screen": EVERYBODY,
    "from_paper.run": EVERYBODY,
    "from_paper.log_run": EVERYBODY,
    # -- paper
    "printing.overview": EVERYBODY,
    "printing.tags_form": EVERYBODY,
    "printing.tags": EVERYBODY,
    "printing.label_form": EVERYBODY,
    "printing.label": EVERYBODY,
    "printing.job_form": EVERYBODY,
    "printing.job": EVERYBODY,
    "printing.jobs_form": EVERYBODY,
    "printing.jobs": EVERYBODY,
    "printing.again": EVERYBODY,
    "printing.every_printer": EVERYBODY,
    "printing.sent": EVERYBODY,
    "repeats.form": EVERYBODY,
    "repeats.make": EVERYBODY,
    # -- what the shop learned, and what can be worked out
    "calculator.every": EVERYBODY,
    "calculator.one": EVERYBODY,
    "calculator.keep_probe": EVERYBODY,
    "learning.units": EVERYBODY,
    "learning.unit": EVERYBODY,
    "learning.change_unit": MANAGER,
    "learning.change_lamp": MANAGER,
    "learning.mesh_lives": EVERYBODY,
}
"""By endpoint. A route without a row is no page: the program does not start with one."""


def known(app: Flask) -> None:
    """Raises RuntimeError for a route that no row is for."""
    missing = sorted({rule.endpoint for rule in app.url_map.iter_rules()} - set(WHO))
    if missing:
        raise RuntimeError(f"web/may.py says of no role whether it may use: {', '.join(missing)}")


BY_TOKEN = frozenset({"interface.enter", "interface.log"})
"""Routes that take a token in a header and nothing else: a sign-in opens none of them, so no page of another site can
use one, and where they are sent from is not asked."""


def who_may(endpoint: str, role: str) -> bool:
    """Whether people of a role may use a route."""
    roles = WHO[endpoint]
    return roles is ANYBODY or role in roles


def may(endpoint: str) -> bool:
    """Whether the person who holds the phone may use a route."""
    return g.person is not None and g.person.role in current_app.config["WHO"][endpoint]


def check(endpoint: str | None, role: str) -> None:
    """Refuses who may not use a route; an address that is not there is everybody's."""
    roles = current_app.config["WHO"].get(endpoint, ()) if endpoint else EVERYBODY
    if roles is not EVERYBODY and roles is not ANYBODY and role not in roles:
        raise refusal(roles)


def refusal(roles: Sequence[str]) -> NotAllowed:
    """What is said to who may not."""
    who = _(" or ").join(role_said(role) for role in roles)
    return NotAllowed(_("Only this role may do that: {roles}.").format(roles=who))
