"""Requests to end become an event; nothing that runs is cut."""

import os
import signal
import threading

import pytest

from station.command.stopping import stop_on_signals

SIGNALS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


@pytest.mark.skipif(os.name == "nt", reason="Windows cannot send these signals to itself")
@pytest.mark.parametrize("number", SIGNALS)
def test_a_request_to_end_sets_the_event_and_raises_nothing(number: signal.Signals) -> None:
    with stop_on_signals() as stop:
        assert not stop.is_set()
        signal.raise_signal(number)
        assert stop.wait(timeout=30.0)


def test_handlers_are_as_before_afterwards() -> None:
    before = [signal.getsignal(number) for number in SIGNALS]
    threads = threading.active_count()
    with stop_on_signals():
        assert [signal.getsignal(number) for number in SIGNALS] != before
    assert [signal.getsignal(number) for number in SIGNALS] == before
    assert signal.set_wakeup_fd(-1) == -1
    assert threading.active_count() == threads


@pytest.mark.skipif(os.name == "nt", reason="Windows cannot send these signals to itself")
def test_an_end_that_hangs_can_be_forced_by_asking_again(monkeypatch: pytest.MonkeyPatch) -> None:
    forced = threading.Event()
    statuses: list[int] = []

    def end_at_once(status: int) -> None:
        statuses.append(status)
        forced.set()

    monkeypatch.setattr("os._exit", end_at_once)
    with stop_on_signals() as stop:
        signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGINT)
        assert stop.wait(timeout=30.0)
        assert statuses == []
        signal.raise_signal(signal.SIGINT)
        assert forced.wait(timeout=30.0)
    assert statuses == [130]
