"""One thing that follows from a plan, in a sentence, with the rules that it rests on."""

from dataclasses import dataclass

from station.rules import Rule


@dataclass(frozen=True, slots=True)
class Finding:
    """`code` is for programs. `stands_out`: somebody should look at this before the flight."""

    code: str
    text: str
    stands_out: bool = False
    rules: tuple[Rule, ...] = ()
