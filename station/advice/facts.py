"""What advice rests on: the judged flight, its plan, and what was heard of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import hypot

import numpy as np

from station.atmosphere import air_density_kgpm3
from station.coasting import Coasting
from station.flight_state import Deployment, Event, EventName, Verdict
from station.flown_curve import FlownCurve
from station.median import median_of
from station.plan import FlightPlan
from station.prediction import Prediction
from station.records import Role
from station.stretch import Stretch
from station.whereabouts import Whereabouts

HELD = frozenset({Verdict.CONFIRMED, Verdict.TOO_FAST, Verdict.EARLY})
LEAST_FORCE_SHARE = 0.5
SAME_OPENING_MS = 1500.0
# Thrust that tails off: where it ends hardly shows in the pressure (measured on virtual flights, no source).
BURNOUT_BY_PRESSURE_S = 0.12
SPEED_SHARE_BY_FORCE = 0.012
SPEED_SHARE_BY_PRESSURE = 0.025


@dataclass(frozen=True, slots=True, eq=False)
class FlightFacts:
    """A judged flight. Heights m above the pad; `main_set_m` is where the altimeter was set to fire the main.

    `by_motor`: the motor's ejection charge throws the only parachute out. `out_in_the_climb`: a parachute came out
    before the free top of the coast, or a charge fired there. Times of `curve` and `coasting` are s from liftoff.
    """

    plan: FlightPlan
    by_motor: bool
    events: Mapping[EventName, Event]
    deployments: tuple[Deployment, ...]
    stretches: tuple[Stretch, ...]
    curve: FlownCurve | None
    coasting: Coasting | None
    out_in_the_climb: bool
    max_speed_mps: float | None
    pad_pressure_pa: float | None
    pad_kelvin: float
    main_set_m: float | None = None
    whereabouts: Whereabouts = field(default_factory=Whereabouts)
    prediction: Prediction | None = None

    def seconds(self, name: EventName) -> float | None:
        """When an event was, s from liftoff."""
        event = self.events.get(name)
        return None if event is None else self.since_liftoff_s(event.t_ms)

    def since_liftoff_s(self, t_ms: float) -> float | None:
        """A time of the flight's time line in s from liftoff."""
        liftoff = self.events.get(EventName.LIFTOFF)
        return None if liftoff is None else (t_ms - liftoff.t_ms) / 1000.0

    def sigma_s(self, name: EventName) -> float:
        """Standard deviation of an event's time; 0 for one that is not there."""
        event = self.events.get(name)
        if event is None:
            return 0.0
        if name is not EventName.BURNOUT or self.curve is None:
            return event.sigma_s
        if self.by_force:
            return hypot(event.sigma_s, self._silence_in_boost_s / 12.0**0.5)
        return hypot(event.sigma_s, BURNOUT_BY_PRESSURE_S)

    @property
    def pad_density_kgpm3(self) -> float | None:
        """Density of the air at the pad."""
        return None if self.pad_pressure_pa is None else air_density_kgpm3(self.pad_pressure_pa, self.pad_kelvin)

    @property
    def mass_at_burnout_kg(self) -> float | None:
        """The plan's mass without propellant."""
        mass, propellant = self.plan.rocket_mass_kg, self.plan.propellant_mass_kg
        return None if mass is None or propellant is None else mass - propellant

    @property
    def by_force(self) -> bool:
        """The accelerometer was heard on the way up."""
        apogee_s = self.seconds(EventName.APOGEE)
        if self.curve is None or apogee_s is None:
            return False
        climb = (self.curve.t_s > 0.0) & (self.curve.t_s < apogee_s)
        return bool(climb.any()) and float(np.isfinite(self.curve.gained_mps2[climb]).mean()) > LEAST_FORCE_SHARE

    @property
    def top_speed_sigma_share(self) -> float:
        """Standard deviation of the highest speed, as a share of it: the sensor, and what was not heard of the boost.

        Speed gained in a silence is known to some third of it.
        """
        share = SPEED_SHARE_BY_FORCE if self.by_force else SPEED_SHARE_BY_PRESSURE
        burn_s = self.seconds(EventName.BURNOUT)
        return share if burn_s is None or burn_s <= 0.0 else hypot(share, 0.3 * self._silence_in_boost_s / burn_s)

    @property
    def _silence_in_boost_s(self) -> float:
        """The longest time without a sample from liftoff to burnout, beyond what is usual; s."""
        burn_s = self.seconds(EventName.BURNOUT)
        if self.curve is None or burn_s is None:
            return 0.0
        heard = self.curve.t_s[(self.curve.t_s > 0.0) & (self.curve.t_s < burn_s)]
        usual = median_of(np.diff(self.curve.t_s)) if len(self.curve.t_s) > 1 else 0.0
        return max(0.0, float(np.diff(np.concatenate([[0.0], heard, [burn_s]])).max()) - 2.0 * usual)

    def deployment(self, role: Role) -> Deployment | None:
        """What was judged of a role, if it was planned."""
        return next((deployment for deployment in self.deployments if deployment.role is role), None)

    def hold(self, role: Role) -> Stretch | None:
        """The steady stretch under a parachute that held, with its rate at the pad's density."""
        deployment = self.deployment(role)
        if deployment is None or deployment.verdict not in HELD or deployment.opened_t_ms is None:
            return None
        opened_ms = deployment.opened_t_ms
        held = [s for s in self.stretches if s.opened_ms is not None and s.is_steady and s.rate_mps is not None]
        near = [s for s in held if abs((s.opened_ms or 0.0) - opened_ms) < SAME_OPENING_MS]
        if near:
            return min(near, key=lambda s: abs((s.opened_ms or 0.0) - opened_ms))
        # One that opened in the climb is seen in the descent only after the top.
        return max(held, key=lambda s: s.steady_s) if held and self.by_motor else None
