"""Ground station for hobby rockets: it listens to an altimeter and judges the flight from evidence."""

__version__ = "0.1.0"
