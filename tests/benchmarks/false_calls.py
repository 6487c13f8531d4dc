"""Which flights are watched for false calls, and the table of what was called wrongly."""

from collections import Counter, defaultdict
from collections.abc import Sequence

from watched_flight import TRANSONIC, Watched

from station.virtual.random_flights import FAULT_CLASSES

# Flights of each kind in every 250. Eight hours on the pad (pad-front) take some five seconds each, so one in 250.
_SHARES = {
    "pad-gusts": 30,
    "pad-lifted": 30,
    "pad-car-door": 20,
    "pad-sun": 5,
    "pad-front": 1,
    "lifted-then-flown": 12,
    "sun-then-flown": 4,
    "front-then-flown": 4,
    TRANSONIC: 54,
}
_FLOWN = tuple(name for name in FAULT_CLASSES if name not in _SHARES)


def watched_jobs(count: int, first_seed: int) -> list[tuple[int, str]]:
    """`count` flights: the kinds above by their shares, evenly mixed; the other classes of fault share the rest."""
    rest = 250 - sum(_SHARES.values())
    shares = {**_SHARES, **{name: rest / len(_FLOWN) for name in _FLOWN}}
    turns = sorted(((n + 0.5) / share, kind) for kind, share in shares.items() for n in range(round(share)))
    return [(first_seed + n, turns[n % len(turns)][1]) for n in range(count)]


def print_false_calls(results: Sequence[Watched]) -> None:
    """A line for each kind of flight, then one for each flaw with some of the flights it was seen on."""
    by_kind: dict[str, list[Watched]] = defaultdict(list)
    for result in results:
        by_kind[result.kind].append(result)
    print(f"{'kind of flight':20}{'flights':>9}{'with a false call':>20}")
    for kind, watched in by_kind.items():
        print(f"{kind:20}{len(watched):9d}{sum(bool(w.flaws) for w in watched) or '.':>20}")
    looks = sum(result.looks for result in results)
    print(f"\n{len(results)} flights, {looks} snapshots; false calls (target 0):")
    flaws = Counter(flaw for result in results for flaw in result.flaws)
    for flaw, number in flaws.most_common():
        seen_on = [f"{r.seed} {r.kind}" for r in results if flaw in r.flaws][:5]
        print(f"{number:6d}  {flaw} ({', '.join(seen_on)})")
    if not flaws:
        print("  none")
