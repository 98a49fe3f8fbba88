"""Job files: TOML with the art beside it, read one or several at once, and written."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from tickets.domain.jobs.job_reading import read
from tickets.domain.jobs.job_sheet import Job
from tickets.domain.jobs.table import Written, plain_text
from tickets.domain.refusal import Fault, Refused
from tickets.domain.separation import folded
from tickets.domain.spec import Spec
from tickets.i18n import gettext as _

LARGEST_FILE = 1_000_000
LARGEST_PICTURE = 20_000_000


# Reading


def read_file(path: Path | str, limits: Spec | None = None) -> Job:
    """The job in a TOML file (UTF-8), its picture beside it; `limits` as in `read`. Raises Refused with all that is
    wrong."""
    path = Path(path)
    data = _toml_of(path)
    faults: list[Fault] = []
    job = None
    try:
        job = read(data, path.name, limits=limits)
    except Refused as refused:
        faults += refused.faults
    art = data.get("art")
    picture = art.get("picture") if isinstance(art, Mapping) else None
    if isinstance(picture, str) and picture.strip() and not any("art.picture" in fault.where for fault in faults):
        message = _picture_fault(path.parent / picture.strip())
        if message:
            faults.append(Fault(f"{path.name}: art.picture", message))
    if job is None or faults:
        raise Refused(faults)
    return job


def _toml_of(path: Path) -> dict[str, Any]:
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise Refused(_("There is no such file."), path.name) from None
    except OSError as problem:
        raise Refused(
            _("This cannot be read: {problem}.").format(problem=problem.strerror or str(problem)), path.name
        ) from None
    return toml_data(toml_text(raw, path.name), path.name)


def toml_text(raw: bytes, where: str) -> str:
    """The text of a job file's bytes (UTF-8, at most `LARGEST_FILE`). Raises Refused, at `where`."""
    if len(raw) > LARGEST_FILE:
        raise Refused(_("This is too large for a job: at most 1 MB."), where)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw.count(b"\n", 0, problem.start) + 1
        raise Refused(_("This is not UTF-8 text (line {line}): save it as UTF-8.").format(line=line), where) from None


def toml_data(text: str, where: str) -> dict[str, Any]:
    """The data in a job file's text. Raises Refused, at `where`, with line and column."""
    text = text.replace("\r\n", "\n")
    try:
        return tomllib.loads(text, parse_float=Written)
    except (ValueError, RecursionError) as problem:  # ValueError: a fault of TOML, or a number of thousands of digits
        found = re.search(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", str(problem), re.DOTALL)
        line_text, column = (found[2], found[3]) if found else (None, None)
        if line_text is None:  # at its end
            last = text.rstrip().rsplit("\n", 1)[-1]
            line_text, column = str(text.rstrip().count("\n") + 1), str(len(last) + 1)
        raise Refused(
            _("Line {line}, column {column} is not TOML: {problem}.").format(
                line=line_text, column=column, problem=found[1] if found else str(problem)
            ),
            where,
        ) from None


def is_picture(head: bytes) -> bool:
    """Whether a file that begins so is a PNG or a JPEG: the one place that says which pictures are taken."""
    return head.startswith((b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"))


def _picture_fault(path: Path) -> str:
    try:
        with path.open("rb") as file:
            head = file.read(8)
        size = path.stat().st_size
    except OSError:
        return _("There is no such picture beside the job file.")
    if not is_picture(head):
        return _("This picture is neither PNG nor JPEG: save it as one of them.")
    return _("This picture is too large: at most 20 MB.") if size > LARGEST_PICTURE else ""


def read_files(paths: Iterable[Path | str], limits: Spec | None = None) -> list[Job]:
    """The jobs of several files, in the order given: all, or Refused with the faults of all of them; `limits` as in
    `read`."""
    jobs: list[tuple[Path, Job]] = []
    faults: list[Fault] = []
    for path in map(Path, paths):
        try:
            jobs.append((path, read_file(path, limits)))
        except Refused as refused:
            faults += refused.faults
    seen: dict[tuple[str, str], Path] = {}
    for path, job in jobs:
        if not job.reference:
            continue
        first = seen.setdefault((folded(job.customer), folded(job.reference)), path)
        if first is not path:
            faults.append(
                Fault(
                    f"{path.name}: reference",
                    _("{file} has this customer's number too: give each job its own.").format(file=first.name),
                )
            )
    if not faults:
        for place, (path, _job) in enumerate(jobs):
            if _in_a_ring(place, [each for _path, each in jobs]):
                faults.append(
                    Fault(f"{path.name}: repeats", _("These jobs are reorders of one another: one must be the first."))
                )
    if faults:
        raise Refused(faults)
    return [job for _path, job in jobs]


def repeated(place: int, jobs: Sequence[Job]) -> int | None:
    """The place of the job that the one at `place` names in `repeats` by its reference; its own customer's goes first.
    None: it names none of these."""
    job = jobs[place]
    if not job.repeats:
        return None
    named = [at for at, other in enumerate(jobs) if at != place and folded(other.reference) == folded(job.repeats)]
    own = [at for at in named if folded(jobs[at].customer) == folded(job.customer)]
    return next(iter(own or named), None)


def origins_first(jobs: Sequence[Job]) -> list[int]:
    """The places of the jobs so that each comes after the one it repeats, else in the order given."""
    placed: list[int] = []

    def put(place: int) -> None:
        if place in placed:
            return
        origin = repeated(place, jobs)
        if origin is not None and not _in_a_ring(place, jobs):
            put(origin)
        placed.append(place)

    for place in range(len(jobs)):
        put(place)
    return placed


def _in_a_ring(place: int, jobs: Sequence[Job]) -> bool:
    passed = [place]
    origin = repeated(place, jobs)
    while origin is not None:
        if origin in passed:
            return True
        passed.append(origin)
        origin = repeated(origin, jobs)
    return False


# Writing

_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def _toml_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return plain_text(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_toml_key(key)} = {_toml_value(item)}" for key, item in value.items()) + " }"
    return '"' + "".join(_ESCAPES.get(character, character) for character in str(value)) + '"'


def _toml_key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _toml_value(key)


def _toml_lines(table: Mapping[str, Any], skip: Iterable[str] = ()) -> list[str]:
    return [f"{_toml_key(key)} = {_toml_value(value)}" for key, value in table.items() if key not in skip]


def to_toml(job: Job) -> str:
    """The job as the text of a job file that a person can edit; `read_file` gives the same job again."""
    data = job.to_dict()
    lines = _toml_lines(data | {"due": job.due}, ("art", "garment", "placement", "colourway"))
    lines += ["", "[art]", *_toml_lines(data["art"])]
    for garment in data["garment"]:
        lines += ["", "[[garment]]", *_toml_lines(garment)]
    for placement in data["placement"]:
        lines += ["", "[[placement]]", *_toml_lines(placement, ("station", "dryer"))]
        for station in placement["station"]:
            lines += ["", "[[placement.station]]", *_toml_lines(station)]
        if "dryer" in placement:
            lines += ["", "[placement.dryer]", *_toml_lines(placement["dryer"])]
    for colourway in data.get("colourway", ()):
        lines += ["", "[[colourway]]", *_toml_lines(colourway)]
    return "\n".join(lines) + "\n"
