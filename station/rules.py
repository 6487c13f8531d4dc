"""The rules and habits of the hobby that a plan or a flight is held against, each with where it is written.

Figures only, nothing is judged here. What was not seen in a source is called common practice: it may be right, but
nobody should rest a decision on it.
"""

from dataclasses import dataclass
from enum import StrEnum

from station.quantity import FORCE, LENGTH, SPEED, per_unit

MPH_MPS = per_unit(SPEED, "mph")
FOOT_POUND_J = per_unit(LENGTH, "ft") * per_unit(FORCE, "lbf")


class Standing(StrEnum):
    """How well a rule is known here."""

    PUBLISHED = "published"
    SECOND_HAND = "published, seen in a copy"
    PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Rule:
    """What it says in a sentence, where that is written, and how well it is known here."""

    says: str
    source: str | None
    standing: Standing

    @property
    def reference(self) -> str:
        """Standing and source in one text."""
        return self.standing.value if self.source is None else f"{self.standing.value}: {self.source}"


DECIDES = (
    "The safety code of your organisation and the range safety officer decide, and the makers' instructions and local "
    "law bind. This program certifies nothing."
)

MODEL_MASS_KG = 1.5
MODEL_PROPELLANT_KG = 0.125
MODEL_IMPULSE_NS = 320.0
MODEL_MEAN_THRUST_N = 80.0
CLASS_2_IMPULSE_NS = 40_960.0
BYSTANDER_DISTANCE_M = 457.0
WIND_LIMIT_MPS = 20.0 * MPH_MPS
THRUST_TO_WEIGHT_FLOOR = 3.0
THRUST_TO_WEIGHT_WANTED = 5.0
RAIL_EXIT_MPS = 15.0
ZIPPER_MPS = 20.0
DELAY_TOLERANCE_S = 1.5
DELAY_TOLERANCE_SHARE = 0.2
DROGUE_BAND_MPS = (15.0, 30.0)
MAIN_BAND_MPS = (3.5, 7.0)
LANDING_ENERGY_J = 75.0 * FOOT_POUND_J
HARD_LANDING_MPS = 10.0
MOTOR_FIGURES_SHARE = 0.2
PREDICTION_SHARE = 0.1
CANOPY_DRAG_BAND = (0.5, 3.0)

IMPULSE_CLASSES = Rule(
    "Each letter stands for up to twice the total impulse of the one before it; A ends at 2.5 N s.",
    "the classes of NFPA 1125, as reprinted",
    Standing.SECOND_HAND,
)
CERTIFICATION = Rule(
    "Motors H and I need certification level 1; J, K and L level 2; M, N and O level 3.",
    "National Association of Rocketry, high-power certification procedures",
    Standing.PUBLISHED,
)
MODEL_ROCKET = Rule(
    "A model rocket weighs at most 1,500 g, with at most 125 g of propellant and 320 N s of total impulse.",
    "NFPA 1122 (2018), 4.4 and 4.5",
    Standing.SECOND_HAND,
)
MODEL_MOTOR = Rule(
    "A motor of more than 80 N mean thrust counts as high power, whatever its letter.", None, Standing.PRACTICE
)
G_MOTOR_AGE = Rule(
    "Motors of more than 80 N s and up to 160 N s are for users aged 18 and over.",
    "NFPA 1122 (2018), 4.9.2",
    Standing.SECOND_HAND,
)
AMATEUR_CLASS_1 = Rule(
    "In the United States a rocket of at most 1,500 g, with at most 125 g of slow-burning propellant, of paper, wood "
    "or breakable plastic and without substantial metal parts, is of class 1.",
    "14 CFR 101.22(a)",
    Standing.PUBLISHED,
)
AMATEUR_CLASS_2 = Rule(
    "In the United States a rocket of class 2 or 3 flies neither into cloud, nor under more than half a sky of it, nor "
    "in less than 5 miles of visibility, nor between sunset and sunrise; nor within 9.26 km of an airport or in "
    "controlled airspace without the FAA's authorisation; and it keeps a quarter of its highest altitude, 457 m "
    "(1,500 ft) at least, away from people and property that are not part of it.",
    "14 CFR 101.22(b) and 101.25",
    Standing.PUBLISHED,
)
WIND = Rule(
    "High-power rockets do not fly in more than 20 mph of wind.",
    "California Code of Regulations, title 19, 1036(c)",
    Standing.PUBLISHED,
)
THRUST_TO_WEIGHT = Rule(
    "The motor's mean thrust is at least 3 times the weight at liftoff, and better 5 times, more in wind.",
    None,
    Standing.PRACTICE,
)
RAIL_EXIT = Rule("Fins hold a rocket straight from about 15 m/s (50 ft/s) on.", None, Standing.PRACTICE)
ZIPPER = Rule(
    "A parachute that comes out at more than about 20 m/s (66 ft/s) may tear lines and cut into the airframe.",
    None,
    Standing.PRACTICE,
)
DELAY_TOLERANCE = Rule("A motor's delay may be off by 1.5 s or 20 %, whichever is more.", None, Standing.PRACTICE)
NEVER_LONGER = Rule(
    "A delay can be made shorter with the motor maker's tool and by its instructions, never longer.",
    None,
    Standing.PRACTICE,
)
DESCENT_RATES = Rule(
    "Under a drogue 15 to 30 m/s (50 to 100 ft/s), under a main at most about 7 m/s (23 ft/s).", None, Standing.PRACTICE
)
MAIN_HEIGHT = Rule(
    "Mains are set for 500 to 700 ft.", "the handbook of a student team, an example and no rule", Standing.PUBLISHED
)
LANDING_ENERGY = Rule(
    "In a contest for students each part that lands has at most 75 ft lbf (102 J).", None, Standing.PRACTICE
)
HARD_LANDING = Rule("Things break in a landing at more than about 10 m/s (33 ft/s).", None, Standing.PRACTICE)
MOTOR_FIGURES = Rule(
    "A motor's mean thrust lies within 20 % of what its label says.",
    "NFPA 1125, as printed by a motor retailer",
    Standing.SECOND_HAND,
)
MACH = Rule(
    "Above about Mach 0.8 an altimeter should not look for apogee by pressure, nor a forecast trust a steady drag.",
    None,
    Standing.PRACTICE,
)
PREDICTIONS = Rule("The height predicted by a simulation is often off by 10 %.", None, Standing.PRACTICE)
CANOPY_DRAG = Rule("A canopy's drag coefficient, on its flat area, is about 0.75 to 2.2.", None, Standing.PRACTICE)
