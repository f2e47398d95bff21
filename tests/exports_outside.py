"""Do other programs read what is exported of tracks, bites and breaks, and does it hold what the tables hold?

Uses nothing of this project: GeoJSON is read by the standard library (against RFC 7946) and by GDAL (pyogrio), GPX is checked
against its schema (tests/gpx_outside.py says whose), CSV is read by the standard library, the tables by pyarrow.

    python tests/exports_outside.py LOGBOOK TRIP FOLDER

The folder holds track.*, bites.* and breaks.* of the trip as .geojson, .gpx and .csv, and the bites of all trips as
all-bites.geojson and, with short names and as a route, all-bites.gpx. The exit status is 1 where something differs.
"""

import csv
import re
import sys
import xml.etree.ElementTree as ElementTree
from datetime import datetime
from pathlib import Path

import pyogrio

from geojson_outside import features, of, require, rows
from gpx_outside import GPX, schema


def geojson(path):
    """The features as we read them, once GDAL has found as many and the same bounds."""
    found = features(path)
    info = pyogrio.read_info(path)
    require(info["driver"] == "GeoJSON" and info["features"] == len(found), f"{path}: GDAL finds {info['features']}")
    west, south, east, north = info["total_bounds"]
    places = []
    for feature in found:
        kind, at = feature["geometry"]["type"], feature["geometry"]["coordinates"]
        places += [at] if kind == "Point" else at if kind == "LineString" else at[0]
    for axis, low, high in ((0, west, east), (1, south, north)):
        values = [place[axis] for place in places]
        require(abs(min(values) - low) < 1e-9 and abs(max(values) - high) < 1e-9, f"{path}: GDAL has other bounds")
    return found


def gpx(path, checker):
    faults = [f"{fault.path}: {fault.reason}" for fault in checker.iter_errors(path)]
    require(not faults, f"{path}: {faults}")
    root = ElementTree.parse(path).getroot()
    require("Not for navigation" in root.findtext(f"{GPX}metadata/{GPX}desc", ""), f"{path}: no cautions")
    return root


def time_of(point):
    return datetime.fromisoformat(point.findtext(f"{GPX}time"))


def is_at(point, row):
    return max(abs(float(point.get(axis)) - row[axis]) for axis in ("lat", "lon")) < 1e-6


def sheet(path, table):
    """Each row of a CSV file beside its row of the table; text is never a formula."""
    with open(path, newline="", encoding="utf-8") as file:
        found = list(csv.DictReader(file))
    require(len(found) == len(table), f"{path}: {len(found)} rows, the table holds {len(table)}")
    require(not found or "Not for navigation" in found[0]["mind"], f"{path}: no cautions")
    names = {"lat": "lat_deg", "lon": "lon_deg", "time": "time_utc"}
    for line, row in zip(found, table, strict=True):
        for column, value in row.items():
            if column in ("geometry", "year", "trip"):
                continue
            said = line[names.get(column, column)]
            if value is None:
                good = said == ""
            elif isinstance(value, bool):
                good = said == str(value).lower()
            elif isinstance(value, float):
                good = float(said) == value
            elif isinstance(value, datetime):
                good = datetime.fromisoformat(said) == value
            elif column == "cell":
                good = int(said, 16) == value
            elif isinstance(value, str):
                good = said.removeprefix("'") == value and said[:1] not in ("=", "+", "-", "@")
            else:
                good = int(said) == value
            require(good, f"{path}: {column} is {said!r}, the table says {value!r}")
    return len(found)


def main(logbook, trip, folder):
    folder, checker = Path(folder), schema()
    track, bites, breaks = (rows(logbook, table, trip) for table in ("track", "bites", "breaks"))

    for feature, row in zip(of(geojson(folder / "bites.geojson"), "bite"), bites, strict=True):
        lon, lat = feature["geometry"]["coordinates"]
        require(abs(lon - row["lon"]) < 1e-6 and abs(lat - row["lat"]) < 1e-6, row["bite_id"])
        require(feature["properties"]["depth_m"] == row["depth_m"], f"{row['bite_id']}: its depth")
        require(int(feature["properties"]["cell"], 16) == row["cell"], f"{row['bite_id']}: its cell")
    stretches = geojson(folder / "track.geojson")
    run = sum(feature["properties"]["run_m"] for feature in stretches)
    require(abs(run - track[-1]["distance_m"]) < 0.01 * run, f"{run} m of {track[-1]['distance_m']} m are drawn")
    require({f["properties"]["activity"] for f in stretches} <= {row["activity"] for row in track}, "an activity")

    for name, table in (("bites", bites), ("breaks", [row for row in breaks if row["depth_m"] is None])):
        for point, row in zip(gpx(folder / f"{name}.gpx", checker).findall(f"{GPX}wpt"), table, strict=True):
            require(is_at(point, row) and time_of(point) == row["time"], f"{name}: a waypoint that is not the row's")
            require("Not for navigation" in point.findtext(f"{GPX}desc"), f"{name}: no cautions")
    drawn = gpx(folder / "track.gpx", checker).findall(f"{GPX}trk/{GPX}trkseg/{GPX}trkpt")
    good = [row for row in track if row["position_qc"] in (1, 2)]
    for point, row in zip(drawn, good, strict=True):
        require(is_at(point, row) and time_of(point) == row["time"], f"the track at {row['time']}")

    everything = len(features(folder / "all-bites.geojson"))
    route = gpx(folder / "all-bites.gpx", checker)
    names = [point.findtext(f"{GPX}name") for point in route.findall(f"{GPX}rte/{GPX}rtept")]
    require(len(names) == everything == len(set(names)) and everything > len(bites), f"{len(names)} names, {everything} bites")
    require(all(re.fullmatch("[A-Za-z0-9]{1,10}", name) for name in names), f"names too long: {names[:3]}")

    n_rows = sum(sheet(folder / f"{name}.csv", rows(logbook, name, trip)) for name in ("track", "bites", "breaks"))
    print(f"passed: {len(bites)} bites of {everything}, {len(breaks)} breaks, {len(drawn)} places of the track, {n_rows} CSV rows")


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    main(*sys.argv[1:])
