"""A mail handed to the shop's mail server, in bounded time, and what kept it from being taken, in words."""

from __future__ import annotations

import smtplib
import socket
import ssl
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime, make_msgid
from typing import Any

from tickets.domain.refusal import Refused
from tickets.i18n import gettext as _

ANSWER_S = 15.0
"""Seconds in which a server is to answer each line (RFC 5321 asks for minutes: that is for mail that queues)."""
WHOLE_S = 60.0
"""Seconds that the whole may take, also where a server answers a letter at a time."""


@dataclass(frozen=True, slots=True)
class MailBox:
    """The shop's server and addresses, as set, and the secret for its user (empty: none is kept for these two)."""

    server: str
    port: int
    secured: str
    user: str
    secret: str = field(repr=False)
    sender: str
    receivers: tuple[str, ...]


class NotSent(Exception):
    """The mail was not taken, in words. `doubt`: all of it was handed over, and no answer came: it may have arrived."""

    def __init__(self, message: str, doubt: bool = False) -> None:
        self.doubt = doubt
        super().__init__(message)


def message_of(box: MailBox, shop: str, subject: str, text: str, at: Any) -> EmailMessage:
    """A plain mail. Header values are one line each: what would break one is refused by the library too."""
    found = EmailMessage(SMTP)
    found["From"] = Address(_one_line(shop), addr_spec=box.sender)
    found["To"] = ", ".join(box.receivers)
    found["Subject"] = _one_line(subject)
    found["Date"] = format_datetime(at)
    found["Message-ID"] = make_msgid(domain=box.sender.rpartition("@")[2])  # no name of this machine goes out
    found["Auto-Submitted"] = "auto-generated"  # RFC 3834: no holiday note comes back
    found.set_content(text)
    return found


def _one_line(text: str) -> str:
    return " ".join("".join(one if one.isprintable() else " " for one in text).split())


def check(box: MailBox) -> None:
    """Raises Refused where what is set cannot do."""
    if not box.server or not box.receivers:
        raise Refused(_("No mail is set up: give a server and an address in the settings."))
    if not box.sender:
        raise Refused(_("Give the address that the mail comes from."), "mail_from")
    if box.user and box.secured == "none":
        raise Refused(_("A password goes over a secured connection only: choose TLS or STARTTLS."), "mail_secured")
    if box.user and not box.secret:
        raise Refused(_("Type the password of {user} for {server}.").format(user=box.user, server=box.server),
                      "mail_secret")  # fmt: skip


def hand_over(box: MailBox, message: EmailMessage, begun: Callable[[], None]) -> dict[str, str]:
    """Hands a mail to the server; who was not taken among its receivers, each with why. `begun` is called before the
    first byte of it goes out: from there on it may have arrived. Raises NotSent."""
    came: list[dict[str, str] | NotSent] = []
    out, given_up = threading.Event(), threading.Event()

    def noted() -> None:
        if given_up.is_set():  # it was said not to be sent
            raise TimeoutError
        out.set()
        begun()

    def talk() -> None:
        try:
            came.append(_talk(box, message, noted))
        except NotSent as failed:
            came.append(failed)
        except Exception as error:
            came.append(NotSent(_why(box, error), out.is_set() and _unanswered(error)))

    thread = threading.Thread(target=talk, name="mail", daemon=True)  # finding a name has no bound of its own
    thread.start()
    thread.join(WHOLE_S)
    if not came:
        given_up.set()
        told = _("{server} took longer than {seconds} s.")
        raise NotSent(told.format(server=box.server, seconds=round(WHOLE_S)), out.is_set())
    if isinstance(came[0], NotSent):
        raise came[0]
    return came[0]


def _unanswered(error: Exception) -> bool:
    return not isinstance(error, smtplib.SMTPResponseException | smtplib.SMTPRecipientsRefused)


def _talk(box: MailBox, message: EmailMessage, begun: Callable[[], None]) -> dict[str, str]:
    host = box.sender.rpartition("@")[2]
    trust = ssl.create_default_context()
    settings: dict[str, Any] = {"local_hostname": host, "timeout": ANSWER_S}
    line: smtplib.SMTP
    if box.secured == "tls":
        line = _Secured(box.server, box.port, context=trust, **settings)
    else:
        line = _Plain(box.server, box.port, **settings)
    line.begun = begun
    try:
        if box.secured == "starttls":
            line.starttls(context=trust)
        if box.user:
            line.login(box.user, box.secret)
        refused: Mapping[str, tuple[int, bytes]] = line.send_message(message, box.sender, list(box.receivers))
        return {address: _answer(*told) for address, told in refused.items()}
    finally:
        line.close()  # not `quit`: it is taken, whatever a server says to a farewell


class _Plain(smtplib.SMTP):
    begun: Callable[[], None]

    def data(self, msg: Any) -> tuple[int, bytes]:
        self.begun()
        return super().data(msg)


class _Secured(smtplib.SMTP_SSL):
    begun: Callable[[], None]

    def data(self, msg: Any) -> tuple[int, bytes]:
        self.begun()
        return super().data(msg)


def _answer(code: int, text: bytes | str) -> str:
    said = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
    return f"{code} {_one_line(said)[:200]}".strip()


def _why(box: MailBox, error: Exception) -> str:
    """What went wrong, and where it can be mended."""
    server, port = box.server, box.port
    match error:
        case socket.gaierror():
            return _("No server is found by the name {server}: is it written right, and is there a network?").format(
                server=server
            )
        case ssl.SSLCertVerificationError():
            told = _("The certificate of {server} is not to be trusted ({why}): nothing was sent to it.")
            return told.format(server=server, why=error.verify_message)
        case ssl.SSLError():
            return _("{server} speaks no TLS at port {port}: try STARTTLS, or another port.").format(
                server=server, port=port
            )
        case TimeoutError():
            return _("{server} did not answer at port {port}.").format(server=server, port=port)
        case smtplib.SMTPAuthenticationError():
            told = _("{server} refused the user or the password ({code}).")
            return told.format(server=server, code=error.smtp_code)
        case smtplib.SMTPNotSupportedError():
            return _("{server} does not offer what is set: choose another way to secure it, or no user.").format(
                server=server
            )
        case smtplib.SMTPRecipientsRefused():
            whom = ", ".join(f"{address} ({_answer(*said)})" for address, said in error.recipients.items())
            return _("{server} takes no mail for {addresses}.").format(server=server, addresses=whom)
        case smtplib.SMTPServerDisconnected():
            return _("{server} ended the connection, or did not answer in time.").format(server=server)
        case smtplib.SMTPResponseException():
            answer = _answer(error.smtp_code, error.smtp_error)
            return _("{server} said: {answer}").format(server=server, answer=answer)
        case OSError():
            told = _("{server} cannot be reached at port {port} ({why}).")
            return told.format(server=server, port=port, why=error.strerror or str(error))
    return _("{server} said: {answer}").format(server=server, answer=_one_line(str(error))[:200])
