"""The Internet Printing Protocol, as far as a sheet of paper needs it: what a printer is asked, and a PDF handed to it.

RFC 8010 says how a request is written (over HTTP), RFC 8011 what it means. Every answer is waited for a bounded time
and read to a bounded length; nothing is asked while something is written into the shop.
"""

from __future__ import annotations

import http.client
import socket
import struct
import time
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from tickets.domain.printer import LOCAL, Target
from tickets.i18n import N_
from tickets.i18n import gettext as _

PRINT_JOB, GET_JOB, GET_PRINTER, GET_QUEUES = 0x0002, 0x0009, 0x000B, 0x4002
"""Operations: RFC 8011, 5.4.15; the last is of CUPS, which lists its queues by it."""
_OPERATION, _JOB, _END = 0x01, 0x02, 0x03
_INTEGER, _BOOLEAN, _ENUM, _NAME, _KEYWORD, _URI, _CHARSET, _LANGUAGE, _MIME = (
    0x21, 0x22, 0x23, 0x42, 0x44, 0x45, 0x47, 0x48, 0x49,
)  # fmt: skip
_BEGIN, _ENDS, _MEMBER = 0x34, 0x37, 0x4A
"""Of a collection (RFC 8010, 3.1.6): read over, none is needed."""
BUSY = 0x0507
_NOT_FOUND, _NO_SUCH_FORMAT, _ACCEPTS_NONE, _MAY_NOT = 0x0406, 0x040A, 0x0506, (0x0401, 0x0402, 0x0403)
MOST_ANSWER = 4_000_000
"""Bytes of an answer that are read."""
ANSWER_S = 5.0
"""Seconds for an answer to a question (judgement: a printer that sleeps takes two or three)."""
CONNECT_S = 4.0
"""Seconds for a machine of the shop's own network to answer at all (judgement)."""

Attributes = Mapping[str, Sequence[Any]]
Asked = Sequence[tuple[int, str, Sequence[Any]]]
"""Attributes to be sent: the tag of their values, name, values."""

FAULTS: Mapping[str, str] = {
    "unreachable": N_("Nothing answers at {where}: is it on, and in the network?"),
    "unknown": N_("No machine is called {where}."),
    "slow": N_("{where} did not answer in {seconds} s: is it on, does another job hold it?"),
    "no-printer": N_("What answers at {where} is not a printer (HTTP {status}): look at its address."),
    "password": N_("{where} asks for a password: let the shop’s computer print without one."),
    "queue": N_("The print system has no printer at {where}: look at its name."),
    "format": N_(
        "It takes no PDF, only {formats}: add it to the print system of the shop’s computer, and name its queue here."
    ),
    "none-taken": N_("It takes no jobs now: let it accept jobs again in the print system."),
    "busy": N_("It was busy all the time."),
    "refused": N_("It refused: {message}."),
    "broken": N_("Something broke while it was handed over; the server’s own lines say what."),
}
"""Why nothing was printed, and what to do."""


class PrinterFault(Exception):
    """What came in the way at a printer. `certain`: it has nothing of the job; else it may have. In no language:
    whoever reads it has one."""

    def __init__(self, key: str, certain: bool = True, **about: str) -> None:
        self.key, self.certain, self.about = key, certain, about
        super().__init__(key)

    @property
    def said(self) -> str:
        """In words, in the language of whoever reads it."""
        return _(FAULTS[self.key]).format(**self.about)


# How a request is written, and an answer read (RFC 8010, 3) ---------------------------------------------------------


def request(operation: int, target: Target, asked: Asked = (), job: Asked = (), uri: bool = True) -> bytes:
    """A request without its document. `asked`: its operation attributes, `job`: those of the job."""
    first: list[tuple[int, str, Sequence[Any]]] = [
        (_CHARSET, "attributes-charset", ["utf-8"]),
        (_LANGUAGE, "attributes-natural-language", ["en"]),
    ]
    if uri:
        first.append((_URI, "printer-uri", [target.uri]))
    written = struct.pack(">BBHIB", 1, 1, operation, 1, _OPERATION) + b"".join(_written([*first, *asked]))
    if job:
        written += bytes([_JOB]) + b"".join(_written(job))
    return written + bytes([_END])


def _written(attributes: Asked) -> Iterator[bytes]:
    for tag, name, values in attributes:
        for number, value in enumerate(values):
            key = b"" if number else name.encode()
            body = struct.pack(">i", value) if tag in (_INTEGER, _ENUM) else str(value).encode()
            yield struct.pack(">BH", tag, len(key)) + key + struct.pack(">H", len(body)) + body


def answer(body: bytes) -> tuple[int, list[tuple[int, dict[str, list[Any]]]]]:
    """The status of an answer, and its groups: each with its tag. Raises ValueError for what is none."""
    if len(body) < 8:
        raise ValueError("too short")
    groups: list[tuple[int, dict[str, list[Any]]]] = []
    status, at, name, deep = struct.unpack(">H", body[2:4])[0], 8, "", 0
    while at < len(body) and body[at] != _END:
        tag, at = body[at], at + 1
        if tag < 0x10:
            groups.append((tag, {}))
            continue
        key, at = _piece(body, at)
        value, at = _piece(body, at)
        deep += (tag == _BEGIN) - (tag == _ENDS)
        if deep or tag in (_ENDS, _MEMBER):
            continue
        name = key.decode("utf-8", "replace") or name
        if not groups:
            raise ValueError("a value outside of every group")
        groups[-1][1].setdefault(name, []).append(_value(tag, value))
    return status, groups


def _piece(body: bytes, at: int) -> tuple[bytes, int]:
    if at + 2 > len(body):
        raise ValueError("cut off")
    end = at + 2 + struct.unpack(">H", body[at : at + 2])[0]
    if end > len(body):
        raise ValueError("cut off")
    return body[at + 2 : end], end


def _value(tag: int, value: bytes) -> Any:
    if tag in (_INTEGER, _ENUM) and len(value) == 4:
        return struct.unpack(">i", value)[0]
    if tag == _BOOLEAN:
        return value == b"\x01"
    return value.decode("utf-8", "replace")


# One question and its answer ----------------------------------------------------------------------------------------


def ask(
    target: Target,
    operation: int,
    asked: Asked = (),
    job: Asked = (),
    document: bytes = b"",
    seconds: float | None = None,
) -> list[Attributes]:
    """The groups of an answer behind the first. Raises PrinterFault."""
    where = f"{target.host}:{target.port}"
    body = request(operation, target, asked, job, uri=operation != GET_QUEUES) + document
    try:
        status, groups = answer(_posted(target, body, seconds or ANSWER_S, certain=not document))
    except ValueError:
        raise PrinterFault("no-printer", not document, where=where, status="200") from None
    if status < 0x0100:
        return [group for _tag, group in groups[1:]]
    told = str(next(iter(groups[0][1].get("status-message", ())), "")) if groups else ""
    raise _refused(status, told, where if operation == GET_QUEUES else target.uri)


def _refused(status: int, told: str, where: str) -> PrinterFault:
    keys = {_NOT_FOUND: "queue", _ACCEPTS_NONE: "none-taken", BUSY: "busy", **dict.fromkeys(_MAY_NOT, "password")}
    if status == _NO_SUCH_FORMAT:
        return PrinterFault("format", formats=told or "?")
    if status in keys:
        return PrinterFault(keys[status], where=where)
    return PrinterFault("refused", message=f"0x{status:04x} {told[:200]}".strip())


def _posted(target: Target, body: bytes, seconds: float, certain: bool) -> bytes:
    """What answers to a body that was posted. `certain`: an answer that does not come leaves nothing in doubt."""
    where, until = f"{target.host}:{target.port}", time.monotonic() + seconds
    link = http.client.HTTPConnection(target.host, target.port, timeout=min(seconds, CONNECT_S))
    try:
        link.connect()
        link.sock.settimeout(seconds)
    except socket.gaierror:
        raise PrinterFault("unknown", where=target.host) from None
    except OSError:  # an answer that does not come in time among them
        raise PrinterFault("unreachable", where=where) from None
    try:
        link.request("POST", target.path, body, {"Content-Type": "application/ipp"})
        came = link.getresponse()
        if came.status != http.client.OK:
            key = "password" if came.status in (http.client.UNAUTHORIZED, http.client.FORBIDDEN) else "no-printer"
            raise PrinterFault(key, where=where, status=str(came.status))
        read = b""
        while part := came.read1(65_536):
            read += part
            if time.monotonic() > until or len(read) > MOST_ANSWER:
                raise PrinterFault("slow", certain, where=where, seconds=f"{seconds:g}")
        return read
    except TimeoutError:
        raise PrinterFault("slow", certain, where=where, seconds=f"{seconds:g}") from None
    except (OSError, http.client.HTTPException):
        raise PrinterFault("no-printer", certain, where=where, status="–") from None
    finally:
        link.close()


_ABOUT = ("printer-state", "printer-state-reasons", "printer-is-accepting-jobs", "document-format-supported",
          "media-supported", "print-scaling-supported", "sides-supported", "printer-info")  # fmt: skip


def printer(target: Target) -> Attributes:
    """What a printer says of itself. Raises PrinterFault."""
    groups = ask(target, GET_PRINTER, [(_KEYWORD, "requested-attributes", _ABOUT)])
    return groups[0] if groups else {}


def queues() -> list[str]:
    """The queues of this machine's print system, by name. Raises PrinterFault: none answers."""
    try:
        wanted = [(_KEYWORD, "requested-attributes", ["printer-name"])]
        groups = ask(Target(*LOCAL, "/"), GET_QUEUES, wanted, seconds=2.0)
    except PrinterFault as fault:
        if fault.key == "queue":  # a print system without any answers so
            return []
        raise
    return sorted({str(name) for group in groups for name in group.get("printer-name", ())})


def print_pdf(target: Target, pdf: bytes, title: str, who: str, how: Mapping[str, str], seconds: float) -> Attributes:
    """Hands a PDF over: what the print system says of the job that it made (job-id, job-state, job-state-reasons).
    `how`: keywords such as media and sides. Raises PrinterFault."""
    asked = [
        (_NAME, "requesting-user-name", [who[:60]]),
        (_NAME, "job-name", [title[:60]]),
        (_MIME, "document-format", ["application/pdf"]),
    ]
    job = [(_KEYWORD, name, [value]) for name, value in how.items()]
    groups = ask(target, PRINT_JOB, asked, job, pdf, seconds)
    return groups[0] if groups else {}


def job(target: Target, number: int) -> Attributes:
    """How a job is now. Raises PrinterFault."""
    wanted = ["job-state", "job-state-reasons"]
    groups = ask(target, GET_JOB, [(_INTEGER, "job-id", [number]), (_KEYWORD, "requested-attributes", wanted)])
    return groups[0] if groups else {}
