"""The way through the air: lines lost in bursts or behind the trees, bytes corrupted, noise, late arrival."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.records import SignalRecord
from station.virtual.chance import stream
from station.wire import encode


@dataclass(frozen=True, slots=True)
class SentLine:
    """What the receiver gives out and when: seconds since the recording began, and the bytes."""

    t_s: float
    data: bytes


@dataclass(frozen=True, slots=True)
class Radio:
    """How bad the link is.

    Losses come in bursts after Gilbert (Bell System Technical Journal 39, 1960): a good state that loses
    nothing and a bad one that loses all, left after `mean_burst_lines` lines on average; `loss_fraction` is
    the share of lost lines over all. `corrupt_fraction` of the lines that are heard have a byte changed,
    dropped or added; before `noise_fraction` of them the receiver gives out some bytes of noise. `signal_reports`: the
    receiver adds an RXQ line once a second.
    """

    loss_fraction: float = 0.02
    mean_burst_lines: float = 4.0
    corrupt_fraction: float = 0.002
    noise_fraction: float = 0.001
    delay_s: float = 0.018
    jitter_s: float = 0.004
    signal_reports: bool = True

    def __post_init__(self) -> None:
        if not 0.0 <= self.loss_fraction < 1.0 or self.mean_burst_lines < 1.0:
            raise ValueError("losses are a fraction under 1, in bursts of at least one line")


CLEAR = Radio(0.0, 1.0, 0.0, 0.0, 0.0, 0.0, signal_reports=False)


def receive(
    sent: Sequence[tuple[float, bytes]],
    radio: Radio,
    distances_m: Sequence[float],
    silences: Sequence[tuple[float, float]],
    seed: int,
) -> list[SentLine]:
    """What comes out of the receiver for lines sent at these times; nothing of what is sent in a silence."""
    chance = stream(seed, "radio")
    count = len(sent)
    leave_bad = 1.0 / radio.mean_burst_lines
    enter_bad = leave_bad * radio.loss_fraction / (1.0 - radio.loss_fraction)
    dice = chance.random_sample(count).tolist()
    fate = chance.random_sample(count).tolist()
    delays = (radio.delay_s + radio.jitter_s * chance.exponential(1.0, count)).tolist() if count else []
    fading = (2.0 * chance.standard_normal(count)).tolist()
    bad = dice[0] < radio.loss_fraction if count else False
    mischief = radio.corrupt_fraction + radio.noise_fraction
    heard: list[SentLine] = []
    clock = 0.0
    last_report = -1e9
    for k, (t, data) in enumerate(sent):
        roll = dice[k]
        bad = roll >= leave_bad if bad else roll < enter_bad
        if bad or any(start <= t < end for start, end in silences):
            continue
        if fate[k] < mischief:
            data = _spoil(data, chance) if fate[k] < radio.corrupt_fraction else _noise(chance) + data
        clock = max(clock, t + delays[k])
        heard.append(SentLine(round(clock, 6), data))
        if radio.signal_reports and t - last_report >= 1.0:
            last_report = t
            signal = -52.0 - 20.0 * float(np.log10(max(distances_m[k], 10.0) / 10.0)) + fading[k]
            heard.append(SentLine(round(clock, 6), encode(SignalRecord(round(signal, 1), round(signal + 112.0, 1)))))
    return heard


def _noise(chance: np.random.RandomState) -> bytes:
    return bytes(chance.randint(0, 256, size=int(chance.randint(1, 24))).tolist())


def _spoil(data: bytes, chance: np.random.RandomState) -> bytes:
    """Change, drop or add one to three bytes anywhere, the end of the line included."""
    spoilt = bytearray(data)
    for _ in range(int(chance.randint(1, 4))):
        at = int(chance.randint(0, len(spoilt))) if spoilt else 0
        kind = int(chance.randint(0, 3))
        if kind == 0 and spoilt:
            spoilt[at] ^= int(chance.randint(1, 256))
        elif kind == 1 and spoilt:
            del spoilt[at]
        else:
            spoilt.insert(at, int(chance.randint(0, 256)))
    return bytes(spoilt)
