"""What do both ways of the same job know of a card before they read it?

Whoever writes such a script for his own boat knows how his files look. It takes three looks of probe files and of notes,
which are those of `waterseam demo`, and it would refuse any other.

What neither way does, and Waterseam does: files told by their content; dates that are wrong or missing; duplicates and
overlaps; clocks lined up; quality flags; bias and lag of the hull's sensor; currents and calibration; breaks told from chance, with
errors, and joined into lines; profiles, layers, sections and maps; how deep a line without a counter runs; rates with
intervals and a test over all bands; an account of what was left out; a summary; a logbook that is never half written.
"""

import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

# a break is where the smoothed surface differs by so much over so long a way
WINDOW_M = 300
STEP_C = 0.5
SMOOTHED_S = 30
# a probe's sample or a bite belongs to the nearest second of the track, if it is so near
NEAR_S = 60
DEPTH_BIN_FT = 20

M_PER_FT = 0.3048
MPS_PER_KN = 1852 / 3600
EARTH_M = 6_371_008.8


@dataclass
class Day:
    """The files of a day's folder."""

    name: str
    logs: list[Path]
    probe: Path
    bites: Path
    gear: Path


@dataclass
class Look:
    """How a table is written: its first line, what divides its fields, how its times are."""

    skip: int
    separator: str
    time_format: str
    is_utc: bool


def arguments():
    """The card and the folder to write to."""
    if len(sys.argv) != 3:
        sys.exit(f"usage: {sys.argv[0]} CARD OUT")
    card, out = Path(sys.argv[1]), Path(sys.argv[2])
    out.mkdir(parents=True, exist_ok=True)
    boat = tomllib.loads((card / "waterseam.toml").read_text())
    return days(card), out, ZoneInfo(boat["time_zone"])


def days(card):
    """Every day of a card, in order."""
    return [
        Day(
            folder.name,
            sorted(folder.glob("LOG*.TXT")),
            next(folder.glob("probe*.csv")),
            next(folder.glob("bites*.csv")),
            next(folder.glob("gear*.csv")),
        )
        for folder in sorted(card.iterdir())
        if folder.is_dir()
    ]


def probe_look(path):
    """Which of the three looks a probe's file has."""
    lines = path.read_text().splitlines()[:10]
    if lines[0].startswith("Time (UTC)"):
        return Look(0, ",", "%Y-%m-%dT%H:%M:%SZ", True)
    if lines[0].startswith("Time,"):
        return Look(0, ",", "%Y-%m-%d %H:%M:%S", False)
    header = next(n for n, line in enumerate(lines) if line.startswith("Date;Time;"))
    return Look(header, ";", "%m/%d/%Y %H:%M:%S", False)


def notes_format(first_time):
    """How the times of bite notes and gear logs are written; a clock time without a date gets the folder's before it."""
    if "M" in first_time:
        return "%m/%d/%Y %I:%M %p"
    return "%Y-%m-%d %H:%M"


def say(n_days, seconds, breaks, bites, rod_hours):
    """The line by which the two ways are compared."""
    print(f"days {n_days}  seconds {seconds}  breaks {breaks}  bites {bites}  rod-hours {rod_hours:.1f}")
