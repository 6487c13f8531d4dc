"""What the shared page's player gets."""

from collections.abc import Callable
from dataclasses import replace
from itertools import accumulate

import numpy as np
import pytest

from station.renditions import player_data as module
from station.renditions.course import shown_until_s
from station.renditions.player_data import player_data
from station.whole_flight import WholeFlight


def unpacked(data: dict[str, object], name: str, unit: float) -> np.ndarray:
    return unit * np.array(list(accumulate(data[name])))  # type: ignore[call-overload]


def test_unpacked_it_is_the_curve(nominal: WholeFlight) -> None:
    data = player_data(nominal)
    t, h = unpacked(data, "t_ms", 0.001), unpacked(data, "altitude_dm", 0.1)
    assert np.abs(np.interp(t, nominal.curve.t_s, nominal.curve.altitude_m) - h).max() <= 0.2
    assert t[0] == pytest.approx(nominal.curve.t_s[0], abs=0.001)
    assert t[-1] == pytest.approx(shown_until_s(nominal), abs=0.1)


def test_a_long_flight_is_thinned_but_keeps_its_highest_point(
    nominal: WholeFlight, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_POINTS", 100)
    data = player_data(nominal)
    t, h = unpacked(data, "t_ms", 0.001), unpacked(data, "altitude_dm", 0.1)
    assert 60 <= len(t) <= 105
    assert h.max() == pytest.approx(nominal.curve.altitude_m.max(), abs=0.06)
    assert t[-1] == pytest.approx(shown_until_s(nominal), abs=0.1)


def test_gaps_are_told_and_their_edges_kept(nominal: WholeFlight, monkeypatch: pytest.MonkeyPatch) -> None:
    keep = (nominal.curve.t_s <= 14.0) | (nominal.curve.t_s >= 19.0)
    columns = {name: getattr(nominal.curve, name)[keep] for name in nominal.curve.__dataclass_fields__}
    monkeypatch.setattr(module, "MOST_POINTS", 50)
    data = player_data(replace(nominal, curve=replace(nominal.curve, **columns)))
    ((start_s, end_s),) = data["gaps"]  # type: ignore[misc]
    t = unpacked(data, "t_ms", 0.001)
    assert np.abs(t - start_s).min() < 0.001
    assert np.abs(t - end_s).min() < 0.001


@pytest.mark.parametrize(
    ("name", "drawn"),
    [
        ("nominal-dual.flight", [("drogue", "good"), ("main", "good")]),
        ("main-stays-in.flight", [("drogue", "good")]),
        ("main-at-apogee.flight", [("main", "bad")]),
        ("ballistic.flight", []),
    ],
)
def test_a_parachute_is_drawn_only_where_the_descent_showed_one(
    flight_of: Callable[..., WholeFlight], name: str, drawn: list[tuple[str, str]]
) -> None:
    data = player_data(flight_of(name))
    assert [(p["role"], p["kind"]) for p in data["parachutes"]] == drawn  # type: ignore[attr-defined]
