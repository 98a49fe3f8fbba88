"""A job: its sheet, how it is read, its files. The rest of the program takes all of it from here.

`read` takes the plain data of a job (a parsed TOML file, or what a form built) and gives a Job, or says all that is
wrong with it together, each fault with its place. `Job.to_dict` gives such data back: reading it again is the same job.
"""

from __future__ import annotations

from tickets.domain.jobs.job_file import (
    LARGEST_FILE,
    LARGEST_PICTURE,
    origins_first,
    read_file,
    read_files,
    repeated,
    to_toml,
    toml_data,
    toml_text,
)
from tickets.domain.jobs.job_reading import read
from tickets.domain.jobs.job_sheet import (
    DOES,
    Art,
    Colourway,
    Dryer,
    Garment,
    Halftone,
    Ink,
    InkChange,
    Job,
    MeshWanted,
    Placement,
    Squeegee,
    Station,
    Typed,
    ink_for,
    needed,
)
from tickets.domain.jobs.table import LONGEST_NOTE, LONGEST_TEXT

__all__ = [
    "DOES", "LARGEST_FILE", "LARGEST_PICTURE", "LONGEST_NOTE", "LONGEST_TEXT", "Art", "Colourway",
    "Dryer", "Garment", "Halftone", "Ink", "InkChange", "Job", "MeshWanted", "Placement", "Squeegee", "Station",
    "Typed", "ink_for", "needed", "origins_first", "read", "read_file", "read_files", "repeated", "to_toml",
    "toml_data", "toml_text",
]  # fmt: skip
