"""Saved flights: the log that the station writes, and the reading of logs and bare captures.

`FLIGHT_LOG.md` beside this file describes the format.
"""

from station.flight_log.entries import EntryKind, LogEntry, LogHeader
from station.flight_log.flight_file import FlightFile, parse_flight
from station.flight_log.reading import read_flight_file
from station.flight_log.writing import FlightLogWriter, host_clock

__all__ = [
    "EntryKind",
    "FlightFile",
    "FlightLogWriter",
    "LogEntry",
    "LogHeader",
    "host_clock",
    "parse_flight",
    "read_flight_file",
]
