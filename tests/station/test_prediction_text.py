"""Simulations' tables as people save them, and the mistakes that they make: each is one line with the remedy."""

import re
from importlib.resources import files

import pytest

from station.errors import PredictionError
from station.prediction import Prediction
from station.prediction_columns import columns_named
from station.prediction_text import MOST_LINES, parse_prediction

# A throw: 60 m/s up from the pad, no drag. h = v t - g t^2/2, top v/g = 6.118 s, v^2/(2 g) = 183.55 m.
TOP_M, TOP_S = 183.55, 6.118
ROWS = [(0.1 * n, 60.0 * 0.1 * n - 4.903325 * (0.1 * n) ** 2, 60.0 - 0.980665 * n) for n in range(122)]


def table(
    header: str,
    row: str = "{t:.2f},{h:.3f},{v:.3f}",
    *,
    above: str = "",
    length: float = 1.0,
    speed: float = 1.0,
    time: float = 1.0,
    comma: bool = False,
) -> str:
    lines = [row.format(t=t / time, h=h / length, v=v / speed) for t, h, v in ROWS]
    text = "\n".join(lines)
    return f"{above}{header}\n{text.replace('.', ',') if comma else text}\n"


def parsed(text: str, named: str | None = None) -> Prediction:
    return parse_prediction(text, "comet.csv", None if named is None else columns_named(named))


def refusal(text: str, named: str | None = None) -> str:
    with pytest.raises(PredictionError) as caught:
        parsed(text, named)
    message = str(caught.value)
    assert "\n" not in message
    assert len(message) < 1200
    return message


@pytest.mark.parametrize(
    "text",
    [
        table("Time (s),Altitude (m),Vertical velocity (m/s)"),
        table("time [s],height [m],vertical speed [m/s]"),
        table("t (s),h (m),v (m/s)"),
        table("Time (s),Altitude (ft),Vertical velocity (ft/s)", length=0.3048, speed=0.3048),
        table("Time (ms),Altitude (km),Vertical velocity (mph)", "{t:.2f},{h:.6f},{v:.3f}", time=0.001, length=1e3,
              speed=0.44704),
        table("Time (sec);Altitude (feet);Speed (fps)", "{t:.2f};{h:.3f};{v:.3f}", length=0.3048, speed=0.3048),
        table("Time (s)\tAltitude (m)\tVelocity (m/s)", "{t:.2f}\t{h:.3f}\t{v:.3f}"),
        table("Zeit;Time (s);Altitude (m);Velocity (m/s)", "7.00;{t:.2f};{h:.3f};{v:.3f}", comma=True),
        "Time (s),Altitude (m)\n" + "".join(f'"{t:.2f}","{h:.3f}"\n'.replace(".", ",") for t, h, _ in ROWS),
        table("", "{t:.2f},{h:.3f},{v:.3f}", above="# Little Comet, H motor\n# Time (s),Altitude (m),Velocity (m/s)"),
        table("Time (s), Altitude (m), Velocity (m/s)", "# event: apogee\n{t:.2f}, {h:.3f}, {v:.3f}"),
        table("Time,Altitude,Velocity\ns,m,m/s"),
        table("Little Comet on a calm day\n\nTime (s),Altitude (m),Vertical velocity (m/s)"),
        table("Time (s),Mach number,Altitude (m),Lateral distance (m)", "{t:.2f},0.1,{h:.3f},5.0"),
        table("Time (s),Altitude above sea level (m),Altitude (m),Time to apogee (s)", "{t:.2f},900.0,{h:.3f},1.0"),
        table("Time (s),Altitude (m),Vertical velocity (m/s),Total velocity (m/s),Wind velocity (m/s)",
              "{t:.2f},{h:.3f},{v:.3f},61.0,3.0"),
    ],
)  # fmt: skip
def test_tables_as_people_save_them(text: str) -> None:
    found = parsed(text)
    assert found.apogee_m == pytest.approx(TOP_M, abs=0.1)
    assert found.apogee_s == pytest.approx(TOP_S, abs=0.06)
    assert found.max_speed_mps == pytest.approx(60.0, abs=0.6)


@pytest.mark.parametrize(
    ("header", "named"),
    [
        ("Time (s),Height A (m),Height B (m)", "altitude=2"),
        ("Time (s),Height A (m),Height B (m)", "altitude=Height A (m)"),
        ("Time (s),Height A (m),Height B (m)", "altitude = height a"),
        ("Clock,Up,Fast", "time=1[s],altitude=2[m],speed=3[m/s]"),
        ("Clock,Up,Fast", "speed=Fast[m/s],time=Clock[s],altitude=Up[m]"),
        ('"Clock, of sorts (s)",Up (m),Fast', "time=Clock, of sorts,altitude=Up"),
    ],
)
def test_the_user_can_say_which_column_is_which(header: str, named: str) -> None:
    assert parsed(table(header, "{t:.2f},{h:.3f},{v:.3f}"), named).apogee_m == pytest.approx(TOP_M, abs=0.1)


def test_it_tells_what_it_took_for_what() -> None:
    found = parsed(table("Time (s),Altitude (m),Vertical velocity (m/s)"))
    assert found.columns == 'time from "Time (s)", altitude from "Altitude (m)", speed from "Vertical velocity (m/s)"'


def test_the_documents_example_is_read() -> None:
    document = (files("station") / "PREDICTION.md").read_text(encoding="utf-8")
    example = document.split("```csv\n")[1].split("```")[0]
    # A throw at 60 ft/s from there, with g = 32.174 ft/s^2.
    after = [0.1 * n for n in range(1, 38)]
    steps = [f"{0.05 + t:.2f},{0.4 + 60.0 * t - 16.087 * t * t:.1f},{60.0 - 32.174 * t:.1f}" for t in after]
    found = parsed(example + "\n".join(steps))
    assert found.columns.startswith(
        'time from "Time (s)", altitude from "Altitude (ft)", speed from "Vertical velocity'
    )


GOOD = table("Time (s),Altitude (m),Velocity (m/s)")


@pytest.mark.parametrize(
    ("text", "named", "line", "says"),
    [
        ("", None, 1, "it is empty: save the simulation"),
        ("\n \n# only words\n", None, 1, "it is empty: save the simulation"),
        ("Time (s),Altitude (m)\n", None, 1, "no rows below the headers"),
        ("Time (s),Altitude (m)\n0,0\n1,10\n", None, 3, "2 rows below the headers"),
        ("Time (s),Altitude (m)\n0,0\n0.1,abc\n0.2,nan\n", None, 3, 'altitude is "abc", which is no number'),
        ("Time (s),Altitude (m)\n0,0\n0.1,nan\n0.2,abc\n", None, 3, "altitude is nan: leave such rows out"),
        (GOOD.replace("5.951", "-99999"), None, 3, "jumps from 0 m to -99999 m within 0.1 s, which no rocket"),
        (GOOD.replace("5.951", "5951"), None, 3, "the altitude jumps from 0 m to 5951 m within 0.1 s"),
        ("Time (s),Altitude (m)\n0,0\n5,200\n6,180\n9,0\n99,-1500\n", None, 6, "-1500 m, far below the pad's 0 m"),
        ("Time (s)\n1\n2\n", None, 1, "one column only: save with commas, semicolons or tabs"),
        ("0,0,0\n0.1,1,2\n", None, 1, 'no line of headers above the numbers: write one, for example "Time (s),'),
        (GOOD.replace("Altitude (m)", "Altitude (kg)"), None, 1, '"kg" is not a unit of altitude known here'),
        (GOOD.replace("Altitude (m)", "Altitude"), None, 1, '--columns "altitude=2[m]"'),
        (GOOD.replace("Altitude (m)", "Upness (m)"), None, 1, 'cannot tell which column is the altitude: there are'),
        (GOOD.replace("Velocity (m/s)", "Height (m)"), None, 1, '2 columns may be the altitude: there are 2'),
        (GOOD, "altitude=7", 1, 'no column "7" for the altitude: there are 1 "Time (s)", 2'),
        (GOOD, "altitude=Hoehe", 1, 'no column "Hoehe" for the altitude'),
        (GOOD, "altitude=2[mph]", 1, '"mph" is not a unit of altitude'),
        (GOOD.replace("5.951", "many"), None, 3, 'altitude is "many", which is no number: write plain numbers'),
        (GOOD.replace("0.10,5.951", "0.10,"), None, 3, 'altitude is "", which is no number'),
        (GOOD.replace("5.951", "NaN"), None, 3, "altitude is NaN: leave such rows out"),
        (GOOD.replace("5.951", "1e999"), None, 3, "too large a number"),
        (GOOD.replace("5.951", "-inf"), None, 3, "altitude is -inf"),
        (GOOD.replace("0.30,", "0.05,"), None, 5, "the time goes back from 0.2 s to 0.05 s: save one flight a file"),
        (GOOD.replace("0.10,5.951,59.019", "0.10"), None, 3, "the row ends before column 2"),
        (GOOD.replace("0.10,5.951,59.019", "0,10,5,951,59,019"), None, 3, "more cells than there are headers"),
        (GOOD.replace(",", ";").replace("5.951", "5,951"), None, 3, "numbers with a point and numbers with a comma"),
        (GOOD.replace("0.10,5.951", '0.10,"5.951'), None, 3, "a quote does not close"),
        (table("Time (s),Altitude (m)", "{t:.2f},5.0"), None, 1, "it never climbs 5 m above its first row"),
        (table("Time (s),Altitude (ft),Velocity (m/s)", speed=0.3048), None, 1, "is a unit wrong"),
        ("Time (s),Altitude (m)\n" + "0,0\n" * MOST_LINES, None, MOST_LINES + 1, "more than 200,000 lines: save a row"),
        ("x" * 200_000 + ",y\n1,2\n", None, 1, "this cannot be a table's line"),
    ],
)  # fmt: skip
def test_a_mistake_is_one_line_with_file_line_and_remedy(text: str, named: str | None, line: int, says: str) -> None:
    message = refusal(text, named)
    assert re.match(rf"comet\.csv: line {line}: ", message), message
    assert says in message


def test_many_columns_are_not_all_listed() -> None:
    header = "Time (s)," + ",".join(f"Odd {n}" for n in range(60))
    assert "and 49 more" in refusal(table(header, "{t:.2f}," + ",".join(["1"] * 60)))


@pytest.mark.parametrize("text", ["", "2", "height=2", "x=1,altitude=2", "altitude"])
def test_columns_that_name_nothing_are_refused(text: str) -> None:
    with pytest.raises(PredictionError, match=r'--columns: .* write for example --columns "time=1,altitude='):
        columns_named(text)
