"""Do other programs read the exported places of many trips, and do those that are shared give no spot away?

Uses nothing of this project: GeoParquet is read by geopandas, GeoJSON by the standard library (against RFC 7946) and by GDAL,
GPX is checked against its schema, cells by the library h3; what is shared is counted again from the tables by hand.

    python tests/hotspots_outside.py LOGBOOK FOLDER RESOLUTION LEAST_TRIPS

The folder holds hotspots.geojson, .parquet, .csv and .gpx of the layer of months at resolution 7, and shared.geojson,
.parquet and .csv, blurred to RESOLUTION with at least LEAST_TRIPS trips a cell, for the whole year. The exit status is 1 where
something differs.
"""

import csv
import json
import sys
from collections import defaultdict
from pathlib import Path

import geopandas
import h3
import pyarrow.dataset
import pyarrow.parquet
import pyogrio

from exports_outside import geojson, gpx
from geojson_outside import require
from gpx_outside import GPX, schema


def same_ring(ring, cell, what):
    """The outline of a cell as h3 has it, longitude first, against the clock."""
    corners = [(lon, lat) for lat, lon in h3.cell_to_boundary(cell)]
    require(len(ring) == len(corners) + 1 and tuple(ring[0]) == tuple(ring[-1]), f"{what}: {len(ring)} places")
    for (lon, lat), (want_lon, want_lat) in zip(ring, corners):
        require(abs(lon - want_lon) < 1e-6 and abs(lat - want_lat) < 1e-6, f"{what}: not the outline of {cell}")


def areas(folder, name):
    """The same rows from GeoParquet, GeoJSON and CSV."""
    path = folder / f"{name}.parquet"
    frame = geopandas.read_parquet(path)
    metadata = pyarrow.parquet.read_metadata(path).metadata
    geo = json.loads(metadata[b"geo"])
    require(geo["version"] == "1.1.0" and geo["columns"]["geometry"]["geometry_types"] == ["Polygon"], f"{geo}")
    require(frame.crs is None or frame.crs.to_epsg() == 4326 or "CRS84" in str(frame.crs), f"{path}: {frame.crs}")
    require(b"Not for navigation" in metadata[b"waterseam:mind"], f"{path}: no cautions")
    require(frame.geometry.is_valid.all(), f"{path}: a shape that is not valid")
    bounds = frame.total_bounds
    require(all(abs(a - b) < 1e-9 for a, b in zip(bounds, geo["columns"]["geometry"]["bbox"])), f"{path}: its box")
    # the wheels of pyogrio come without this driver, other builds of GDAL with it
    if "Parquet" in pyogrio.list_drivers():
        require(pyogrio.read_info(path)["features"] == len(frame), f"{path}: GDAL finds others")
    features = geojson(folder / f"{name}.geojson")
    with open(folder / f"{name}.csv", newline="", encoding="utf-8") as file:
        lines = list(csv.DictReader(file))
    require(len(frame) == len(features) == len(lines) > 0, f"{name}: {len(frame)}, {len(features)}, {len(lines)} rows")
    for row, feature, line in zip(frame.to_dict("records"), features, lines, strict=True):
        cell = h3.int_to_str(row["cell"])
        require(feature["properties"]["cell"] == line["cell"] == cell, f"{name}: {cell}")
        same_ring(list(row["geometry"].exterior.coords), cell, f"{name}.parquet")
        same_ring(feature["geometry"]["coordinates"][0], cell, f"{name}.geojson")
        require(h3.get_resolution(cell) == row["resolution"], f"{cell}: its resolution")
        for column in ("rod_hours", "bites", "trips"):
            require(float(line[column]) == row[column] == feature["properties"][column], f"{cell}: {column}")
    return frame


def shared_again(logbook, resolution, least):
    """Trips, rod-hours and bites of each coarse cell over the whole year, from the tables."""
    visits = pyarrow.dataset.dataset(Path(logbook) / "cell_visits", format="parquet").to_table().to_pylist()
    bites = pyarrow.dataset.dataset(Path(logbook) / "bites", format="parquet").to_table().to_pylist()
    coarse = lambda row: h3.cell_to_parent(h3.int_to_str(row["cell"]), resolution)
    trips, hours, bitten = defaultdict(set), defaultdict(float), defaultdict(int)
    for row in visits:
        if row["rod_hours"] > 0:
            trips[coarse(row)].add(row["trip_id"])
            hours[coarse(row)] += row["rod_hours"]
    for row in bites:
        bitten[coarse(row)] += 1
    return {cell: (len(of), hours[cell], bitten[cell]) for cell, of in trips.items() if len(of) >= least}


def main(logbook, folder, resolution, least):
    folder = Path(folder)
    hot = areas(folder, "hotspots")
    points = gpx(folder / "hotspots.gpx", schema()).findall(f"{GPX}wpt")
    n_hot = int((hot["hot"] & (hot["species"] == "*")).sum())
    require(len(points) == n_hot, f"{len(points)} waypoints, {n_hot} hot places")

    shared = areas(folder, "shared")
    expected = shared_again(logbook, resolution, least)
    require(len(shared) == len(expected), f"{len(shared)} cells are shared, {len(expected)} may be")
    for row in shared.to_dict("records"):
        trips, hours, bites = expected[h3.int_to_str(row["cell"])]
        require((row["trips"], row["bites"]) == (trips, bites), f"{row['cell']}: {row['trips']} trips, {row['bites']} bites")
        require(abs(row["rod_hours"] - hours) <= 0.5 + 1e-9, f"{row['cell']}: {row['rod_hours']} of {hours} rod-hours")
    everything = " ".join((folder / f"shared.{form}").read_text(encoding="utf-8") for form in ("geojson", "csv"))
    fine = {h3.int_to_str(cell) for cell in hot["cell"]}
    require(not any(cell in everything for cell in fine), "a finer cell is named in what is shared")
    print(f"passed: {len(hot)} rows of places, {n_hot} hot, {len(shared)} cells shared")


if __name__ == "__main__":
    if len(sys.argv) != 5:
        sys.exit(__doc__)
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
