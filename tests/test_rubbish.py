"""Rubbish for every page, every command and every file that is read, by a seed: nothing fails, what is refused changes
nothing, the shop stays sound. A thousand requests here, a hundred thousand by name."""

from __future__ import annotations

from pathlib import Path

import pytest
import rubbish
import rubbish_commands
import shop as shops

pytestmark = [
    # what came of a file in a form that breaks off within it is closed by Python, when nobody holds it any more
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore:Duplicate name"),  # of a zip made here that holds a name twice
]

SLICES, EACH = 40, 2_500
"""A hundred thousand requests, each slice of them to a fresh shop."""


def told(faults: list[str]) -> str:
    return "\n\n".join(faults[:20])


def test_a_thousand_requests() -> None:
    found = rubbish.slice_of(1, 1_000)
    assert not found.faults, told(found.faults)
    assert sum(number for name, number in found.answers.items() if not name.startswith("plain")) == 1_000
    assert found.answers["303"] > 50 and found.answers["422"] > 100  # forms that are taken, and that are refused


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2, 2 + SLICES))
def test_a_hundred_thousand_requests(seed: int) -> None:
    found = rubbish.slice_of(seed, EACH)
    assert not found.faults, told(found.faults)


@pytest.mark.parametrize(
    "head",
    [b"Content-Length: " + b"9" * 5_000, b"Content-Length: \xb2", b"X\0Y: z", b"no colon"],
)
def test_a_head_that_cannot_be_read_is_answered(server: str, head: bytes, caplog: pytest.LogCaptureFixture) -> None:
    send = rubbish.Wire(server)
    for first in (b"GET /ping HTTP/1.1", b"GET http://[ HTTP/1.1"):
        answer = send(rubbish.Request("", b"", body=b"\r\n".join([first, b"Host: localhost", head, b"", b""])))
        assert answer.status == 400, (first, head)
    assert not [one for one in caplog.records if one.levelname == "ERROR"]


def test_a_hundred_requests_over_the_wire() -> None:
    found = rubbish.over_the_wire(1, 100)
    assert not found.faults, told(found.faults)


@pytest.mark.slow
def test_four_thousand_requests_over_the_wire() -> None:
    found = rubbish.over_the_wire(2, 4_000)
    assert not found.faults, told(found.faults)


def test_some_commands_and_files(tmp_path: Path) -> None:
    found = rubbish_commands.run(tmp_path, 1, 40, 50)
    assert not found.faults, told(found.faults)


@pytest.mark.slow
def test_three_thousand_commands_and_two_thousand_files(tmp_path: Path) -> None:
    found = rubbish_commands.run(tmp_path, 2, 3_000, 2_000)
    assert not found.faults, told(found.faults)


@pytest.mark.parametrize(
    "text", [b"not JSON", b"\xff\xfe", b"[]", b"7", b"{}", b'{"log": ', b"[" * 90_000, b'{"log": NaN}']
)
def test_a_backup_that_tells_rubbish_of_itself_is_damaged(folder: Path, tmp_path: Path, text: bytes) -> None:
    import zipfile

    tickets = shops.commands(folder)
    assert tickets("backup", tmp_path / "whole.zip").exit_code == 0
    with zipfile.ZipFile(tmp_path / "whole.zip") as whole, zipfile.ZipFile(tmp_path / "b.zip", "w") as made:
        for name in whole.namelist():
            made.writestr(name, text if name == "about.json" else whole.read(name))
    answer = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "new")
    assert answer.exit_code == 2 and "is damaged: about.json" in answer.output and not (tmp_path / "new").exists()


@pytest.mark.parametrize("twice", ["shop.db", "about.json"])
def test_a_backup_that_holds_a_name_twice_is_none_of_ours(folder: Path, tmp_path: Path, twice: str) -> None:
    import zipfile

    tickets = shops.commands(folder)
    assert tickets("backup", tmp_path / "b.zip").exit_code == 0
    with zipfile.ZipFile(tmp_path / "b.zip", "a") as whole:
        whole.writestr(twice, whole.read(twice))
    answer = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "new")
    assert answer.exit_code == 2 and f"holds what no backup holds: {twice}" in answer.output
    assert not (tmp_path / "new").exists()


def test_tables_that_are_damaged_by_what_is_no_text_are_damaged(folder: Path, tmp_path: Path) -> None:
    import zipfile

    tickets = shops.commands(folder)
    assert tickets("backup", tmp_path / "whole.zip").exit_code == 0
    with zipfile.ZipFile(tmp_path / "whole.zip") as whole, zipfile.ZipFile(tmp_path / "b.zip", "w") as made:
        for name in whole.namelist():
            made.writestr(name, whole.read(name).replace(b"CREATE TABLE settings", b"CREATE TABLEXsett\xa8ngs"))
    answer = tickets("restore", tmp_path / "b.zip", "--data", tmp_path / "new")
    assert answer.exit_code == 2 and "cannot be read" in answer.output and not (tmp_path / "new").exists()


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no file here that never ends")
@pytest.mark.parametrize(
    "words",
    ["screen import /dev/zero", "calc probe --file /dev/zero --cure 160degC", "backup /dev/zero", "restore /dev/zero",
     "job check /dev/zero", "run log 1 approve --lab_file /dev/zero"],
)  # fmt: skip
def test_a_file_that_never_ends_is_refused(folder: Path, words: str) -> None:
    with rubbish_commands.little_memory(200_000_000):
        status, said = rubbish_commands.answered(words.split(), folder / "new" if "restore" in words else folder)
    assert status == 2 and "Traceback" not in said, said
    if "backup" not in words and "restore" not in words:
        assert "large" in said


@pytest.mark.parametrize(
    "words",
    [
        "screen log \udced\udca0\udc80 note",
        "screen show \udcff",
        "place add \udcff",
        "--json bucket list --\udcff",
        "job check \udcff.toml",
    ],
)
def test_an_argument_that_is_no_text_is_refused(folder: Path, words: str) -> None:
    status, said = rubbish_commands.answered(words.split(), folder)
    assert status == 2 and "is not a text in UTF-8" in said and "Traceback" not in said


class Broken(rubbish.Straight):
    """Pages with a fault that is put in."""

    def __init__(self, app, fault) -> None:
        super().__init__(app)
        self.fault = fault

    def __call__(self, sent: rubbish.Request) -> rubbish.Answer:
        answer = super().__call__(sent)
        return self.fault(self.app, sent, answer)


def writes(app, sent, answer):
    if answer.status == 422:
        from tickets import store

        db = store.connect(app.config["FOLDER"])
        with db.conn:
            db.execute("UPDATE people SET name = name || 'x' WHERE id = 2")
        db.close()
    return answer


def raises(app, sent, answer):
    raise RuntimeError("planted")


FAULTS = {
    "a page that fails": (lambda app, sent, answer: rubbish.Answer(500, answer.headers, answer.body), "status 500"),
    "a traceback": (
        lambda app, sent, answer: rubbish.Answer(422, [("Content-Type", "text/html")], b"Traceback (most recent"),
        "a traceback in the page",
    ),
    "what was sent as it is": (
        lambda app, sent, answer: rubbish.Answer(200, [("Content-Type", "text/html")], b"<p><script>ouch</script>"),
        "stands in the page as it is",
    ),
    "leads elsewhere": (lambda app, sent, answer: rubbish.Answer(303, [("Location", "//evil.test/")], b""), "leads to"),
    "past the handler": (raises, "past the handler"),
    "refused and written": (writes, "but changed ['people']"),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_that_is_put_in_is_found(folder: Path, name: str) -> None:
    """The watch sees each sort of fault: rubbish that finds nothing must mean that there is nothing."""
    fault, said = FAULTS[name]
    with shops.pages(folder, testing=False) as app:
        watched = rubbish.Watched(app, rubbish.Shop(app, 1, Broken(app, fault)))
        watched.sent(
            rubbish.Request(
                "POST",
                b"/sign-in",
                (
                    ("Host", "localhost"),
                    ("Origin", "http://localhost"),
                    ("Content-Type", "application/x-www-form-urlencoded"),
                    ("Content-Length", "0"),
                ),
            )
        )
        watched.close()
    assert said in told(watched.faults)
