"""The plan of the ground: north up, east to the right, distances to scale, and nothing where nothing is known."""

import re
from math import hypot

import pytest

from station.renditions.ground_view import away, ground_view
from station.whereabouts import DriftWedge, FixQuality, Place, PlaceKind, Whereabouts


def place(range_m: float | None, bearing_deg: float | None) -> Place:
    return Place(
        PlaceKind.LANDED, 0.0, 0.0, 37.5, -41.25, 2.0, 9, FixQuality.GOOD, 5, 0.0, range_m, bearing_deg, 3.0, 1.0, None
    )  # fmt: skip


def spot(svg: str, kind: str) -> tuple[float, float]:
    ((x, y),) = re.findall(rf'class="{kind}-spot" cx="([\d.]+)" cy="([\d.]+)"', svg)
    return float(x), float(y)


def pad(svg: str) -> tuple[float, float]:
    ((x, y),) = re.findall(r'class="pad" d="M[\d.]+ [\d.]+L([\d.]+) ([\d.]+)L', svg)
    return float(x), float(y) + 7.0


@pytest.mark.parametrize(("bearing", "right", "down"), [(0, 0, -1), (90, 1, 0), (180, 0, 1), (270, -1, 0)])
def test_north_is_up_and_east_is_right(bearing: float, right: int, down: int) -> None:
    svg = ground_view(Whereabouts(place=place(200.0, bearing)), "")
    assert svg is not None
    (x, y), (pad_x, pad_y) = spot(svg, "rocket"), pad(svg)
    long = hypot(x - pad_x, y - pad_y)
    assert (x - pad_x) / long == pytest.approx(right, abs=0.01)
    assert (y - pad_y) / long == pytest.approx(down, abs=0.01)


def test_rings_are_to_scale() -> None:
    svg = ground_view(Whereabouts(place=place(300.0, 45.0)), "")
    assert svg is not None
    (x, y), (pad_x, pad_y) = spot(svg, "rocket"), pad(svg)
    ring = float(re.findall(r'class="ring" cx="[\d.]+" cy="[\d.]+" r="([\d.]+)"', svg)[0])
    metres = float(re.findall(r">([\d,]+) m, [\d,]+ ft<", svg)[0])
    assert hypot(x - pad_x, y - pad_y) / ring == pytest.approx(300.0 / metres, rel=0.01)


def test_without_fix_or_wind_nothing_is_drawn() -> None:
    assert ground_view(Whereabouts(), "") is None
    assert ground_view(Whereabouts(place=place(None, None)), "") is None


def test_the_wind_gives_a_wedge_and_no_spot() -> None:
    wedge = DriftWedge(100.0, 400.0, 60.0, 120.0, 4.0, 270.0, 60.0, heard_down=True)
    svg = ground_view(Whereabouts(drift=wedge), "")
    assert svg is not None
    assert 'class="wedge"' in svg
    assert "rocket-spot" not in svg
    assert "look here first" in svg


def test_a_bearing_and_a_range_are_north_and_east() -> None:
    assert away(100.0, 30.0) == pytest.approx((86.60254, 50.0))
