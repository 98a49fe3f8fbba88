"""`tickets mail`: the daily mail, shown or sent."""

from __future__ import annotations

from tickets.cli import root
from tickets.cli.given import Call
from tickets.cli.options import BY, option
from tickets.cli.person import asked_secret
from tickets.cli.refused import Stopped
from tickets.cli.reply import Reply, command
from tickets.i18n import N_
from tickets.i18n import gettext as _


@command(
    root,
    "mail",
    N_("Shows the daily mail as it would be sent now; serving sends it by itself where a server is set."),
    option("--send", is_flag=True, help=N_("Send it now.")),
    option("--when-due", is_flag=True, help=N_("Send it only when it is due by the settings and was not sent today.")),
    option("--secret", is_flag=True, help=N_("Ask for the password of the user at the mail server, and keep it.")),
    option("--secret-stdin", is_flag=True, help=N_("Read that password from standard input; empty: forget it.")),
    BY,
)
def mail(call: Call, send: bool, when_due: bool, secret: bool, secret_stdin: bool) -> Reply | None:
    from dataclasses import asdict

    from tickets.actions import mail as acts

    db = call.shop()
    manager = call.manager(_("The manager sets up the mail, and sends it."))
    if secret or secret_stdin:
        typed = asked_secret(_("Password at the mail server"), secret_stdin, _("It is kept beside the records."))
        acts.keep_secret(db, manager, typed, now=call.now)
        told = _("The password is kept.") if typed else _("The password is forgotten.")
        return Reply({"secret_kept": acts.has_secret(db)}, [told])
    if send or when_due:
        state = acts.send(db, call.now, when_due=when_due)
        if state is None:
            return None
        data, fault = asdict(state), acts.wrong(db, call.now)
        if not state.sent_at or state.error or state.begun:
            raise Stopped([fault], beside=data)
        return Reply(data, [acts.standing(db, call.now)], findings=[fault] if fault else [])
    found, box = acts.composed(db, call.now), acts.box_of(db)
    receivers = ", ".join(box.receivers)
    lines = [
        _("From: {address}").format(address=box.sender or "–"),
        _("To: {addresses}").format(addresses=receivers or "–"),
        _("Subject: {subject}").format(subject=found.subject),
        "",
        *found.text.splitlines(),
    ]
    data = {"from": box.sender, "to": list(box.receivers), "subject": found.subject, "text": found.text}
    return Reply(data, lines, [acts.standing(db, call.now)])
