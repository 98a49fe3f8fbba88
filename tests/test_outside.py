"""What comes from outside as text is read in one place: numbers, days, times, data; and what no page can read is put
right at the door."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
import shop as shops
from flask.testing import FlaskClient

from tickets.calculator.numerals import counted
from tickets.domain import outside
from web import support
from web.incoming import Fields


@pytest.mark.parametrize(
    "text", ["²", "٣", "３", "1_0", "0x1", "-1", "1.5", "", " ", "9" * 16, "9" * 5_000, "1e3", "+1", None]
)
def test_a_number_that_names_a_thing_is_plain_digits_that_a_row_can_have(text: str | None) -> None:
    assert counted(text, -1) == -1


def test_a_number_that_names_a_thing_is_read() -> None:
    assert [counted(text) for text in ("7", " 12 ", "007", "9" * 15)] == [7, 12, 7, 999_999_999_999_999]


@pytest.mark.parametrize(
    "text",
    ["0000-00-00", "0001-01-01", "9999-12-31", "10000-01-01", "2026-02-31", "2026-13-01", "20260310", "2026-W10-2",
     "2026-3-1", "٢٠٢٦-٠٣-١٠", "2026-03-1²", "today", "", "2026-03-10T10:00"],
)  # fmt: skip
def test_no_day(text: str) -> None:
    assert outside.day(text) is None


def test_a_day() -> None:
    assert outside.day(" 2026-03-10 ") == date(2026, 3, 10)
    assert outside.day("0002-01-01") and outside.day("9998-12-31")


@pytest.mark.parametrize(
    "text",
    ["0001-01-01T00:00+14:00", "0001-12-31T00:00", "9999-12-31T23:59-14:00", "9999-01-01T00:00",
     "2026-03-10T25:00", "2026-03-10T10:00+99:99", "٢٠٢٦-٠٣-١٠T10:00", "soon", "", "2026-03-10T10:00:00." + "1" * 40],
)  # fmt: skip
def test_no_time(text: str) -> None:
    assert outside.moment(text) is None


def test_a_time_can_be_said_in_any_zone() -> None:
    assert outside.moment("2026-03-10T09:30") == datetime(2026, 3, 10, 9, 30)
    assert outside.moment("2026-03-10T09:30Z") == datetime(2026, 3, 10, 9, 30, tzinfo=UTC)
    for text in ("0002-01-01T00:00+14:00", "9998-12-31T23:59-14:00"):
        found = outside.moment(text)
        assert found is not None and found.astimezone(UTC) and found + timedelta(days=1)


@pytest.mark.parametrize(
    "text",
    ["[" * 100_000, '[{"a": ' * 90 + "1" + "}]" * 90, "NaN", "[1e400]", "[-Infinity]", "9" * 16, "9" * 5_000,
     '"\\ud800"', '[["\\udfff"]]', '{"\\ud800": 1}', "", "{", b"\xff", "[" * 61 + "]" * 61],
)  # fmt: skip
def test_no_data(text: str | bytes) -> None:
    with pytest.raises(ValueError):
        outside.data(text)


def test_data() -> None:
    assert outside.data('[{"a": [1, -2, 1.5, null, true, "\\ud83e\\uddf5"]}]') == [
        {"a": [1, -2, 1.5, None, True, "\U0001f9f5"]}
    ]
    assert outside.data("[" * 60 + "]" * 60)


# -- at the door


@pytest.fixture
def lead(client: FlaskClient) -> FlaskClient:
    return shops.signed_in(client, "Cy Marsh")


@pytest.mark.parametrize(
    "referer", ["http://[", "http://[::1", "//[", "http://a:b:c/", "http://localhost//evil.test", "\x80"]
)
def test_a_broken_referer_is_none(lead: FlaskClient, referer: str) -> None:
    answer = lead.post("/screens/new", headers={"Referer": referer})
    assert answer.status_code == 422 and "evil" not in answer.text


@pytest.mark.parametrize("path", ["/sign-in?next=//[", "/sign-in?next=/\\x", "/sign-in?next=//evil.test"])
def test_a_broken_address_to_go_on_to_is_none(client: FlaskClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200 and 'name="next" value="/"' in answer.text


@pytest.mark.parametrize("text", ["/x", "/[", "//[", "http://[", "/\x00", "/é[::1"])
def test_a_path_of_ours_is_told_from_what_is_none(text: str) -> None:
    assert support.local_path(text) == (text if text in ("/x", "/[", "/é[::1") else "/")


def test_bytes_of_a_query_that_are_no_text_are_read_as_a_browser_would_have_sent_them(lead: FlaskClient) -> None:
    for path in ("/find", "/desk/pool", "/sign-in", "/nowhere"):
        answer = lead.get(path, environ_overrides={"QUERY_STRING": "q=a\xffb&n\xffxt=7\xe2\x82"})
        assert answer.status_code in (200, 404), path


def test_a_part_without_a_name_belongs_to_no_field(lead: FlaskClient) -> None:
    assert list(Fields([(None, "x"), ("a", "y")]).items(multi=True)) == [("a", "y")]
    for head in ("form-data", "", 'form-data; name*=²; filename="x"', 'form-data; filename="x"', ";"):
        body = f"--edge\r\nContent-Disposition: {head}\r\n\r\nx\r\n--edge--\r\n".encode()
        answer = lead.post("/screens/new", data=body, content_type="multipart/form-data; boundary=edge")
        assert answer.status_code == 422, head


@pytest.mark.parametrize(
    "at", ["0001-01-01T00:00+14:00", "9999-12-31T23:59-14:00", "0000-00-00T00:00", "10000-01-01T00:00"]
)
def test_a_time_at_the_end_of_the_calendar_comes_back_beside_its_field(
    lead: FlaskClient, at: str, bench: shops.Shop
) -> None:
    answer = lead.post(f"/screens/{bench.frame()}/note", data={"note": "x", "at": at, "entry": shops.fresh()})
    assert answer.status_code == 422 and "cannot be read as a time" in answer.text


def test_jobs_are_looked_for_by_what_was_typed_however_long_and_whatever_it_holds(
    lead: FlaskClient, bench: shops.Shop
) -> None:
    bench.job(title="Half-price totes, 50 % off_")
    for text, found in (("50 % off", True), ("f_", True), ("%", True), ("5%0", False), ("50_%", False), ("!", False)):
        assert ("Half-price totes" in lead.get("/jobs", query_string={"q": text}).text) is found, text
    for text in ("[" * 60_000, "%" * 2_000, "a" * 1_001):
        assert lead.get("/jobs", query_string={"q": text}).status_code == 200
