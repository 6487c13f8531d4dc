"""What follows from a plan, in words for people, and as the document `station-plan/1` for programs. Pure."""

import textwrap
from collections.abc import Iterable, Sequence

from station.both_units import in_both
from station.plan import FlightPlan
from station.plan_format import PLAN_FORMAT
from station.plan_values import Quantity
from station.preflight.figures import Preflight
from station.preflight.finding import Finding
from station.rules import DECIDES, Rule

SCHEMA = "station-plan/1"
NOTHING_STANDS_OUT, STANDS_OUT, TOO_LITTLE = 0, 1, 3
_WIDTH = 100


def exit_status(findings: Iterable[Finding]) -> int:
    """0 nothing stands out, 1 something does, 3 the plan says too little for anything to follow from it."""
    kinds = {finding.stands_out for finding in findings}
    return STANDS_OUT if True in kinds else NOTHING_STANDS_OUT if kinds else TOO_LITTLE


def preflight_text(file: str, ahead: Preflight, findings: Sequence[Finding], unsaid: Sequence[str]) -> str:
    """The answer first, then what stands out, what the plan reads as, what follows, and what it leaves open."""
    rules = tuple(dict.fromkeys(rule for finding in findings for rule in finding.rules))
    looks = [line for finding in findings if finding.stands_out for line in _finding(finding, "!", rules)]
    others = [line for finding in findings if not finding.stands_out for line in _finding(finding, "-", rules)]
    parts = [
        [file, _headline(findings)],
        looks,
        _titled("It reads as", _table(ahead.plan)),
        _titled("What follows from it", others),
        _titled(
            "What it leaves open, and what it would have to say", [line for what in unsaid for line in _item(what, "-")]
        ),
        _titled("Where this is from", [line for n, rule in enumerate(rules, 1) for line in _rule(n, rule)]),
        textwrap.wrap(DECIDES, _WIDTH),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part)


def preflight_json(
    file: str, ahead: Preflight, findings: Sequence[Finding], unsaid: Sequence[str]
) -> dict[str, object]:
    """SI throughout; null for what the plan does not say or what does not follow from it."""
    plan = ahead.plan
    figures = {name: getattr(ahead, name) for name in _FIGURES}
    ascent, delay = ahead.ascent, ahead.delay
    return {
        "schema": SCHEMA,
        "file": file,
        "plan": {name: _rounded(getattr(plan, name)) for name in plan.__dataclass_fields__},
        "follows": {
            **{name: _rounded(value) for name, value in figures.items()},
            "forecast": None
            if ascent is None
            else {name: _rounded(getattr(ascent, name)) for name in ascent.__dataclass_fields__},
            "wanted_delay_s": _rounded(delay.wanted_s) if delay is not None else None,
            "descents": [
                {"way": down.way.value, "seconds": _rounded(down.seconds), "drift_m": _rounded(down.drift_m)}
                for down in ahead.descents
            ],
        },
        "findings": [
            {
                "code": finding.code,
                "stands_out": finding.stands_out,
                "text": finding.text,
                "rules": [
                    {"says": rule.says, "source": rule.source, "standing": rule.standing.value}
                    for rule in finding.rules
                ],
            }
            for finding in findings
        ],
        "left_open": list(unsaid),
        "decides": DECIDES,
    }


_FIGURES = (
    "air_density_kgpm3",
    "total_impulse_ns",
    "mean_thrust_n",
    "burn_time_s",
    "impulse_class",
    "certification_level",
    "thrust_to_weight",
    "rail_exit_mps",
    "top_mach",
    "apogee_m",
    "landing_mass_kg",
    "landing_energy_j",
    "drogue_drag_coefficient",
    "main_drag_coefficient",
)


def _headline(findings: Sequence[Finding]) -> str:
    count = sum(finding.stands_out for finding in findings)
    if not findings:
        return "The plan can be read, but says too little for anything to follow from it."
    if count == 0:
        return "Nothing in this plan stands out."
    return f"LOOK HERE: {'one thing stands' if count == 1 else f'{count} things stand'} out."


def _titled(title: str, lines: list[str]) -> list[str]:
    return [title, *lines] if lines else []


def _finding(finding: Finding, mark: str, rules: Sequence[Rule]) -> list[str]:
    return _item(finding.text + "".join(f" [{rules.index(rule) + 1}]" for rule in finding.rules), mark)


def _item(text: str, mark: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=f"  {mark} ", subsequent_indent="    ", break_on_hyphens=False)


def _rule(number: int, rule: Rule) -> list[str]:
    start = f"  [{number}] "
    return [
        *textwrap.wrap(rule.says, _WIDTH, initial_indent=start, subsequent_indent=" " * len(start)),
        *textwrap.wrap(
            f"({rule.reference})", _WIDTH, initial_indent=" " * len(start), subsequent_indent=" " * len(start)
        ),
    ]


def _table(plan: FlightPlan) -> list[str]:
    rows = []
    for table, keys in PLAN_FORMAT.items():
        heading = table
        for name, key in keys.items():
            value = getattr(plan, key.field)
            if value is not None:
                kind = key.value
                shown = in_both(value, kind.dimension) if isinstance(kind, Quantity) else str(value)
                rows.append(f"  {heading:<11} {name:<16} {shown}")
                heading = ""
    return rows


def _rounded(value: object) -> object:
    """Six digits and more of a float tell nothing."""
    return float(f"{value:.6g}") if isinstance(value, float) else value
