"""The invented shop: it works when shops work, and each of its jobs has artwork of ours."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sample_art
from PIL import Image, ImageChops

from tickets import demo, store
from tickets.domain.entry import read_stamp
from tickets.domain.jobs import job as sheets

SAMPLES = sorted(sample_art.SAMPLES.glob("*.toml"))


@pytest.mark.parametrize(
    "now",
    [datetime(2026, 3, 10, 10, tzinfo=UTC), datetime(2026, 3, 8, 3, tzinfo=UTC)],
    ids=["a Tuesday morning", "a Sunday night"],
)
def test_its_history_happens_when_the_shop_is_open(tmp_path: Path, now: datetime) -> None:
    demo.build(tmp_path, now)
    db = store.connect(tmp_path)
    moments = [read_stamp(at) for (at,) in db.execute("SELECT at FROM entries").fetchall()]
    jobs = db.execute("SELECT COUNT(*), COUNT(p.job) FROM jobs j LEFT JOIN job_pictures p ON p.job = j.id").fetchone()
    db.close()
    before = [at for at in moments if at < now - timedelta(hours=14)]
    assert len(before) > 600 and max(moments) <= now
    assert [at for at in before if at.weekday() > 4 or not demo.OPENS <= at.hour < demo.CLOSES] == []
    assert {at.weekday() for at in before} == {0, 1, 2, 3, 4}
    assert len({at.hour for at in before}) >= 8, "at all hours of the day, not at one"
    assert jobs[0] == jobs[1] > 15, "each job shows what it prints"


@pytest.mark.parametrize("file", SAMPLES, ids=lambda file: file.stem)
def test_each_sample_job_has_its_artwork_beside_it(file: Path) -> None:
    art = sheets.read_file(file).art
    assert art.picture and (file.parent / art.picture).stat().st_size < 12_000


@pytest.mark.parametrize("name", sample_art.ART)
def test_the_artwork_is_what_the_script_draws(name: str) -> None:
    with Image.open(sample_art.SAMPLES / f"{name}.png") as kept:
        apart = ImageChops.difference(kept.convert("RGB"), sample_art.drawn(name).convert("RGB"))
    assert max(high for _low, high in apart.getextrema()) < 40
