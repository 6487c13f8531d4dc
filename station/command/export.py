"""`station export`: the flight's figures for a spreadsheet or a program."""

from pathlib import Path

import click

from station.command.keeping import KeptFlight, keeping_options, kept_flight, targets, write_and_say
from station.renditions.csv_text import csv_bytes
from station.renditions.flight_json import flight_json
from station.renditions.parquet import parquet_bytes
from station.renditions.table import events_table, samples_table

FORMATS = {"csv": ".csv", "json": ".json", "parquet": ".parquet"}

EXAMPLES = """\b
Examples:
  station export flights/NAME.flight                    CSV, and the events in a second file
  station export flights/NAME.flight --decimal-comma    for a spreadsheet that writes 1,5
  station export flights/NAME.flight --to comet.json
  station export flights/NAME.flight --format csv --format parquet --to FOLDER
"""


@click.command("export", epilog=EXAMPLES, short_help="The flight's figures for a spreadsheet or a program.")
@keeping_options
@click.option(
    "--format",
    "formats",
    type=click.Choice(list(FORMATS)),
    multiple=True,
    help="What to write, if --to does not say; may be given several times [default: csv]. "
    "parquet needs pandas and pyarrow.",
)
@click.option("--decimal-comma", is_flag=True, help="CSV as 1,5 with semicolons between, as some spreadsheets want it.")
@click.option(
    "--whole-record", is_flag=True, help="Every sample of the record, the wait on the pad too, not the flight alone."
)
def command(
    path: Path,
    to: Path | None,
    force: bool,
    plan_path: Path | None,
    air_temperature_c: float | None,
    formats: tuple[str, ...],
    decimal_comma: bool,
    whole_record: bool,
) -> None:
    """Write the saved flight FILE as a table: a row a sample, raw and smoothed side by side, units in the header.

    CSV and Parquet get a second file with the events; JSON holds samples, events and what the check says.
    """
    wanted = [FORMATS[name] for name in formats or ("csv",)]
    chosen = targets(path, to, FORMATS.values(), wanted)
    if formats and set(chosen) != set(wanted):
        raise click.UsageError(
            "--to names one file and --format another kind: leave one out, or let --to name a folder"
        )
    if decimal_comma and ".csv" not in chosen:
        raise click.UsageError("--decimal-comma is for CSV alone")
    kept = kept_flight(path, plan_path, air_temperature_c)
    outputs: dict[Path, bytes] = {}
    for ending, where in chosen.items():
        outputs |= _made(kept, ending, where, decimal_comma=decimal_comma, whole_record=whole_record)
    write_and_say(outputs, source=path, force=force)


def _made(kept: KeptFlight, ending: str, where: Path, *, decimal_comma: bool, whole_record: bool) -> dict[Path, bytes]:
    flight, marks = kept.flight, kept.file.marks
    if ending == ".json":
        text = flight_json(flight, flown_at=kept.flown_at, marks=marks, whole_record=whole_record)
        return {where: text.encode()}
    tables = {
        where: samples_table(flight, whole_record=whole_record),
        where.with_name(f"{where.stem}-events{where.suffix}"): events_table(flight, marks),
    }
    if ending == ".parquet":
        return {place: parquet_bytes(table) for place, table in tables.items()}
    return {place: csv_bytes(table, decimal_comma=decimal_comma) for place, table in tables.items()}
