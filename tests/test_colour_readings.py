"""Colour readings as instruments write them, how they were taken, and files of measured patches.

The numbers are invented; what a file looks like is ISO 28178:2009 (CGATS.17 before it).
"""

from __future__ import annotations

import math

import pytest

from tickets.calculator import colour
from tickets.calculator.colour import Lab
from tickets.calculator.colour_text import readings
from tickets.domain.refusal import Refused
from tickets.domain.runs import colour_file, lab

ONE = (52.1, -3.4, 18.0)
HOW = "D50, 2°, M1, bench meter"


def numbers(text: str) -> list[tuple[float, float, float]]:
    return [(one.lightness, one.a, one.b) for one in readings(text)]


@pytest.mark.parametrize(
    "text",
    [
        "L* 52.10 a* -3.40 b* 18.00",
        "L*=52.10 a*=-3.40 b*=18.00",
        "L*=52,10, a*=-3,40, b*=18,00",
        "L: 52,1; a: -3,4; b: 18",
        "L* 52.1\na* -3.4\nb* 18.0",
        "52.1\r\n-3.4\r\n18",
        "b* 18 a* -3.4 L* 52.1",
        "CIE L*52.1 a*−3.4 b*18",  # noqa: RUF001
        "L* 52.10 a* -3.40 b* 18.00 C* 18.32 h 100.7",
        "L*a*b*: 52.1 -3.4 18",
        "Lab(52.1, -3.4, 18)",
        "52.1 -3.4 18",
        "52,1 -3,4 18",
        "52.1,-3.4,18.0",
        "52.1, -3.4, 18",
        "52,1, -3,4, 18,0",
        "52,1;-3,4;18,0",
        "52.1/-3.4/18",
        "52.1\t-3.4\t18",
    ],
)
def test_a_reading_in_either_decimal_habit(text: str) -> None:
    assert numbers(text) == [ONE]


def test_whole_numbers_and_three_decimals_are_no_question() -> None:
    assert numbers("52,-3,18") == [(52, -3, 18)]
    assert numbers("52,104 -3,412 18,003") == [(52.104, -3.412, 18.003)]  # no colour has thousands


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("52,1,-3,4,18,0", "two ways: is it 52.1 -3.4 18.0?"),
        ("52, 1, -3, 4, 18, 0", "two ways: is it 52.1 -3.4 18.0?"),
        ("52,1,-3,4,18", "several ways"),
        ("52 -3", "Three numbers are needed"),
        ("L* 52 a* -3", "Three numbers are needed"),
        ("L* 52 L* 53 a* 1", "Three numbers are needed"),
        ("1e1 2 3", "not a number we take"),
        ("nan 0 0", "not a number we take"),
        ("inf 0 0", "not a number we take"),
        ("5_2 0 0", "not a number we take"),
        ("L* 5e1 a* 0 b* 0", "not a number we take"),
        ("150 0 0", "L* runs from 0"),
        ("50 250 0", "between -200 and 200"),
    ],
)
def test_what_is_unclear_is_asked_and_never_guessed(text: str, asked: str) -> None:
    with pytest.raises(ValueError, match=asked.replace("?", r"\?")):
        readings(text)


def test_several_readings_of_one_colour_come_to_their_mean_and_spread() -> None:
    """By hand: the mean of 52 and 54 is 53; CIEDE2000 along L* alone is dL / SL, SL at (53 + 52) / 2."""
    values = lab.read({"lab.3": ["52 0 0; 54 0 0"], "lab_conditions": [HOW]}, {3: "blue"})
    assert values["lab"] == {"3": [53.0, 0.0, 0.0]} and values["lab_readings"] == {"3": [[52, 0, 0], [54, 0, 0]]}
    low = 52.5 - 50
    by_hand = 1 / (1 + 0.015 * low**2 / math.sqrt(20 + low**2))
    high = 53.5 - 50
    other = 1 / (1 + 0.015 * high**2 / math.sqrt(20 + high**2))
    number, far = lab.kept(values).spread(3) or (0, 0.0)
    assert number == 2 and far == pytest.approx(max(by_hand, other), abs=1e-9)
    assert lab.kept(lab.read({"lab.3": ["52 0 0"], "lab_conditions": [HOW]})).spread(3) is None


def test_the_biggest_way_to_turn_comes_first() -> None:
    """Approved 50 / 10 / -5; printed 52 / 9.5 / -9: 2 too light, 0.5 too green, 4 too blue."""
    found = [(one.way, round(one.by, 6)) for one in colour.turns(Lab(50, 10, -5), Lab(52, 9.5, -9))]
    assert found == [("yellower", 4.0), ("darker", 2.0), ("redder", 0.5)]
    assert colour.turns(Lab(50, 0, 0), Lab(50.04, 0, 0)) == []
    back = [one.way for one in colour.turns(Lab(52, 9.5, -9), Lab(50, 10, -5))]
    assert back == ["bluer", "lighter", "greener"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (HOW, ("D50", "2°", "M1", "bench meter")),
        ("d50 2° Bench Meter", ("D50", "2°", "", "Bench Meter")),
        ("D65/10", ("D65", "10°", "", "")),
        ("illuminant A, observer 10 degrees, M0", ("A", "10°", "M0", "")),
        ("somebody’s lamp", ("", "", "", "somebody’s lamp")),
    ],
)
def test_how_a_reading_was_taken_is_read_out_of_a_text(text: str, found: tuple[str, ...]) -> None:
    one = lab.under_of(text)
    assert (one.light, one.observer, one.mode, one.instrument) == found


def refused(sent: dict[str, list[str]], last: str = "") -> dict[str, str]:
    with pytest.raises(Refused) as found:
        lab.read(sent, {1: "White", 3: "Blue"}, last)
    return {one.where: one.message for one in found.value.faults}


def test_a_reading_without_its_light_is_asked_for_it_there_and_then() -> None:
    told = refused({"lab.1": ["52 1 1"]}, "D50, 2°, M1, last meter")
    assert list(told) == ["lab_conditions"] and "Last time: D50, 2°, M1, last meter" in told["lab_conditions"]
    assert "the observer" in refused({"lab.1": ["52 1 1"], "lab_conditions": ["D50"]})["lab_conditions"]
    partly = refused({"lab.1": ["52 1 1"], "lab_light": ["D50"]})
    assert sorted(partly) == ["lab_instrument", "lab_mode", "lab_observer"]
    assert lab.read({"lab_conditions": ["D50"]}) == {}, "nothing is asked where nothing was read"


def test_each_reading_is_stamped_with_how_it_was_taken() -> None:
    parts = {"lab_light": ["D50"], "lab_observer": ["2°"], "lab_mode": ["M1"], "lab_instrument": ["bench meter"]}
    values = lab.read({"lab.1": ["52 1 1"], "lab.3": ["30 2 2"], **parts})
    assert values["lab_under"] == {"1": HOW, "3": HOW} and values["lab_conditions"] == HOW
    bare = lab.read({"lab.1": ["52 1 1"], **{**parts, "lab_mode": ["no mode"]}})
    assert bare["lab_under"] == {"1": "D50, 2°, bench meter"}
    assert "M0, M1" in refused({"lab.1": ["52 1 1"], **{**parts, "lab_mode": ["M9"]}})["lab_mode"]


FILE = """CGATS.17
ORIGINATOR "a shop of ours"  # a comment
INSTRUMENTATION "Meter no. 3"
WEIGHTING_FUNCTION "ILLUMINANT, D50"
WEIGHTING_FUNCTION "OBSERVER, 2 degree"
KEYWORD "MEASURED_WITH"
MEASUREMENT_SOURCE "M1"
NUMBER_OF_FIELDS 5
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B
END_DATA_FORMAT
NUMBER_OF_SETS 3
BEGIN_DATA
1 "white" 92.10 -0.50 2.00
2 blue 30.00 5.00 -40.00
3 "blue" 30.40 5.20 -40.20
END_DATA
"""


def test_a_file_of_patches_goes_to_the_colours_that_it_names() -> None:
    values = lab.read({"lab_patches": [FILE]}, {1: "White", 3: "Blue"})
    assert values["lab"] == {"1": [92.1, -0.5, 2.0], "3": [30.2, 5.1, -40.1]}
    assert values["lab_readings"] == {"3": [[30.0, 5.0, -40.0], [30.4, 5.2, -40.2]]}
    assert values["lab_conditions"] == "D50, 2°, M1, Meter no. 3", "the file says itself how it was measured"


def test_a_patch_that_nobody_can_tell_is_asked_for_and_answered() -> None:
    file = FILE.replace("blue", "A7", 1)
    told = refused({"lab_patches": [file]})
    assert list(told) == ["lab_patch.2"] and "patch 2 “A7” (L* 30, a* 5, b* -40)" in told["lab_patch.2"]
    found = lab.read({"lab_patches": [file], "lab_patch.2": ["3"]}, {1: "White", 3: "Blue"})
    assert found["lab"]["3"] == [30.2, 5.1, -40.1]
    found = lab.read({"lab_patches": [file], "lab_patch.2": ["-"]}, {1: "White", 3: "Blue"})
    assert found["lab"]["3"] == [30.4, 5.2, -40.2]
    numbered = FILE.replace('1 "white"', "1 1").replace("2 blue", "2 2").replace('3 "blue"', "3 3")
    assert sorted(refused({"lab_patches": [numbered]})) == ["lab_patch.1", "lab_patch.2", "lab_patch.3"], "no guess"
    assert set(lab.read({"lab_patches": [numbered]}, {2: "white"})["lab"]) == {"2"}, "one colour: they are all of it"


def test_a_block_that_is_pasted_beside_a_colour_is_of_that_colour() -> None:
    block = "BEGIN_DATA_FORMAT\nLAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n52,1\t-3,4\t18\nEND_DATA"
    assert lab.read({"lab.3": [block], "lab_conditions": [HOW]})["lab"] == {"3": list(ONE)}
    assert "several names" in refused({"lab.3": [FILE]})["lab.3"]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (("NUMBER_OF_SETS 3", "NUMBER_OF_SETS 4"), "says 4 patches and has 3"),
        (("LAB_B", "XYZ_Z"), "no LAB_B: export them as CIE L*a*b*"),
        (("END_DATA\n", ""), "END_DATA_FORMAT is missing"),
        (('1 "white" 92.10 -0.50 2.00', '1 "white" 92.10 -0.50'), "Patch 1 has 4 values for 5 columns"),
        (("92.10", "1e2"), "Patch 1 (white): “1e2” is not a number we take"),
        (("92.10", "192.10"), "L* runs from 0"),
        (("BEGIN_DATA\n", "DATA\n"), "no data in it"),
    ],
)
def test_a_faulty_file_says_what_is_wrong(change: tuple[str, str], fault: str) -> None:
    head, sep, tail = FILE.rpartition(change[0])
    text = head + change[1] + tail
    if change[0] == "END_DATA\n":
        fault = "END_DATA is missing"
    found = colour_file.read(text)
    assert sep and not found.patches and fault in " ".join(found.faults)
    assert fault in refused({"lab_patches": [text]})["lab_patches"]


def test_two_colours_of_one_name_are_asked_apart() -> None:
    """An underbase and a highlight are both called white: the name alone says nothing."""
    with pytest.raises(Refused) as found:
        lab.read({"lab_patches": [FILE]}, {1: "White", 3: "Blue", 5: "white"})
    assert [one.where for one in found.value.faults] == ["lab_patch.1"]


HEAD = "BEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"


def patches(*rows: str, before: str = "", head: str = HEAD) -> str:
    return before + head + "BEGIN_DATA\n" + "\n".join(rows) + "\nEND_DATA\n"


def test_a_file_says_how_and_with_what_it_was_measured_and_names_its_patches() -> None:
    before = (
        'INSTRUMENTATION "Bench meter" second\nILLUMINATION_NAME D50\nOBSERVER_ANGLE 2\nFILTER\nINSTRUMENTATION\n'
        "NUMBER_OF_SETS\n# a remark\n"
    )
    found = colour_file.read(patches('1 "red ""top""" 50 1 2', '2 "" 60 0 -1.5 # seen', before=before))
    assert (found.instrument, found.how, found.faults) == ("Bench meter", "D50, 2", ())
    named = [(one.number, one.name, one.lab) for one in found.patches]
    assert named == [(1, 'red "top"', Lab(50, 1, 2)), (2, "2", Lab(60, 0, -1.5))]


def test_tables_one_after_the_other_go_on_counting_and_say_each_how_many_they_have() -> None:
    two = patches("1 a 50 0 0", before="NUMBER_OF_SETS 1\n") + patches("1 b 40 0 0", "2 c 30 0 0")
    assert [(one.number, one.name) for one in colour_file.read(two).patches] == [(1, "a"), (2, "b"), (3, "c")]
    on_one_line = "BEGIN_DATA_FORMAT LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n50 0 0\nEND_DATA"
    assert [(one.number, one.name) for one in colour_file.read(on_one_line).patches] == [(1, "")]
    again = patches("50 0 0", head="BEGIN_DATA_FORMAT\nLAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n")
    assert [one.name for one in colour_file.read(two + again).patches][-1] == "", "the second table has no names"


@pytest.mark.parametrize(("text", "said"), [
    ("", "no data in it"),
    (patches("1 a 50 0"), "Patch 1 has 4 values for 5 columns."),
    (patches("1 a 50 0 0", "2 b x 0 0"), "Patch 2 (b)"),
    (patches("1 a 50 0 0", before="NUMBER_OF_SETS 2\n"), "says 2 patches and has 1"),
    (patches("1 a 50 0 0", head=HEAD.replace("LAB_B", "XYZ").replace("LAB_L", "L")), "no LAB_L, LAB_B:"),
    (patches("1 a 50 0 0").replace("END_DATA\n", ""), "END_DATA is missing"),
    (patches(*("1 a 50 0 0" for _ in range(201))), "has 201 patches"),
    ("x" * 200_001, "too long"),
])  # fmt: skip
def test_a_file_that_cannot_be_taken_says_why_and_gives_nothing(text: str, said: str) -> None:
    found = colour_file.read(text)
    assert said in " ".join(found.faults) and len(found.faults) == 1 and found.patches == ()


def test_as_much_as_a_file_may_have() -> None:
    assert len(colour_file.read(patches(*("1 a 50 0 0" for _ in range(200)))).patches) == 200
    text = patches("1 a 50 0 0")
    assert colour_file.read(text + "#" * (200_000 - len(text))).faults == ()


def sent_back(**sent: str | list[str]) -> list[tuple[str, str]]:
    with pytest.raises(Refused) as told:
        taken(**sent)
    return [(one.where, one.message) for one in told.value.faults]


def taken(stations: dict[int, str] | None = None, **sent: str | list[str]) -> dict[str, object]:
    form = {name.replace("__", "."): [text] if isinstance(text, str) else text for name, text in sent.items()}
    return lab.read(form, {1: "white", 2: "red"} if stations is None else stations)


def test_how_a_reading_was_taken_is_asked_part_by_part() -> None:
    told = {"lab_light": "D50", "lab_observer": "2°", "lab_mode": "M1", "lab_instrument": "m" * lab.MOST_LETTERS}
    assert taken(lab__1="50 0 0", **told)["lab_under"] == {"1": f"D50, 2°, M1, {'m' * lab.MOST_LETTERS}"}
    assert [one[0] for one in sent_back(lab__1="50 0 0", **{**told, "lab_mode": ""})] == ["lab_mode"]
    assert [one[0] for one in sent_back(lab__1="50 0 0", **{**told, "lab_mode": "M9"})] == ["lab_mode"]
    long = "m" * (lab.MOST_LETTERS + 1)
    assert [one[0] for one in sent_back(lab__1="50 0 0", **{**told, "lab_instrument": long})] == ["lab_instrument"]
    assert taken(lab__1=["", " 50 0 0 "], lab_conditions=HOW)["lab"] == {"1": [50, 0, 0]}
    assert [one[0] for one in sent_back(lab__1="50 0 0", lab_conditions="D50")] == ["lab_conditions"]
    assert "observer" in sent_back(lab__1="50 0 0", lab_conditions="D50")[0][1]
    assert taken(lab_conditions="D50") == taken(lab__1="  ", lab_conditions=HOW) == {}


def test_readings_go_where_something_is_printed() -> None:
    for where in ("lab__3", "lab__x", "lab__0"):
        assert sent_back(**{where: "50 0 0", "lab_conditions": HOW})[0][0] == where.replace("__", ".")
    assert taken(lab__2=["50 0 0", "51 0 0"], lab_conditions=HOW)["lab_readings"] == {"2": [[50, 0, 0], [51, 0, 0]]}
    one_name = patches("1 red 50 0 0", "2 Red 52 0 0", "3 7 51 0 0")
    assert taken(lab__2=one_name, lab_conditions=HOW)["lab"] == {"2": [51, 0, 0]}, "a bare number names nothing"
    assert "several names" in sent_back(lab__2=patches("1 red 50 0 0", "2 blue 5 0 0"), lab_conditions=HOW)[0][1]
    assert sent_back(lab__2=patches("1 red 50 0"), lab_conditions=HOW)[0][0] == "lab.2"
    assert sent_back(lab_patches="50 0 0", lab_conditions=HOW)[0][0] == "lab_patches"
    assert sent_back(lab_patches=patches("1 red 50 0"), lab_conditions=HOW)[0][0] == "lab_patches"


def test_a_reading_with_a_light_of_its_own_beside_one_of_the_forms() -> None:
    own = patches("1 red 50 0 0", before="ILLUMINATION_NAME D65\nOBSERVER_ANGLE 10\nINSTRUMENTATION Pocket\n")
    found = taken(lab_patches=own, lab__1="60 0 0", lab_conditions=HOW)
    assert found["lab_under"] == {"1": HOW, "2": "D65, 10°, M1, Pocket"}
    assert found["lab_conditions"] == f"{HOW}; D65, 10°, M1, Pocket"
    assert sent_back(lab_patches=own, lab__2="60 0 0", lab_conditions=HOW)[0][0] == "lab_patches"
    one = patches("1 7 50 0 0")
    assert taken({4: "white"}, lab_patches=one, lab_conditions=HOW)["lab"] == {"4": [50, 0, 0]}, "there is one colour"
    assert taken({4: "white"}, lab_patches=patches('1 "" 50 0 0', head=HEAD.replace("SAMPLE_ID ", "X ")),
                 lab_conditions=HOW)["lab"] == {"4": [50, 0, 0]}  # fmt: skip
    with pytest.raises(Refused):
        taken({4: "white"}, lab_patches=patches("1 sea 50 0 0"), lab_conditions=HOW)
    assert taken(lab_patches=one, lab_patch__1="2", lab_conditions=HOW)["lab"] == {"2": [50, 0, 0]}
