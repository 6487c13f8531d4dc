"""A hard landing: told by the last moments of the fall where they were heard, else by the rate before them."""

from station.alerts import hard_landing
from station.flight_state import Basis, Estimate, Event, EventName
from station.stretch import Stretch

TOP_M = 120.0
PERIOD_S = 0.05


def fallen(*parts: tuple[float, float], heard_s: float = 1e9) -> tuple[list[Estimate], Event]:
    """Estimates of a fall in parts (seconds, m/s) from `TOP_M` to the ground, and its touchdown."""
    track, t, h = [], 0.0, TOP_M
    for seconds, rate_mps in parts:
        end = t + seconds
        while t < end and h > 0.0:
            if t < heard_s:
                track.append(Estimate(1000.0 * t, h, -rate_mps, 0.0, 0.3, 0.3, 0.5))
            t, h = t + PERIOD_S, h - PERIOD_S * rate_mps
    down = Event(EventName.TOUCHDOWN, 1000.0 * t, 0.0, 0.0, 0.1, Basis.ESTIMATED, 1000.0 * t + 2000.0)
    lying = [Estimate(1000.0 * (t + PERIOD_S * n), 0.0, 0.0, 0.0, 0.3, 0.3, 0.5) for n in range(40)]
    return track + lying, down


def held(rate_mps: float, steady_s: float = 8.0) -> Stretch:
    return Stretch(0.0, 9000.0, 0.0, 0.1, TOP_M, 20.0, rate_mps, 0.1, steady_s, 300.0, rate_mps)


def said(stretch: Stretch, track: list[Estimate], touchdown: Event | None) -> str | None:
    alerts = hard_landing([stretch], track, touchdown)
    return alerts[0].text if alerts else None


def test_a_main_that_let_go_landed_hard_though_it_held_for_long() -> None:
    text = said(held(6.0), *fallen((10.0, 6.0), (60.0, 24.0)))
    assert text is not None
    assert "at 24 m/s" in text


def test_a_main_that_opened_low_landed_softly_though_the_fall_was_fast_for_long() -> None:
    assert said(held(19.0), *fallen((4.0, 19.0), (60.0, 7.0))) is None


def test_a_steady_fall_is_told_by_its_rate_where_its_end_was_not_heard() -> None:
    text = said(held(18.0), *fallen((60.0, 18.0), heard_s=2.0))
    assert text is not None
    assert "at 18 m/s" in text
    assert said(held(18.0, steady_s=0.2), *fallen((60.0, 18.0), heard_s=2.0)) is None
    assert said(held(6.0), *fallen((60.0, 6.0))) is None


def test_what_was_not_seen_to_land_did_not_land_hard() -> None:
    track, down = fallen((60.0, 24.0))
    assert said(held(24.0), track, None) is None
    assert hard_landing([], track, down) == ()
    assert said(held(24.0), track, down) is not None
