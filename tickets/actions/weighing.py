"""A weighing of ink on garments is taken in."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlite_utils import Database

from tickets.actions.posting import before, in_one, once
from tickets.calculator import ink as rules
from tickets.calculator.numerals import unsure
from tickets.calculator.units import NotAQuantity, magnitude, quantity
from tickets.domain import step_reading, usual
from tickets.domain.entry import stamp
from tickets.domain.person import Actor
from tickets.domain.posted import Form
from tickets.domain.refusal import Fault, NotAllowed, NotFound, Refused
from tickets.domain.spec import Row, Spec, check_new
from tickets.i18n import gettext as _
from tickets.i18n import ngettext
from tickets.queries import ink as ink_now
from tickets.queries.ink import WEIGH, InkLine
from tickets.queries.shop_rules import the_spec
from tickets.store import jobs
from tickets.store import spec as spec_rows

LEAST_WEIGHED = 3


def _printed_there(db: Database, job: jobs.Saved, placement: int, station: int, kind: str) -> ink_now.InkLine:
    """The ink that is weighed; empty `kind`: whichever is printed there. Raises NotFound."""
    for one in ink_now.needs(db, job):
        if one.placement == placement and one.station == station and kind in ("", one.ink):
            return one
    raise NotFound(_("Nothing is printed there: choose a position that prints."), "station")


def _weighed_for(spec: Spec, line: InkLine) -> dict[str, Any]:
    """What a weighing counts for: its ink on its mesh. A span of counts that was weighed before is weighed again; spans
    of two meshes beside each other do not overlap."""
    if line.count_per_in is None:
        return {"ink": line.ink}
    tolerance = spec.find("mesh-count-tolerance")  # what is one mesh is weighed once
    same = (tolerance.value if tolerance else 0.0) / 100
    over, to = min(line.count_per_in * (1 - same), line.count_per_in - 0.1), line.count_per_in * (1 + same)
    for row in spec.rows:
        when = row.conditions
        if row.key != "ink-transfer" or when.get("ink") != line.ink or "count_to_per_in" not in when:
            continue
        low, high = float(when.get("count_over_per_in", 0)), float(when["count_to_per_in"])
        if low < line.count_per_in <= high:
            return dict(when)
        over, to = (max(over, high), to) if high < line.count_per_in else (over, min(to, low))
    return {"ink": line.ink, "count_over_per_in": round(over, 1), "count_to_per_in": round(to, 1)}


@in_one
def weigh(
    db: Database, actor: Actor, job: jobs.Saved, placement: int, station: int, form: Form, *, post: str, now: datetime
) -> float:
    """Takes in a weighing (fields of WEIGH): the transfer factor of that station's ink on its mesh from now on, as a
    row of the spec. Raises NotAllowed, NotFound, Refused."""
    if not actor.leads:
        raise NotAllowed(_("A press lead or a manager notes what was weighed."))
    content = {"act": "weigh", "job": job.id, "placement": placement, "station": station, **form.sent}
    answer = before(db, actor, post, content)
    if answer is not None:
        return float(answer["factor"])
    typed = form.sent.get("weighed_g", ())
    plain = {**form.sent, "weighed_g": [unsure(one) for one in typed]}
    values, _typed = step_reading.read(WEIGH, plain, ("placement", "station", "ink", "colour"))
    line = _printed_there(db, job, placement, station, form.one("ink"))
    if line.missing or line.film_cm3_m2 is None or line.area_cm2 is None or line.coverage_pct is None:
        names = ", ".join(_(name) for name in line.missing)
        raise Refused(_("There is nothing to compare the weight with yet. Missing: {names}.").format(names=names))
    if len(weighed := values["weighed_g"]) < LEAST_WEIGHED:
        raise Refused(_("Weigh at least {least}: one alone may be off.").format(least=LEAST_WEIGHED), "weighed_g")
    density = values.get("density_g_cm3") or line.density_g_cm3
    if density is None:
        raise Refused(_("The density of this ink is needed, from its data sheet."), "density_g_cm3")
    computed = rules.need(
        quantity(line.area_cm2, "cm2"),
        quantity(line.coverage_pct, "%"),
        quantity(line.film_cm3_m2, "cm3/m2"),
        quantity(density, "g/cm3"),
        strokes=line.strokes,
        pieces=1,
    ).per_print
    try:
        usual.ask_of_weights(weighed, magnitude(computed, "g"), " ".join(typed), the_spec(db))
    except NotAQuantity as fault:
        raise Refused([Fault.of("weighed_g", fault)]) from None
    factor = rules.calibrate([quantity(one, "g") for one in weighed], computed)
    source = ngettext(
        "weighed: {number} print of job {job}, placement {placement}, position {station}: {grams} g",
        "weighed: {number} prints of job {job}, placement {placement}, position {station}: {grams} g",
        len(weighed),
    ).format(
        number=len(weighed),
        job=job.code,
        placement=placement,
        station=station,
        grams=", ".join(f"{one:g}" for one in weighed),
    )

    def act() -> dict[str, float]:
        of = _weighed_for(the_spec(db), line)
        rows = [Row(0, "ink-transfer", round(factor, 4), "", of, source, stamp(now), actor.id)]
        if density != line.density_g_cm3:
            sheet = _("its data sheet, given with a weighing")
            rows.append(Row(0, "ink-density", density, "g/cm3", {"ink": line.ink}, sheet, stamp(now), actor.id))
        for row in rows:
            check_new(the_spec(db), row)
            spec_rows.add(db, row)
        return {"factor": factor}

    return float(once(db, actor, post, content, now, act)["factor"])
