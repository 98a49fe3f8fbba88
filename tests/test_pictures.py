"""Pictures: what is taken, what it is made into, what is refused, who is shown it.

Files are built here byte by byte after the PNG specification (W3C, third edition), the Exif orientation after the
Exif/TIFF 6.0 table (6: the 0th row is the right side, so upright is 90 degrees clockwise), from memory.
"""

from __future__ import annotations

import io
import re
import struct
import subprocess
import sys
import threading
import time
import zlib
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from sqlite_utils import Database

from tickets.actions import jobs, picture_reader, pictures
from tickets.actions.people import built_in
from tickets.domain.jobs.job import read, read_file
from tickets.domain.person import Actor
from tickets.domain.refusal import Refused, TryLater
from tickets.queries import find, picture_files, sound
from tickets.store import pictures as kept
from tickets.store.jobs import get

NOW = datetime(2026, 3, 9, 8, 0, tzinfo=UTC)
SAMPLES = Path(__file__).parent.parent / "sample_jobs"
RED, GREEN, BLUE = (255, 0, 0), (0, 255, 0), (0, 0, 255)


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, rows: bytes, depth: int = 8, colour: int = 2, more: bytes = b"") -> bytes:
    """A PNG file of raw rows (each begins with its filter byte)."""
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    parts = chunk(b"IHDR", head) + more + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def photo(width: int = 600, height: int = 400, **how: object) -> bytes:
    """A picture of many colours, its top left quarter red."""
    image = Image.effect_noise((width, height), 60).convert("RGB")
    image.paste(RED, (0, 0, width // 2, height // 2))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=95, **how)
    return out.getvalue()


def exif(orientation: int) -> bytes:
    """An Exif block: little-endian TIFF, one directory with orientation and a maker's name."""
    name = b"Invented Camera 7\0"
    entries = struct.pack("<HHII", 0x010F, 2, len(name), 38) + struct.pack("<HHIHH", 0x0112, 3, 1, orientation, 0)
    return b"Exif\0\0II*\0" + struct.pack("<I", 8) + struct.pack("<H", 2) + entries + struct.pack("<I", 0) + name


def opened(made: pictures.Made) -> Image.Image:
    return Image.open(io.BytesIO(made.body))


def near(pixel: object, wanted: tuple[int, int, int]) -> bool:
    return all(abs(one - other) < 40 for one, other in zip(pixel, wanted, strict=True))  # type: ignore[call-overload]


# What a picture is made into


def test_a_photo_is_made_smaller_twice_and_stays_a_jpeg():
    made = pictures.make(photo(4000, 2000))
    assert made.kind == "jpg" and made.body.startswith(b"\xff\xd8\xff") and (made.width, made.height) == (1600, 800)
    assert opened(made).size == (1600, 800) and Image.open(io.BytesIO(made.small)).size == (400, 200)
    assert len(made.body) < 1_000_000 and len(made.small) < 100_000


def test_a_small_picture_is_not_blown_up():
    made = pictures.make(photo(90, 60))
    assert opened(made).size == (90, 60) and Image.open(io.BytesIO(made.small)).size == (90, 60)


@pytest.mark.parametrize(
    ("orientation", "corner"),
    # where the red quarter of the stored top left comes to lie, by the Exif table
    [(1, "top left"), (2, "top right"), (3, "bottom right"), (4, "bottom left"), (5, "top left"), (6, "top right"),
     (7, "bottom right"), (8, "bottom left")],
)  # fmt: skip
def test_a_photo_is_turned_upright_and_its_orientation_taken_out(orientation: int, corner: str):
    made = pictures.make(photo(exif=exif(orientation)))
    image = opened(made).convert("RGB")
    wide, high = image.size
    assert (wide, high) == ((600, 400) if orientation < 5 else (400, 600))
    where = {"top left": (8, 8), "top right": (wide - 8, 8), "bottom left": (8, high - 8)}
    assert near(image.getpixel(where.get(corner, (wide - 8, high - 8))), RED)


def test_nothing_but_the_picture_is_kept():
    said = b"Where I live"
    made = pictures.make(photo(exif=exif(6), comment=said, icc_profile=b"profile of nobody" * 9, dpi=(300, 300)))
    for body in (made.body, made.small):
        assert b"Exif" not in body and b"Invented" not in body and said not in body and b"profile" not in body
    text = chunk(b"tEXt", b"Comment\0" + said) + chunk(b"eXIf", exif(1)[6:]) + chunk(b"iTXt", b"k\0\0\0\0\0" + said)
    made = pictures.make(png(4, 1, b"\0" + bytes(RED + GREEN + BLUE + RED), more=text))
    assert made.kind == "png" and said not in made.body
    kinds = [made.body[at + 4 : at + 8] for at in _chunks(made.body)]
    assert set(kinds) <= {b"IHDR", b"PLTE", b"IDAT", b"IEND"}


def _chunks(body: bytes) -> list[int]:
    at, found = 8, []
    while at < len(body):
        found.append(at)
        at += 12 + struct.unpack(">I", body[at : at + 4])[0]
    return found


def test_line_art_stays_a_png_with_its_colours():
    rows = b"".join(b"\0" + bytes(RED * 40 + BLUE * 40) for _row in range(50))
    made = pictures.make(png(80, 50, rows))
    image = opened(made).convert("RGB")
    assert made.kind == "png" and image.getpixel((3, 3)) == RED and image.getpixel((70, 40)) == BLUE


def test_a_png_of_many_colours_becomes_a_jpeg():
    pixels = [[(x * 3, y * 5, x * y % 256) for x in range(80)] for y in range(50)]
    rows = b"".join(b"\0" + bytes(level for pixel in row for level in pixel) for row in pixels)
    assert pictures.make(png(80, 50, rows)).kind == "jpg"


def test_white_art_on_a_clear_ground_can_be_seen():
    clear, white, red = (0, 0, 0, 0), (255, 255, 255, 255), (200, 0, 0, 255)

    def on(art: tuple[int, ...]) -> Image.Image:
        return opened(pictures.make(png(2, 1, b"\0" + bytes(clear + art), colour=6))).convert("RGB")

    assert on(white).getpixel((0, 0)) == (128, 128, 128) and on(white).getpixel((1, 0)) == (255, 255, 255)
    assert on(red).getpixel((0, 0)) == (255, 255, 255) and on(red).getpixel((1, 0)) == (200, 0, 0)


def test_odd_kinds_of_png_come_out_right():
    grey16 = pictures.make(png(2, 1, b"\0" + struct.pack(">HH", 0x4040, 0xC0C0), depth=16, colour=0))
    assert [opened(grey16).convert("RGB").getpixel((x, 0)) for x in (0, 1)] == [(64,) * 3, (192,) * 3]
    bit = pictures.make(png(8, 1, b"\0\xf0", depth=1, colour=0))
    assert [opened(bit).convert("L").getpixel((x, 0)) for x in (0, 7)] == [255, 0]
    palette = chunk(b"PLTE", bytes(BLUE + RED)) + chunk(b"tRNS", b"\x00\xff")
    indexed = pictures.make(png(2, 1, b"\0\x00\x01", colour=3, more=palette))
    assert [opened(indexed).convert("RGB").getpixel((x, 0)) for x in (0, 1)] == [(255, 255, 255), RED]
    grey_clear = pictures.make(png(2, 1, b"\0" + bytes((0, 0, 90, 255)), colour=4))
    assert [opened(grey_clear).convert("L").getpixel((x, 0)) for x in (0, 1)] == [255, 90]


def test_an_animated_png_gives_its_first_picture():
    frames = [Image.new("RGB", (9, 9), colour) for colour in (RED, GREEN)]
    out = io.BytesIO()
    frames[0].save(out, "PNG", save_all=True, append_images=frames[1:], duration=100)
    assert opened(pictures.make(out.getvalue())).convert("RGB").getpixel((4, 4)) == RED


def test_a_cmyk_jpeg_comes_out_in_its_colours():
    out = io.BytesIO()
    Image.new("CMYK", (40, 40), (0, 255, 255, 0)).save(out, "JPEG", quality=95)
    assert near(opened(pictures.make(out.getvalue())).convert("RGB").getpixel((20, 20)), RED)


def test_the_same_file_gives_the_same_bytes():
    raw = photo()
    assert pictures.make(raw) == pictures.make(raw)


# What is refused


def plain_rows(wide: int, high: int, colour: int) -> bytes:
    """A PNG of one value, built row by row: many pixels in few bytes. `colour`: 0 grey, 6 with a clear part."""
    packer, row = zlib.compressobj(1), bytes(1 + wide * {0: 1, 6: 4}[colour])
    rows = b"".join(packer.compress(row) for _row in range(high)) + packer.flush()
    head = struct.pack(">IIBBBBB", wide, high, 8, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@cache
def bomb() -> bytes:
    """8,000 by 8,000 pixels of one grey in less than a hundredth of that."""
    return plain_rows(8000, 8000, 0)


def one_line(refused: pytest.ExceptionInfo[Refused]) -> str:
    (fault,) = refused.value.faults
    assert fault.where == "picture" and "\n" not in fault.message
    return fault.message


def test_a_bomb_is_refused_before_it_is_unpacked():
    raw = bomb()
    assert len(raw) < 500_000
    with pytest.raises(Refused) as refused:
        pictures.make(raw)
    assert "too many pixels" in one_line(refused)


def test_a_hidden_bomb_is_refused():
    """The head says 100 by 100, the rest unpacks to far more: not unpacked past what the head says, or refused."""
    raw = bomb()
    head = struct.pack(">IIBBBBB", 100, 100, 8, 0, 0, 0, 0)
    made = raw[:8] + chunk(b"IHDR", head) + raw[33:]
    try:
        assert opened(pictures.make(made)).size == (100, 100)
    except Refused as refused:
        assert refused.faults[0].where == "picture"


@pytest.mark.parametrize(
    "raw",
    [b"", b"GIF89a" + bytes(50), b"%PDF-1.7\n", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"\x89PNG", bytes(2000),
     b"RIFF\x10\0\0\0WEBPVP8 "],
)  # fmt: skip
def test_what_is_no_picture_is_refused(raw: bytes):
    with pytest.raises(Refused) as refused:
        pictures.make(raw)
    assert "neither a PNG nor a JPEG" in one_line(refused)


def test_what_only_begins_like_a_picture_is_refused():
    whole = png(80, 50, bytes(50 * 241))
    wrong = bytearray(whole)
    wrong[60] ^= 0xFF
    begun = (b"\xff\xd8\xff" + bytes(500), b"\x89PNG\r\n\x1a\n" + b"<script>")
    for raw in (*begun, photo()[:3000], whole[:-40], bytes(wrong)):
        with pytest.raises(Refused) as refused:
            pictures.make(raw)
        assert "cannot be read" in one_line(refused)


def test_a_file_over_12_mb_is_refused_without_opening_it():
    with pytest.raises(Refused) as refused:
        pictures.make(b"\xff\xd8\xff" + bytes(12_000_000))
    assert one_line(refused) == "This picture is too large: at most 12 MB. Take it at a lower resolution."


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_no_damaged_file_does_more_than_be_refused(data: st.DataObject):
    """Any bytes of a right file changed or cut off: a picture or a refusal, never another error."""
    raw = bytearray(data.draw(st.sampled_from([SMALL_JPEG, SMALL_PNG])))
    for _n in range(data.draw(st.integers(1, 8))):
        raw[data.draw(st.integers(8, len(raw) - 1))] = data.draw(st.integers(0, 255))
    try:
        made = pictures.make(bytes(raw[: data.draw(st.integers(12, len(raw)))]))
    except Refused as refused:
        assert len(refused.faults) == 1
    else:
        assert max(opened(made).size) <= picture_reader.SIDE


SMALL_JPEG, SMALL_PNG = photo(40, 30, exif=exif(6)), png(20, 10, bytes(range(61)) * 10)


# Kept, and shown


@pytest.fixture
def me(db: Database) -> Actor:
    return Actor(built_in(db, NOW), "command line", "built-in")


def test_a_picture_is_kept_once_by_what_it_holds(db: Database, folder: Path, me: Actor):
    first = pictures.take(db, me, photo(), now=NOW)
    raw = photo(30, 20)
    second, third = pictures.take(db, me, raw, now=NOW), pictures.take(db, me, raw, now=NOW)
    assert first != second == third
    files = sorted(path.relative_to(folder / "pictures").as_posix() for path in (folder / "pictures").rglob("*.*"))
    assert files == sorted(f"{one[:2]}/{one}{ending}" for one in (first, second) for ending in (".jpg", ".small.jpg"))
    assert picture_files.missing(db) == [] and sound.check(db) == []


def test_check_lists_pictures_that_are_gone_or_damaged(db: Database, folder: Path, me: Actor):
    one, other = (pictures.take(db, me, photo(size, 20), now=NOW) for size in (30, 50))
    (folder / "pictures" / one[:2] / f"{one}.jpg").unlink()
    (folder / "pictures" / other[:2] / f"{other}.jpg").write_bytes(b"\xff\xd8\xff")
    (folder / "pictures" / other[:2] / f"{other}.small.jpg").unlink()
    lines = "\n".join(sound.check(db))
    assert f"{one}.jpg is missing" in lines and f"{other}.jpg is damaged" in lines
    assert f"{other}.small.jpg is missing" in lines and lines.count("\n") == 2


def test_a_picture_taken_again_heals_its_files(db: Database, folder: Path, me: Actor):
    raw = photo(30, 20)
    found = pictures.take(db, me, raw, now=NOW)
    for path in (folder / "pictures" / found[:2]).iterdir():
        path.write_bytes(b"")
    assert picture_files.missing(db)
    pictures.take(db, me, raw, now=NOW)
    assert picture_files.missing(db) == []


def test_a_picture_is_shown_to_whoever_is_signed_in_and_nobody_else(
    client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient], db: Database, me: Actor
):
    found = pictures.take(db, me, photo(900, 600), now=NOW)
    assert client.get(f"/pictures/{found}").status_code == 303
    sign_in(client, "Bo Lind")
    for address, size in ((f"/pictures/{found}", (900, 600)), (f"/pictures/{found}/small", (400, 267))):
        answer = client.get(address)
        assert answer.status_code == 200 and Image.open(io.BytesIO(answer.data)).size == size
        assert answer.headers["Content-Type"] == "image/jpeg" and answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Cache-Control"] == "private, no-cache"
        kept = {"If-None-Match": answer.headers["ETag"]}
        assert client.get(address, headers=kept).status_code == 304
        assert client.application.test_client().get(address, headers=kept).status_code == 303, "signed out"
    for wrong in ("0" * 64, found.upper(), found + "0", "..%2Fshop.db", "shop.db"):
        assert client.get(f"/pictures/{wrong}").status_code == 404, wrong
    assert client.get(f"/pictures/{found}/large").status_code == 404


def test_only_a_form_that_carries_a_picture_may_be_large(
    client: FlaskClient, sign_in: Callable[[FlaskClient, str], FlaskClient]
):
    sign_in(client, "Bo Lind")
    sent = b'--x\r\nContent-Disposition: form-data; name="picture"; filename="../../x.jpg"\r\n\r\n' + bytes(45_000_000)
    large = client.post("/runs/1/approve", data=sent, content_type="multipart/form-data; boundary=x")
    assert large.status_code == 413
    assert large.text.count("This picture is too large: at most 12 MB. Take it at a lower resolution.") == 1
    assert client.post("/runs", data={"job": "x" * 2_000_000}).status_code == 413


# The art of a job


def test_the_art_beside_a_job_file_comes_into_the_shop(db: Database, folder: Path, me: Actor):
    files = [SAMPLES / "harbour-lights.toml", SAMPLES / "quiet-mooring.toml"]
    sheets = [read_file(file) for file in files]
    sheets[1] = replace(sheets[1], art=replace(sheets[1].art, picture=""))
    found = pictures.beside(db, me, files, sheets, now=NOW)
    assert found[0] and not found[1]
    codes = jobs.add(db, me, sheets, post="art-" + "0" * 16, now=NOW, pictures=found)
    saved = [find.job(db, code) for code in codes]
    name = picture_files.name_for_job(db, saved[0].id, 1)
    assert name is not None and (folder / "pictures" / name).exists()
    assert picture_files.name_for_job(db, saved[1].id, 1) is None


def data(**more: object) -> dict[str, object]:
    station = {"does": "print", "colour": "white", "ink": "plastisol", "mesh": {"count": "160/in"}}
    return {
        "title": "Gulls", "customer": "Invented Rowing", "due": "2026-04-01",
        "art": {"name": "Gull", "revision": "1", "picture": "gull.png"},
        "garment": [{"style": "Tee", "colour": "navy", "pieces": 10, "fibre": {"cotton": 100}}],
        "placement": [{"name": "front", "width": "250 mm", "station": [station]}], **more,
    }  # fmt: skip


def test_the_art_stays_with_its_revision(db: Database, me: Actor):
    """The old picture beside a new revision would have the crew print the old artwork."""
    old, new = (pictures.take(db, me, photo(size, 20), now=NOW) for size in (30, 50))
    (code,) = jobs.add(db, me, [read(data())], post="art-" + "1" * 16, now=NOW, pictures=[old])
    job = find.job(db, code)

    def change(post: str, picture: str | None = None, **more: object) -> str | None:
        version = jobs.change(db, me, job, read(data(**more)), post="art-" + post * 16, now=NOW, picture=picture)
        shown = kept.of_job(db, job.id, version)
        return shown.hash if shown else None

    assert change("2", title="Gulls, two") == old
    assert change("3", art={"name": "Gull", "revision": "2"}) is None
    assert change("4", new, art={"name": "Gull", "revision": "2"}) == new
    assert change("5", old, art={"name": "Gull", "revision": "2"}) == old
    now = get(db, job.id)
    assert now is not None and now.version == 5


def test_a_repeat_shows_the_same_art_unless_its_revision_is_another(db: Database, me: Actor):
    old = pictures.take(db, me, photo(30, 20), now=NOW)
    (code,) = jobs.add(db, me, [read(data())], post="art-" + "6" * 16, now=NOW, pictures=[old])
    same = read(data(repeats=code))
    other = read(data(repeats=code, art={"name": "Gull", "revision": "B"}))
    strangers = read(data(repeats=code, customer="Another Club"))
    codes = jobs.add(db, me, [same, other, strangers], post="art-" + "7" * 16, now=NOW)
    shown = [kept.of_job(db, find.job(db, each).id, 1) for each in codes]
    assert shown[0] is not None and shown[0].hash == old and shown[1] is None and shown[2] is None


def test_a_jpeg_of_very_many_scans_is_refused_at_once_and_a_progressive_one_is_taken():
    made = photo(900, 600)
    end = made.rindex(b"\xff\xd9")
    empty = b"\xff\xda\x00\x08\x01\x01\x00\x00\x3f\x00"
    with pytest.raises(Refused, match="too many parts"):
        pictures.make(made[:end] + empty * 250 + made[end:])
    out = io.BytesIO()
    Image.open(io.BytesIO(made)).save(out, "JPEG", progressive=True, quality=95)
    assert out.getvalue().count(b"\xff\xda") > 5 and pictures.make(out.getvalue()).width == 900


def test_a_slow_picture_of_another_keeps_nobody_for_long(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(pictures, "LONGEST_TURN", 0.05)
    with pictures._at_once, pytest.raises(TryLater, match="Send yours again"):
        pictures.make(photo(90, 60))
    assert pictures.make(photo(90, 60)).width == 90


# Unpacked aside, within bounds


def test_what_is_unpacked_aside_is_the_same() -> None:
    for raw in (photo(900, 600, exif=exif(6)), SMALL_PNG):
        assert pictures.make(raw, reader=picture_reader.aside) == pictures.make(raw)
    for raw, told in ((photo()[:3000], "damaged"), (bomb(), "too many pixels")):
        with pytest.raises(Refused, match=told):
            pictures.make(raw, reader=picture_reader.aside)


def a_process(monkeypatch: pytest.MonkeyPatch, does: str) -> None:
    monkeypatch.setattr(picture_reader, "_command", lambda: (sys.executable, "-c", does))


def test_a_picture_that_takes_too_long_is_given_up_and_so_is_its_process(monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[subprocess.Popen[bytes]] = []
    real = subprocess.Popen.__init__
    monkeypatch.setattr(subprocess.Popen, "__init__", lambda one, *a, **k: (begun.append(one), real(one, *a, **k))[1])
    monkeypatch.setattr(picture_reader, "MOST_WAIT", 0.3)
    a_process(monkeypatch, "import time; time.sleep(60)")
    with pytest.raises(Refused, match="takes too long to read: save it smaller"):
        pictures.make(photo(90, 60), reader=picture_reader.aside)
    assert begun and all(one.returncode is not None for one in begun)
    a_process(monkeypatch, "import os, signal; os.kill(os.getpid(), signal.SIGXCPU)")
    with pytest.raises(Refused, match="takes too long"):
        pictures.make(photo(90, 60), reader=picture_reader.aside)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="only Linux says what a process held")
def test_the_largest_picture_is_unpacked_within_200_mb_and_bounds() -> None:
    program = (
        "import resource, sys; from tickets.actions import picture_reader as one; one.main(); "
        "held = next(line for line in open('/proc/self/status') if line.startswith('VmHWM')); "
        "most = [resource.getrlimit(what)[0] for what in (resource.RLIMIT_AS, resource.RLIMIT_CPU)]; "
        "print(held, *most, file=sys.stderr)"
    )
    command = [sys.executable, "-P", "-c", program]
    done = subprocess.run(command, input=plain_rows(6000, 5000, 6), capture_output=True, check=True, timeout=60)
    assert b'"width": 1600' in done.stdout.partition(b"\n")[0]
    held, room, seconds = (int(one) for one in re.findall(r"\d+", done.stderr.decode()))
    assert held < 200 * 1024 and room == picture_reader.ROOM and seconds == picture_reader.MOST_SECONDS
    with pytest.raises(Refused, match="too many pixels: save it smaller, 6000 by 5000"):
        pictures.make(png(6000, 5001, b""))


def test_what_a_jpeg_takes_unpacked_is_known_before(monkeypatch: pytest.MonkeyPatch) -> None:
    plain, parts = photo(900, 600), photo(900, 600, progressive=True, subsampling=0)
    with Image.open(io.BytesIO(parts)) as opened_one:
        assert picture_reader._waiting(opened_one, parts) == 900 * 600 * 3 * 2  # ITU T.81: every value kept, at 4:4:4
    monkeypatch.setattr(picture_reader, "MOST_UNPACKED", 900 * 600 * 4)
    assert pictures.make(plain).width == 900
    with pytest.raises(Refused, match="too many parts: save it as a plain JPEG"):
        pictures.make(parts)
    monkeypatch.setattr(picture_reader, "MOST_UNPACKED", 900 * 600 * 4 - 1)
    with pytest.raises(Refused, match="too many pixels"):
        pictures.make(plain)
    monkeypatch.setattr(picture_reader, "SIDE", 400)  # then half of it is enough
    assert pictures.make(plain).width == 400


def test_a_picture_being_read_keeps_no_page_and_no_further_picture_waiting(
    client: FlaskClient,
    sign_in: Callable[[FlaskClient, str], FlaskClient],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.setattr(pictures, "LONGEST_TURN", 60.0)  # it is their number that is too many here
    go = tmp_path / "go"
    waits = f"import os, time\nwhile not os.path.exists({str(go)!r}): time.sleep(0.02)\n"
    a_process(monkeypatch, waits + """print('{"unfit": "damaged"}')""")
    told: list[str] = []

    def send() -> None:
        try:
            pictures.make(photo(90, 60), reader=picture_reader.aside)
        except Refused as refused:
            told.append(refused.faults[0].message)

    senders = [threading.Thread(target=send) for _n in range(5)]
    for one in senders:
        one.start()
    until = time.monotonic() + 10
    while len(told) < 2 and time.monotonic() < until:
        time.sleep(0.01)
    assert len(told) == 2 and all("Send yours again in 5 s" in one for one in told), "one is read, two wait"
    assert sign_in(client, "Bo Lind").get("/screens").status_code == 200
    go.touch()
    for one in senders:
        one.join(20)
    assert sorted("damaged" in one for one in told) == [False, False, True, True, True]
