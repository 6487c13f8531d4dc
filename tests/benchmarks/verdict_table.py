"""The table of verdicts: how often each is given, by class of fault and by what really became of the parachute."""

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence

from scored_flight import LET_GO, OPENED_AND_SEEN, OPENED_ELSEWHERE, OPENED_UNSEEN, STAYED_IN, TANGLED, Score

from station.flight_state import Verdict
from station.records import Role

CONFIRMED_TARGET = 0.99
CASES = (OPENED_AND_SEEN, OPENED_UNSEEN, OPENED_ELSEWHERE, TANGLED, STAYED_IN, LET_GO)
_COLUMNS = "".join(f"{verdict.value:>14}" for verdict in Verdict)

Row = tuple[str, str]


def print_verdicts(results: Sequence[Score]) -> None:
    """Two tables, and the two figures that count."""
    print(f"{'class of fault':20}{'parachute':10}{_COLUMNS}")
    _print_rows(results, lambda result, role: (result.fault, role.value))
    print(f"\n{'what really became of it':48}{'':2}{_COLUMNS}")
    _print_rows(results, lambda result, role: (result.cases[role], ""), width=50)
    given = [(result.cases[role], verdict) for result in results for role, verdict in result.verdicts.items()]
    wrong = sum(verdict is Verdict.CONFIRMED and case in (STAYED_IN, TANGLED) for case, verdict in given)
    seen = [verdict for case, verdict in given if case == OPENED_AND_SEEN]
    share = seen.count(Verdict.CONFIRMED) / max(1, len(seen))
    mark = "ok" if wrong == 0 else "OVER"
    print(f"\nconfirmed where it did not open or was tangled: {wrong} of {len(given)} (target 0) {mark}")
    let_go = [verdict for case, verdict in given if case == LET_GO]
    if let_go:
        print(f"confirmed although it let go later and that shows: {let_go.count(Verdict.CONFIRMED)} of {len(let_go)}")
    mark = "ok" if share >= CONFIRMED_TARGET else "UNDER"
    print(f"confirmed where it opened and the data cover it: {share:.2%} of {len(seen)} (target 99 %) {mark}")


def _print_rows(results: Sequence[Score], row_of: Callable[[Score, Role], Row], width: int = 20) -> None:
    rows: dict[Row, Counter[Verdict]] = defaultdict(Counter)
    for result in results:
        for role, verdict in result.verdicts.items():
            rows[row_of(result, role)][verdict] += 1
    for first, second in sorted(rows, key=lambda row: (CASES.index(row[0]) if row[0] in CASES else 0, row)):
        counts = "".join(f"{rows[first, second][verdict] or '.':>14}" for verdict in Verdict)
        print(f"{first:{width}}{second:{10 if second else 0}}{counts}")
