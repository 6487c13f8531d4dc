"""Distances and directions on the earth: a thin layer over `geographiclib`, in the station's units and names.

WGS 84 ellipsoid (NIMA TR8350.2), as satellite receivers use it; the shortest line after Karney, "Algorithms for
geodesics", Journal of Geodesy 87 (2013). Latitudes + north, longitudes + east, bearings clockwise from true north
(a magnetic compass differs from it by the local declination), all in degrees.
"""

from dataclasses import dataclass
from math import cos, radians, sin

from geographiclib.geodesic import Geodesic

_EARTH = Geodesic.WGS84


@dataclass(frozen=True, slots=True)
class Position:
    """A place on the ground."""

    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True, slots=True)
class Line:
    """The way from one place to another: how far (m), and in which direction one sets out (0 to 360 degrees)."""

    range_m: float
    bearing_deg: float

    @property
    def north_m(self) -> float:
        """Its part to the north on a plane that touches the earth where the line begins."""
        return self.range_m * cos(radians(self.bearing_deg))

    @property
    def east_m(self) -> float:
        """Its part to the east."""
        return self.range_m * sin(radians(self.bearing_deg))


def line_between(start: Position, end: Position) -> Line:
    """The shortest line from `start` to `end`."""
    found = _EARTH.Inverse(
        start.latitude_deg,
        start.longitude_deg,
        end.latitude_deg,
        end.longitude_deg,
        Geodesic.DISTANCE | Geodesic.AZIMUTH,
    )
    return Line(found["s12"], found["azi1"] % 360.0)


def place_along(start: Position, line: Line) -> Position:
    """Where one comes to who sets out from `start` along `line`."""
    found = _EARTH.Direct(
        start.latitude_deg, start.longitude_deg, line.bearing_deg, line.range_m, Geodesic.LATITUDE | Geodesic.LONGITUDE
    )
    return Position(found["lat2"], found["lon2"])
