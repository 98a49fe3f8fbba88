"""The tables, as ordered functions that are added to, never edited. Applied when a shop is opened for writing.

SQLite's helpers that copy a table lose its triggers: guarded tables are migrated with plain SQL and guarded again.

What is JSON in a column, and why. `entries.vals`, `verdict`, `override`, `posts.answer`, `spec`, `settings`,
`job_versions`, `printed`: what was said, as it was said, never changed; a step's fields differ from the next one's, and
lists ask the worked-out tables instead. `standings.life` and `runs.story`, `led`: the whole that was worked out, read
for one screen or run and led on by the next entry; what lists ask of it is a column beside it. Left in it: what one
list or one number of the desk asks of a few rows that an index found (`decided`, `keep_for`, the mesh's colour and
frame size, the impressions of a stencil; `hung` and `approvals` of a story). `shift` and `doing` of a sign-in go with
the phone."""

from __future__ import annotations

import json
import re

from sqlite_utils import Database, Migrations

migrations = Migrations("tickets")

GUARDED = (
    "entries", "spec", "settings", "job_versions", "printed", "lamp_changes", "pictures", "job_pictures", "changes",
    "shipped",
)  # fmt: skip
"""Tables whose rows are never changed or deleted; triggers hold it, and `check` proves that the triggers are there."""

FIRST_GUARDED = GUARDED[:8]
"""Those of the first shop."""

INITIAL = """
CREATE TABLE settings (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL, value TEXT NOT NULL CHECK (json_valid(value)),
    at TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people
) STRICT;
CREATE INDEX settings_by_name ON settings (name, id);

CREATE TABLE people (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL, key TEXT NOT NULL UNIQUE, role TEXT NOT NULL
        CHECK (role IN ('built-in', 'screen room', 'press', 'press lead', 'manager')),
    secret TEXT, made_at TEXT NOT NULL, left_at TEXT
) STRICT;

CREATE TABLE sign_ins (
    token TEXT PRIMARY KEY, person INTEGER REFERENCES people, signed TEXT NOT NULL DEFAULT 'pin'
        CHECK (signed IN ('pin', 'tap', 'password')),
    at TEXT NOT NULL, secret_at TEXT, seen_at TEXT NOT NULL,
    shift TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(shift)),
    doing TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(doing)),
    view TEXT NOT NULL DEFAULT 'day'
) STRICT;

CREATE TABLE tries (key TEXT PRIMARY KEY, failures INTEGER NOT NULL, at TEXT NOT NULL) STRICT;

CREATE TABLE codes (
    code TEXT PRIMARY KEY, kind TEXT NOT NULL CHECK (kind IN ('screen', 'job', 'bucket', 'place')),
    thing INTEGER NOT NULL, made_at TEXT NOT NULL, replaced INTEGER NOT NULL DEFAULT 0 CHECK (replaced IN (0, 1))
) STRICT;
CREATE INDEX codes_by_thing ON codes (kind, thing);

CREATE TABLE screens (id INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE REFERENCES codes, made_at TEXT NOT NULL) STRICT;

CREATE TABLE places (
    id INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE REFERENCES codes, name TEXT NOT NULL, key TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL CHECK (kind IN ('rack', 'cart', 'cabinet', 'press')),
    outside INTEGER NOT NULL DEFAULT 0 CHECK (outside IN (0, 1)), heads INTEGER, made_at TEXT NOT NULL
) STRICT;

CREATE TABLE exposure_units (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL, key TEXT NOT NULL UNIQUE,
    lamp TEXT NOT NULL CHECK (lamp IN ('point', 'fluorescent', 'led')), made_at TEXT NOT NULL
) STRICT;

CREATE TABLE lamp_changes (
    id INTEGER PRIMARY KEY, exposure_unit INTEGER NOT NULL REFERENCES exposure_units, at TEXT NOT NULL,
    saved_at TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people, withdraws INTEGER REFERENCES lamp_changes
) STRICT;
CREATE INDEX lamp_changes_by_unit ON lamp_changes (exposure_unit, at);

CREATE TABLE separations (
    id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, customer TEXT NOT NULL, art TEXT NOT NULL, revision TEXT NOT NULL,
    width_mm INTEGER NOT NULL, name TEXT NOT NULL
) STRICT;
CREATE INDEX separations_by_art ON separations (art, revision);

CREATE TABLE jobs (
    id INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE REFERENCES codes, title TEXT NOT NULL, customer TEXT NOT NULL,
    due TEXT NOT NULL, reference TEXT NOT NULL DEFAULT '', repeats INTEGER REFERENCES jobs, version INTEGER NOT NULL,
    pieces INTEGER NOT NULL, made_at TEXT NOT NULL, closed_at TEXT
) STRICT;
CREATE INDEX jobs_by_due ON jobs (due, id);
CREATE INDEX jobs_open ON jobs (due, id) WHERE closed_at IS NULL;
CREATE INDEX jobs_by_reference ON jobs (reference);

CREATE TABLE job_versions (
    job INTEGER NOT NULL REFERENCES jobs, version INTEGER NOT NULL, sheet TEXT NOT NULL CHECK (json_valid(sheet)),
    at TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people, PRIMARY KEY (job, version)
) STRICT;

CREATE TABLE pictures (
    hash TEXT PRIMARY KEY, kind TEXT NOT NULL CHECK (kind IN ('jpg', 'png')), bytes INTEGER NOT NULL,
    width INTEGER NOT NULL, height INTEGER NOT NULL, at TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people
) STRICT;

CREATE TABLE job_pictures (
    job INTEGER NOT NULL REFERENCES jobs, version INTEGER NOT NULL, hash TEXT NOT NULL REFERENCES pictures,
    PRIMARY KEY (job, version)
) STRICT;

CREATE TABLE stations (
    job INTEGER NOT NULL REFERENCES jobs, placement INTEGER NOT NULL, station INTEGER NOT NULL,
    separation INTEGER NOT NULL REFERENCES separations, mesh TEXT NOT NULL, count_per_cm REAL NOT NULL, thread_um REAL,
    ink TEXT NOT NULL, work TEXT NOT NULL, PRIMARY KEY (job, placement, station)
) STRICT;
CREATE INDEX stations_by_separation ON stations (separation);

CREATE TABLE runs (
    id INTEGER PRIMARY KEY, job INTEGER NOT NULL REFERENCES jobs, version INTEGER NOT NULL, placement INTEGER NOT NULL,
    press INTEGER NOT NULL REFERENCES places, opened_at TEXT NOT NULL, state TEXT NOT NULL DEFAULT 'set-up',
    done_at TEXT, impressions INTEGER NOT NULL DEFAULT 0, good INTEGER NOT NULL DEFAULT 0,
    story TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(story))
) STRICT;
CREATE UNIQUE INDEX runs_open ON runs (job, placement, press) WHERE done_at IS NULL;
CREATE INDEX runs_by_job ON runs (job, placement, id);
CREATE INDEX runs_by_press ON runs (press, id);

CREATE TABLE buckets (
    id INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE REFERENCES codes, kind TEXT NOT NULL,
    product TEXT NOT NULL DEFAULT '', lot TEXT NOT NULL DEFAULT '', water_resistant TEXT NOT NULL DEFAULT 'unknown',
    mixed_at TEXT NOT NULL DEFAULT '', good_until TEXT NOT NULL DEFAULT '', used_at TEXT,
    test TEXT NOT NULL DEFAULT '', discarded_at TEXT
) STRICT;
CREATE INDEX buckets_open ON buckets (kind, good_until) WHERE discarded_at IS NULL;
CREATE INDEX buckets_by_lot ON buckets (lot) WHERE lot <> '';

CREATE TABLE entries (
    id INTEGER PRIMARY KEY, entry TEXT NOT NULL UNIQUE, post TEXT NOT NULL, part INTEGER NOT NULL, step TEXT NOT NULL,
    screen INTEGER REFERENCES screens, run INTEGER REFERENCES runs, job INTEGER REFERENCES jobs,
    bucket INTEGER REFERENCES buckets, person INTEGER NOT NULL REFERENCES people, signed TEXT NOT NULL,
    at TEXT NOT NULL, saved_at TEXT NOT NULL, vals TEXT NOT NULL CHECK (json_valid(vals)),
    typed TEXT CHECK (typed IS NULL OR json_valid(typed)), verdict TEXT CHECK (verdict IS NULL OR json_valid(verdict)),
    override TEXT CHECK (override IS NULL OR json_valid(override)),
    crosses TEXT REFERENCES entries (entry)
) STRICT;
CREATE INDEX entries_by_screen ON entries (screen, at, saved_at, part, entry) WHERE screen IS NOT NULL;
CREATE INDEX entries_by_run ON entries (run, at, saved_at, part, entry) WHERE run IS NOT NULL;
CREATE INDEX entries_by_bucket ON entries (bucket, at, saved_at, part, entry) WHERE bucket IS NOT NULL;
CREATE INDEX entries_by_job ON entries (job, at) WHERE job IS NOT NULL;
CREATE INDEX entries_by_time ON entries (at, id);
CREATE INDEX entries_by_post ON entries (post);
CREATE UNIQUE INDEX entries_crossed_once ON entries (crosses) WHERE crosses IS NOT NULL;

CREATE TABLE posts (
    post TEXT PRIMARY KEY, person INTEGER NOT NULL REFERENCES people, digest TEXT NOT NULL,
    answer TEXT NOT NULL CHECK (json_valid(answer)), saved_at TEXT NOT NULL
) STRICT;

CREATE TABLE standings (
    screen INTEGER PRIMARY KEY REFERENCES screens, standing TEXT NOT NULL, since TEXT NOT NULL, mark TEXT NOT NULL,
    mark_key TEXT NOT NULL, mesh TEXT NOT NULL, count_per_cm REAL, thread_um REAL, frame TEXT NOT NULL, place INTEGER,
    run INTEGER, conflict INTEGER NOT NULL, tension_at TEXT NOT NULL, minimum_n_per_cm REAL, stencils_since INTEGER,
    coated_at TEXT NOT NULL, uses INTEGER NOT NULL, impressions INTEGER NOT NULL, cycles INTEGER NOT NULL,
    inked INTEGER NOT NULL, last_at TEXT NOT NULL, life TEXT NOT NULL CHECK (json_valid(life))
) STRICT;
CREATE INDEX standings_inked ON standings (place) WHERE inked = 1;
CREATE INDEX standings_by_standing ON standings (standing, count_per_cm, screen);
CREATE INDEX standings_by_mesh ON standings (count_per_cm, screen);
CREATE INDEX standings_by_mark ON standings (mark_key) WHERE mark_key <> '';
CREATE INDEX standings_by_place ON standings (place, screen, standing) WHERE place IS NOT NULL;
CREATE INDEX standings_by_tension ON standings (tension_at, screen);
CREATE INDEX standings_by_coat ON standings (coated_at, screen) WHERE standing = 'coated';
CREATE INDEX standings_fit ON standings (standing, count_per_cm, thread_um, frame, minimum_n_per_cm, screen);
CREATE INDEX standings_kept ON standings (screen, mesh, count_per_cm) WHERE standing = 'kept';
CREATE INDEX standings_keep_until ON standings (standing, json_extract(life, '$.keep_until'))
    WHERE standing = 'kept' AND json_extract(life, '$.keep_until') > '';
CREATE INDEX standings_coated_from ON standings (json_extract(life, '$.stencil.bucket')) WHERE standing = 'coated';
CREATE INDEX standings_torn_log ON standings (screen) WHERE conflict = 1;
CREATE INDEX standings_missing ON standings (screen) WHERE json_extract(life, '$.not_at') IS NOT NULL;

CREATE TABLE counts (standing TEXT NOT NULL, mesh TEXT NOT NULL, count_per_cm REAL, screens INTEGER NOT NULL,
    PRIMARY KEY (standing, mesh)) STRICT;

CREATE TABLE carries (
    screen INTEGER NOT NULL REFERENCES screens, separation INTEGER NOT NULL REFERENCES separations,
    PRIMARY KEY (screen, separation)
) STRICT;
CREATE INDEX carries_by_separation ON carries (separation, screen);

CREATE TABLE tensions (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, entry TEXT NOT NULL, at TEXT NOT NULL,
    mesh INTEGER NOT NULL, uses INTEGER NOT NULL, impressions INTEGER NOT NULL, cycles INTEGER NOT NULL,
    mean_n_per_cm REAL NOT NULL, minimum_n_per_cm REAL NOT NULL, spread_n_per_cm REAL NOT NULL,
    warp TEXT NOT NULL CHECK (json_valid(warp)), PRIMARY KEY (screen, place)
) STRICT;

CREATE TABLE washouts (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, entry TEXT NOT NULL, at TEXT NOT NULL,
    exposure_unit TEXT NOT NULL, emulsion INTEGER, count_per_cm REAL, thread_um REAL, mesh_colour TEXT NOT NULL,
    preset TEXT NOT NULL, exposure_s REAL, exposure_units REAL, step_held REAL, irradiance_mw_cm2 REAL,
    distance_mm REAL, result TEXT NOT NULL, fault TEXT NOT NULL, PRIMARY KEY (screen, place)
) STRICT;
CREATE INDEX washouts_by_time ON washouts (at, exposure_unit, emulsion, count_per_cm, result, fault);
CREATE INDEX washouts_read ON washouts (exposure_unit, at, step_held) WHERE step_held IS NOT NULL;
CREATE INDEX washouts_metered ON washouts (exposure_unit, at) WHERE irradiance_mw_cm2 IS NOT NULL;

CREATE TABLE checks (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, entry TEXT NOT NULL, at TEXT NOT NULL,
    exposure_unit TEXT NOT NULL, emulsion INTEGER, count_per_cm REAL, result TEXT NOT NULL, fault TEXT NOT NULL,
    PRIMARY KEY (screen, place)
) STRICT;
CREATE INDEX checks_by_time ON checks (at, exposure_unit, emulsion, count_per_cm, result, fault);

CREATE TABLE exposures (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, at TEXT NOT NULL, exposure_unit TEXT NOT NULL,
    burnt_ms INTEGER, PRIMARY KEY (screen, place)
) STRICT;
CREATE INDEX exposures_by_unit ON exposures (exposure_unit, at, burnt_ms);

CREATE TABLE burnt (
    exposure_unit TEXT NOT NULL, day TEXT NOT NULL, burnt_ms INTEGER NOT NULL, exposures INTEGER NOT NULL,
    untimed INTEGER NOT NULL, PRIMARY KEY (exposure_unit, day)
) STRICT, WITHOUT ROWID;

CREATE TABLE meshes (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, number INTEGER NOT NULL,
    stretched_at TEXT NOT NULL, frame TEXT NOT NULL, count_per_cm REAL NOT NULL, thread_um REAL, uses INTEGER NOT NULL,
    impressions INTEGER NOT NULL, cycles INTEGER NOT NULL, ended_at TEXT NOT NULL, cause TEXT NOT NULL,
    PRIMARY KEY (screen, place)
) STRICT;
CREATE INDEX meshes_by_count ON meshes (count_per_cm, frame, uses, ended_at, cause);
CREATE INDEX meshes_in_service ON meshes (uses, frame, count_per_cm) WHERE ended_at = '';

CREATE TABLE stays (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, standing TEXT NOT NULL, mesh TEXT NOT NULL,
    count_per_cm REAL, since TEXT NOT NULL, until TEXT NOT NULL, hours REAL, PRIMARY KEY (screen, place)
) STRICT;
CREATE INDEX stays_ended ON stays (standing, until, hours) WHERE until <> '';

CREATE TABLE stencils (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, mesh INTEGER NOT NULL, number INTEGER NOT NULL,
    mesh_label TEXT NOT NULL, count_per_cm REAL, bucket INTEGER, preset TEXT NOT NULL, begun_at TEXT NOT NULL,
    coated_at TEXT NOT NULL, imaged_at TEXT NOT NULL, means TEXT NOT NULL, separations TEXT NOT NULL,
    exposed_at TEXT NOT NULL, exposure_unit TEXT NOT NULL, exposure_s REAL, exposure_units REAL,
    washed_at TEXT NOT NULL, washout TEXT NOT NULL, step_held REAL, checked_at TEXT NOT NULL, checked TEXT NOT NULL,
    faults TEXT NOT NULL, missed TEXT NOT NULL, ready_at TEXT NOT NULL, impressions INTEGER NOT NULL,
    ended_at TEXT NOT NULL, turnaround_h REAL, PRIMARY KEY (screen, place)
) STRICT;
CREATE INDEX stencils_begun ON stencils (begun_at, mesh_label);
CREATE INDEX stencils_ended ON stencils (ended_at, mesh_label, turnaround_h) WHERE ended_at <> '';
CREATE INDEX stencils_ready ON stencils (ready_at) WHERE ready_at <> '';
CREATE INDEX stencils_washed ON stencils (washed_at, missed, faults) WHERE washed_at <> '';

CREATE TABLE coats (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, stencil INTEGER NOT NULL,
    bucket INTEGER NOT NULL, at TEXT NOT NULL, entry TEXT NOT NULL, PRIMARY KEY (screen, place)
) STRICT;
CREATE INDEX coats_by_bucket ON coats (bucket, at, screen, stencil);

CREATE TABLE coated (bucket INTEGER PRIMARY KEY, stencils INTEGER NOT NULL, faulty INTEGER NOT NULL) STRICT;

CREATE TABLE hangings (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, stencil INTEGER, run INTEGER NOT NULL,
    head INTEGER, station INTEGER, at TEXT NOT NULL, off_at TEXT NOT NULL, impressions INTEGER NOT NULL,
    PRIMARY KEY (screen, place)
) STRICT;
CREATE INDEX hangings_by_run ON hangings (run, station, screen);

CREATE TABLE upsets (
    run INTEGER NOT NULL REFERENCES runs, place INTEGER NOT NULL, at TEXT NOT NULL, step TEXT NOT NULL,
    cause TEXT NOT NULL, minutes REAL, good INTEGER NOT NULL, misprinted INTEGER NOT NULL, PRIMARY KEY (run, place)
) STRICT;
CREATE INDEX upsets_by_time ON upsets (at, run, step, cause, minutes, good, misprinted);

CREATE TABLE ink_lots (
    run INTEGER NOT NULL REFERENCES runs, place INTEGER NOT NULL, station INTEGER NOT NULL, bucket TEXT NOT NULL,
    lot TEXT NOT NULL, PRIMARY KEY (run, place)
) STRICT;
CREATE INDEX ink_lots_by_bucket ON ink_lots (bucket) WHERE bucket <> '';
CREATE INDEX ink_lots_by_lot ON ink_lots (lot) WHERE lot <> '';

CREATE TABLE cautions (
    run INTEGER NOT NULL REFERENCES runs, place INTEGER NOT NULL, key TEXT NOT NULL, row INTEGER, value REAL,
    PRIMARY KEY (run, place)
) STRICT;

CREATE TABLE spec (
    id INTEGER PRIMARY KEY, key TEXT NOT NULL, value TEXT NOT NULL CHECK (json_valid(value)), unit TEXT NOT NULL,
    conditions TEXT NOT NULL CHECK (json_valid(conditions)), source TEXT NOT NULL, at TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people
) STRICT;
CREATE INDEX spec_by_key ON spec (key, id);

CREATE TABLE printed (
    id INTEGER PRIMARY KEY, kind TEXT NOT NULL, code TEXT NOT NULL, address TEXT NOT NULL, at TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people, version INTEGER, says TEXT NOT NULL CHECK (json_valid(says))
) STRICT;
CREATE INDEX printed_by_code ON printed (code, id);
"""


def _each(db: Database, statements: str) -> None:
    """Carries out some statements, which semicolons part (`executescript` would commit before them)."""
    for statement in statements.split(";"):
        if statement.strip():
            db.execute(statement)


def _guard(db: Database, table: str) -> None:
    for act in ("update", "delete"):
        guard(db, table, act)


def guard(db: Database, table: str, act: str) -> None:
    """A trigger that keeps the rows of a table from an act: update, delete."""
    db.execute(
        f"CREATE TRIGGER {table}_no_{act} BEFORE {act.upper()} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{table}: rows are never changed'); END"
    )


@migrations()
def m001_initial(db: Database) -> None:
    """The first shop."""
    _each(db, INITIAL)
    for table in FIRST_GUARDED:
        _guard(db, table)


@migrations()
def m002_stations_asked_for(db: Database) -> None:
    """A station that prints on no garment of its job asks for no screen: `stations` worked out again."""
    from tickets.domain.jobs import job as sheets
    from tickets.store import jobs

    found = db.execute(
        "SELECT j.id, v.sheet FROM jobs j JOIN job_versions v ON v.job = j.id AND v.version = j.version "
        "WHERE v.sheet LIKE '%colourway%'"
    ).fetchall()
    for number, sheet in found:
        jobs.save_stations(db, number, sheets.read(json.loads(sheet)))


KEPT_BY_THE_MANAGER = """
CREATE TABLE changes (
    id INTEGER PRIMARY KEY, thing TEXT NOT NULL CHECK (thing IN ('person', 'place', 'exposure unit')),
    number INTEGER NOT NULL, what TEXT NOT NULL, was TEXT NOT NULL, becomes TEXT NOT NULL, at TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people
) STRICT;
CREATE INDEX changes_by_thing ON changes (thing, number, id);
CREATE INDEX changes_counted ON changes (number, at) WHERE thing = 'place' AND what = 'counted';
ALTER TABLE places ADD COLUMN retired_at TEXT;
ALTER TABLE exposure_units ADD COLUMN retired_at TEXT;
"""


@migrations()
def m003_who_changed_what(db: Database) -> None:
    """Who changed people, places and exposure units, and when; places and units that are out of use."""
    _each(db, KEPT_BY_THE_MANAGER)
    _guard(db, "changes")


@migrations()
def m004_what_is_still_there(db: Database) -> None:
    """What stands longest at each stage, what is due to be measured, and the newest stencils with their mesh: each out
    of an index alone."""
    for statement in (
        "CREATE INDEX standings_since ON standings (standing, since)",
        "DROP INDEX standings_by_tension",
        "CREATE INDEX standings_by_tension ON standings (tension_at, standing, stencils_since, screen)",
        "CREATE INDEX meshes_by_number ON meshes (screen, number, thread_um)",
        "DROP INDEX stencils_begun",
        "CREATE INDEX stencils_begun ON stencils (begun_at, screen, mesh, count_per_cm, mesh_label)",
        "DROP INDEX stencils_ended",
        "CREATE INDEX stencils_ended ON stencils (ended_at, screen, mesh, count_per_cm, mesh_label, turnaround_h) "
        "WHERE ended_at <> ''",
    ):
        db.execute(statement)


@migrations()
def m005_limits_that_came_with_the_program(db: Database) -> None:
    """Which limits came with the program: a newer one may ship others, and leaves alone what the shop set. Up to now
    all of them came at once, when the shop was made."""
    db.execute("CREATE TABLE shipped (spec INTEGER PRIMARY KEY REFERENCES spec) STRICT")
    db.execute(
        "INSERT INTO shipped SELECT s.id FROM spec s JOIN (SELECT at, person FROM spec ORDER BY id LIMIT 1) f "
        "ON s.at = f.at AND s.person = f.person"
    )
    _guard(db, "shipped")


@migrations()
def m006_by_which_rules(db: Database) -> None:
    """By which rules of replay the worked-out tables were made, the newest row last; none: by those before this."""
    db.execute("CREATE TABLE worked_out (id INTEGER PRIMARY KEY, rules INTEGER NOT NULL, at TEXT NOT NULL) STRICT")


@migrations()
def m007_too_slack(db: Database) -> None:
    """Which frames are too slack, by the last reading and the limits: 1 for their usual work, 2 for all that they could
    print. The lists of them are answered out of one index."""
    db.execute("ALTER TABLE standings ADD COLUMN slack INTEGER NOT NULL DEFAULT 0")
    db.execute(
        "CREATE INDEX standings_slack ON standings "
        "(screen, slack, count_per_cm, thread_um, standing, mesh, tension_at, mark, place) WHERE slack > 0"
    )


@migrations()
def m008_probe_runs(db: Database) -> None:
    """The probe runs of all dryers, the newest first, out of an index alone."""
    db.execute("CREATE INDEX entries_probes ON entries (at) WHERE step = 'probe'")


@migrations()
def m009_how_a_press_turns(db: Database) -> None:
    """How a press turns; those of before were taken to bring a garment to head 1 first."""
    db.execute(
        "ALTER TABLE places ADD COLUMN turns TEXT NOT NULL DEFAULT 'clockwise' "
        "CHECK (turns IN ('clockwise', 'anticlockwise', 'any order'))"
    )


@migrations()
def m010_what_is_in_a_bucket(db: Database) -> None:
    """The colour, series and recipe of an ink that was mixed; nobody was asked before."""
    for column in ("colour", "series", "recipe"):
        db.execute(f"ALTER TABLE buckets ADD COLUMN {column} TEXT NOT NULL DEFAULT ''")


@migrations()
def m011_pieces_that_took_a_lot(db: Database) -> None:
    """The pieces that took an ink bucket or a lot, by the counts; what stood there counts the whole run until a shop is
    worked out again, which its newer rules bring about."""
    for column in ("good", "misprinted", "unsure", "more"):
        db.execute(f"ALTER TABLE ink_lots ADD COLUMN {column} INTEGER NOT NULL DEFAULT 0")
    db.execute("ALTER TABLE ink_lots ADD COLUMN counts TEXT NOT NULL DEFAULT ''")


@migrations()
def m012_uses_before_the_log(db: Database) -> None:
    """The uses that a mesh had before it was registered (null: it was in use, and nobody noted how long)."""
    db.execute("ALTER TABLE meshes ADD COLUMN entered_uses INTEGER DEFAULT 0")
    db.execute("DROP INDEX meshes_by_count")
    db.execute("CREATE INDEX meshes_by_count ON meshes (count_per_cm, frame, uses, entered_uses, ended_at, cause)")


@migrations()
def m013_slack_by_frame(db: Database) -> None:
    """What makes a slack frame tight again hangs on the kind of frame: the index of the slack ones has it."""
    db.execute("DROP INDEX standings_slack")
    db.execute(
        "CREATE INDEX standings_slack ON standings "
        "(screen, slack, count_per_cm, thread_um, standing, mesh, tension_at, mark, place, frame) WHERE slack > 0"
    )


@migrations()
def m014_led_on(db: Database) -> None:
    """What leading a run on by one entry takes besides its story; null: its next entry reads its whole log."""
    db.execute("ALTER TABLE runs ADD COLUMN led TEXT CHECK (led IS NULL OR json_valid(led))")


@migrations()
def m015_where_wrong_secrets_came_from(db: Database) -> None:
    """Wrong tries are counted by person and where they came from, kept by day for the manager to see; a phone that
    signed in before has a count of its own."""
    db.execute("DELETE FROM tries")
    db.execute(
        "CREATE TABLE wrong_tries (day TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people, source TEXT NOT NULL, "
        "many INTEGER NOT NULL, at TEXT NOT NULL, PRIMARY KEY (day, person, source)) STRICT"
    )
    db.execute(
        "CREATE TABLE devices (device TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people, at TEXT NOT NULL, "
        "PRIMARY KEY (device, person)) STRICT"
    )


@migrations()
def m016_what_is_asked_of_a_life_is_a_column(db: Database) -> None:
    """What lists ask of a screen's life, as columns beside it: the place where a stock-take missed it, until when it is
    kept, since when it is where it is, the bucket on it. (Columns that SQLite itself reads out of the life were tried:
    a backup of a full disk failed on them, in version 3.40.)"""
    _asked_of_a_life(db)


ASKED_OF_A_LIFE = ("standings_missing", "standings_keep_until", "standings_coated_from")
"""The indexes on those columns."""


def _asked_of_a_life(db: Database) -> None:
    for index in ASKED_OF_A_LIFE:
        db.execute(f"DROP INDEX IF EXISTS {index}")
    db.execute("ALTER TABLE standings ADD COLUMN not_at INTEGER")
    db.execute("ALTER TABLE standings ADD COLUMN keep_until TEXT NOT NULL DEFAULT ''")
    db.execute("ALTER TABLE standings ADD COLUMN place_since TEXT NOT NULL DEFAULT ''")
    db.execute("ALTER TABLE standings ADD COLUMN coated_from INTEGER")
    db.execute(
        "UPDATE standings SET not_at = json_extract(life, '$.not_at'), "
        "keep_until = coalesce(json_extract(life, '$.keep_until'), ''), "
        "place_since = coalesce(json_extract(life, '$.place_since'), ''), "
        "coated_from = json_extract(life, '$.stencil.bucket')"
    )
    db.execute("CREATE INDEX standings_missing ON standings (screen) WHERE not_at IS NOT NULL")
    db.execute(
        "CREATE INDEX standings_keep_until ON standings (standing, keep_until) "
        "WHERE standing = 'kept' AND keep_until > ''"
    )
    db.execute("CREATE INDEX standings_coated_from ON standings (coated_from) WHERE standing = 'coated'")


@migrations()
def m017_a_stage_in_the_order_of_numbers(db: Database) -> None:
    """A list of one stage is shown by the numbers of its screens, a page at a time: the index has them so, and the page
    is read without sorting all that are at the stage. By mesh count there is `standings_fit`.

    A shop that was opened while the columns of the migration before were tried as SQLite's own has those still, and
    nothing can be logged in it: they become columns like the rest."""
    db.execute("DROP INDEX standings_by_standing")
    db.execute("CREATE INDEX standings_by_standing ON standings (standing, screen)")
    columns = db.execute("PRAGMA table_xinfo(standings)").fetchall()
    read_out = [column[1] for column in columns if column[6]]
    if not read_out:
        return
    for index in ASKED_OF_A_LIFE:
        db.execute(f"DROP INDEX IF EXISTS {index}")
    for column in read_out:
        db.execute(f"ALTER TABLE standings DROP COLUMN {column}")
    _asked_of_a_life(db)


@migrations()
def m018_lists_in_other_orders(db: Database) -> None:
    """The lists of screens and of open jobs are shown in the order of any head that is offered, a page at a time."""
    for name, column in (
        ("mark", "mark_key"),
        ("measured", "tension_at"),
        ("tension", "minimum_n_per_cm"),
        ("uses", "uses"),
    ):
        db.execute(f"CREATE INDEX standings_in_{name} ON standings ({column}, screen)")
    for column in ("customer", "title"):
        db.execute(f"CREATE INDEX jobs_open_by_{column} ON jobs ({column}, id) WHERE closed_at IS NULL")


WEEK_AND_TOKENS = """
CREATE TABLE changes_of_more (
    id INTEGER PRIMARY KEY,
    thing TEXT NOT NULL CHECK (thing IN ('person', 'place', 'exposure unit', 'job', 'token')),
    number INTEGER NOT NULL, what TEXT NOT NULL, was TEXT NOT NULL, becomes TEXT NOT NULL, at TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people
) STRICT;
INSERT INTO changes_of_more SELECT id, thing, number, what, was, becomes, at, person FROM changes;
DROP TABLE changes;
ALTER TABLE changes_of_more RENAME TO changes;
CREATE INDEX changes_by_thing ON changes (thing, number, id);
CREATE INDEX changes_counted ON changes (number, at) WHERE thing = 'place' AND what = 'counted';
ALTER TABLE jobs ADD COLUMN press INTEGER REFERENCES places;
ALTER TABLE jobs ADD COLUMN on_day TEXT NOT NULL DEFAULT '';
CREATE INDEX jobs_planned ON jobs (on_day, id) WHERE closed_at IS NULL AND on_day <> '';
CREATE TABLE read_tokens (
    id INTEGER PRIMARY KEY, digest TEXT NOT NULL UNIQUE,
    scope TEXT NOT NULL CHECK (scope IN ('wall', 'calendar', 'interface')), name TEXT NOT NULL,
    customers INTEGER NOT NULL DEFAULT 0 CHECK (customers IN (0, 1)), made_at TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people, withdrawn_at TEXT
) STRICT;
"""


@migrations()
def m019_planned_presses_and_addresses_that_only_read(db: Database) -> None:
    """On which press and day a job is planned (none, empty: not planned), who planned, closed or opened it again; and
    tokens in addresses that only read, each good for one thing (`scope`) until it is withdrawn: of the token itself
    only its digest is kept."""
    _each(db, WEEK_AND_TOKENS)
    _guard(db, "changes")


@migrations()
def m020_a_list_of_runs(db: Database) -> None:
    """Runs are listed by when they ended, all of them or those of a press, and by good pieces, a page at a time."""
    db.execute("CREATE INDEX runs_by_end ON runs (done_at, id)")
    db.execute("CREATE INDEX runs_by_press_and_end ON runs (press, done_at, id)")
    db.execute("CREATE INDEX runs_by_good ON runs (good, id)")


@migrations()
def m021_what_was_made_when(db: Database) -> None:
    """What a month cost is read by when its stencils were imaged."""
    db.execute("CREATE INDEX stencils_imaged ON stencils (imaged_at, screen, place, separations) WHERE imaged_at <> ''")


FOUND_BY_WORDS = """
CREATE TABLE findable (
    id INTEGER PRIMARY KEY, kind TEXT NOT NULL, thing TEXT NOT NULL, words TEXT NOT NULL, UNIQUE (kind, thing)
) STRICT;
CREATE VIRTUAL TABLE findable_words USING fts5 (
    kind, words, content = 'findable', content_rowid = 'id', tokenize = 'ascii', detail = 'column', columnsize = 0
);
CREATE VIRTUAL TABLE findable_terms USING fts5vocab ('findable_words', 'row');
CREATE TABLE slips (
    short TEXT NOT NULL, word TEXT NOT NULL, PRIMARY KEY (short, word)
) STRICT, WITHOUT ROWID;
CREATE INDEX jobs_by_customer ON jobs (customer, id);
"""


@migrations()
def m022_found_by_words(db: Database) -> None:
    """Everything that has a code or a name is found by its words, by an index of them. It is filled when the shop is
    worked out again, which its newer rules bring about."""
    _each(db, FOUND_BY_WORDS)


@migrations()
def m023_the_log_narrowed(db: Database) -> None:
    """The log of a person, of a step, of a rack or cart, of the press, what was overridden, what was crossed out: each
    out of an index, in the order of time, with what else is often asked beside it."""
    for name, columns in (
        ("by_person", "(person, at, id, step)"),
        ("by_step", "(step, at, id, person)"),
        ("by_place", "(json_extract(vals, '$.place'), at, id) WHERE step = 'rack'"),
        ("in_runs", "(at, id, run) WHERE run IS NOT NULL"),
        ("overridden", "(at, id) WHERE override IS NOT NULL"),
        ("cross_outs", "(at, id, crosses) WHERE crosses IS NOT NULL"),
    ):
        db.execute(f"CREATE INDEX entries_{name} ON entries {columns}")


@migrations()
def m024_a_screen_led_on(db: Database) -> None:
    """What leading a screen on by one entry takes besides its life; null: its next entry reads its whole log.

    A post writes into fewer pages: of an entry that is alone in its post the id is looked up as its own, and a post is
    found by its id where it lies. Which places lie outside is asked at every post."""
    db.execute("ALTER TABLE standings ADD COLUMN led TEXT CHECK (led IS NULL OR json_valid(led))")
    db.execute("DROP INDEX entries_by_post")
    db.execute("CREATE INDEX entries_by_post ON entries (post) WHERE post <> entry")
    db.execute("ALTER TABLE posts RENAME TO posts_before")
    db.execute(
        "CREATE TABLE posts (post TEXT PRIMARY KEY, person INTEGER NOT NULL REFERENCES people, digest TEXT NOT NULL, "
        "answer TEXT NOT NULL CHECK (json_valid(answer)), saved_at TEXT NOT NULL) STRICT, WITHOUT ROWID"
    )
    db.execute(
        "INSERT INTO posts (post, person, digest, answer, saved_at) "
        "SELECT post, person, digest, answer, saved_at FROM posts_before ORDER BY post"
    )
    db.execute("DROP TABLE posts_before")
    db.execute("CREATE INDEX places_outside ON places (id) WHERE outside = 1")


@migrations()
def m025_what_a_program_may_read(db: Database) -> None:
    """Which parts of the shop a token of a program opens (words with blanks between; empty: it is no program's)."""
    db.execute("ALTER TABLE read_tokens ADD COLUMN parts TEXT NOT NULL DEFAULT ''")


LISTS = """
CREATE TABLE lists (
    id INTEGER PRIMARY KEY, kind TEXT NOT NULL, name TEXT NOT NULL, sheet TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people, at TEXT NOT NULL, heads TEXT NOT NULL CHECK (json_valid(heads)),
    lines TEXT NOT NULL CHECK (json_valid(lines)), columns TEXT NOT NULL CHECK (json_valid(columns)),
    make_places INTEGER NOT NULL, measured TEXT NOT NULL, token TEXT NOT NULL, digest TEXT NOT NULL, taken_at TEXT,
    taker INTEGER REFERENCES people, made INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX lists_by_file ON lists (kind, digest);
CREATE UNIQUE INDEX lists_by_token ON lists (token);
CREATE TABLE list_things (
    list INTEGER NOT NULL REFERENCES lists, line INTEGER NOT NULL, thing INTEGER NOT NULL, PRIMARY KEY (list, line)
) STRICT, WITHOUT ROWID;
CREATE TABLE list_heads (
    kind TEXT NOT NULL, heads TEXT NOT NULL, columns TEXT NOT NULL CHECK (json_valid(columns)), at TEXT NOT NULL,
    PRIMARY KEY (kind, heads)
) STRICT, WITHOUT ROWID;
"""


@migrations()
def m026_lists_brought_in(db: Database) -> None:
    """Lists of the shop's own: what was sent, which line made what, what headings were taken for."""
    _each(db, LISTS)


@migrations()
def m027_language_and_units_of_a_person(db: Database) -> None:
    """The language and the units that somebody reads in (null: they chose none)."""
    db.execute("ALTER TABLE people ADD COLUMN language TEXT")
    db.execute("ALTER TABLE people ADD COLUMN units TEXT CHECK (units IN ('metric', 'us'))")


VERSION = sum(re.fullmatch(r"m\d{3}_\w+", name) is not None for name in dir())
"""How many migrations there are, kept in the file's user_version: an older program leaves a newer shop alone."""
