"""Files to take along, a list of frames brought in, and traces: what they say, and that they agree."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from flask.testing import FlaskClient
from sqlite_utils import Database

from tickets.floor import frame_list
from tickets.records import steps
from tickets.records.refusal import Refused

SignIn = Callable[[FlaskClient, str], FlaskClient]
NOW = datetime.now(UTC).replace(microsecond=0)


# A list of frames


@pytest.mark.parametrize(
    ("count", "thread", "unit", "said"),
    [
        ("230/in", "480", "um", "below 110.435 um"),
        ("230/in", "18.9", "mil", "below 4.34 mil"),
        ("100/cm", "100", "um", "below 100 um"),
        ("230/in", "110.5", "", "below 110.435 um"),
    ],
)
def test_a_thread_as_thick_as_the_pitch_is_refused_with_what_would_do(
    count: str, thread: str, unit: str, said: str
) -> None:
    """Geometry: the pitch is 25,400 um over the count per inch; a thread that fills it leaves no opening."""
    sent = {"mesh_count_as_labelled": [count], "thread_um": [thread], "thread_um.unit": [unit]}
    with pytest.raises(Refused, match=f"{thread}.* no opening in a {count} mesh: {said} would do") as refused:
        steps.read(steps.SCREEN_STEPS["stretch"], sent)
    assert [fault.where for fault in refused.value.faults] == ["thread_um"]


def test_a_thread_thinner_than_the_pitch_is_taken() -> None:
    sent = {"mesh_count_as_labelled": ["230/in"], "thread_um": ["110"]}
    assert steps.read(steps.SCREEN_STEPS["stretch"], sent)[0]["thread_um"] == 110


def test_a_list_with_a_thread_wider_than_its_mesh_is_refused_at_its_line(db: Database) -> None:
    found = frame_list.read(db, "mark,mesh_count,thread_um\nA 1,230/in,480\nA 2,230/in,48\n", NOW)
    assert [(one.where, "no opening" in one.message) for one in found.faults] == [("line 2", True)]
    assert [one.mark for one in found.frames] == ["A 2"]


def test_a_mark_is_one_line_however_it_was_typed(db: Database) -> None:
    found = frame_list.read(db, 'mark,mesh_count\n"A\n 1",230/in\n"A\t1",90/cm\n"B\x07",90/cm\n', NOW)
    assert [one.mark for one in found.frames] == ["A 1"]
    (twice, unseen) = found.faults
    assert "is in line 2 too" in twice.message and "nobody can see" in unseen.message


def test_a_line_is_counted_once_and_nothing_is_said_to_go_in_while_one_is_wrong(
    client: FlaskClient, sign_in: SignIn, db: Database
) -> None:
    phone = sign_in(client, "Di Novak")

    def said(text: str) -> str:
        answer = phone.post("/desk/import", data={"list": text, "act": "take", "entry": secrets.token_hex(12)})
        assert answer.status_code == 422 and db.execute("SELECT count(*) FROM screens").fetchone() == (0,)
        return " ".join(answer.text.split("<main")[1].split())

    three = said("mark,mesh_count,frame,place\nA 1,,plastic,Nowhere\nA 2,90/cm,wood,\n")
    assert "1 line is refused" in three and three.count("<li><b>line 2</b>") == 1
    assert "Nothing was brought in: a list goes in as a whole" in three
    assert "1 other line is right" in three and "would be brought in" not in three
    head = said("mark,colour,width,height\nA,b,c,d\n")
    assert "1 line is refused" in head and "other line" not in head
