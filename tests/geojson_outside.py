"""Is an exported GeoJSON file what RFC 7946 asks for, and does it hold what the tables hold?

Uses nothing of this project: the standard library reads the file, pyarrow the tables.

    python tests/geojson_outside.py LOGBOOK TRIP breaks.geojson surface-map.geojson currents.geojson

The exit status is 1 where something differs.
"""

import json
import math
import struct
import sys
from pathlib import Path

import pyarrow.dataset


def require(good, message):
    if not good:
        sys.exit(f"FAILED: {message}")


def rows(logbook, table, trip):
    dataset = pyarrow.dataset.dataset(Path(logbook) / table, format="parquet")
    return [row for row in dataset.to_table().to_pylist() if row["trip_id"] == trip]


def features(path):
    """Clauses 3.1.1 (positions), 3.1.4 (lines), 3.1.6 (rings), 3.2, 3.3 and 4 (no crs)."""
    collection = json.loads(Path(path).read_text(encoding="utf-8"))
    require(collection["type"] == "FeatureCollection", f"{path}: type {collection['type']}")
    require("crs" not in collection, f"{path}: a crs")
    require(collection["cautions"], f"{path}: no cautions")
    for feature in collection["features"]:
        require(feature["type"] == "Feature" and isinstance(feature["properties"], dict), f"{path}: {feature}")
        kind, places = feature["geometry"]["type"], feature["geometry"]["coordinates"]
        if kind == "Polygon":
            (ring,) = places
            require(len(ring) >= 4 and ring[0] == ring[-1], f"{path}: a ring that is not closed")
            twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:]))
            require(twice > 0, f"{path}: a ring with the clock")
            places = ring
        elif kind == "LineString":
            require(len(places) >= 2, f"{path}: a line of {len(places)} places")
        else:
            require(kind == "Point", f"{path}: a {kind}")
            places = [places]
        for lon, lat in places:
            require(-180 <= lon <= 180 and -90 <= lat <= 90, f"{path}: {lon}, {lat}")
    return collection["features"]


def vertices(wkb):
    """A little-endian linestring in well-known binary (OGC 06-103r4)."""
    order, kind, count = struct.unpack_from("<BII", wkb)
    require((order, kind) == (1, 2), f"a shape of byte order {order} and type {kind}")
    numbers = struct.unpack_from(f"<{2 * count}d", wkb, 9)
    return list(zip(numbers[::2], numbers[1::2]))


def same(places, wkb):
    other = vertices(wkb)
    return len(places) == len(other) and all(
        abs(a - c) < 1e-6 and abs(b - d) < 1e-6 for (a, b), (c, d) in zip(places, other)
    )


def of(found, what):
    return [feature for feature in found if feature["properties"]["what"] == what]


def vectors(logbook, trip, found):
    """Each current starts where it was measured and points and reaches as far as its set and drift say."""
    rows_of = rows(logbook, "currents", trip)
    for row, feature in zip(rows_of, of(found, "current"), strict=True):
        (lon, lat), (to_lon, to_lat) = feature["geometry"]["coordinates"]
        require(abs(lon - row["lon"]) < 1e-6 and abs(lat - row["lat"]) < 1e-6, f"a current at {lon}, {lat}")
        # a degree of latitude: 111.13 km at 45°, and less than half a percent from it anywhere
        north, east = (to_lat - lat) * 111130, (to_lon - lon) * 111320 * math.cos(math.radians(lat))
        seconds = 60 * feature["properties"]["drawn_min"]
        off = math.hypot(east - seconds * row["east_mps"], north - seconds * row["north_mps"])
        require(off <= 0.01 * seconds * row["drift_mps"] + 0.1, f"a current that is drawn {off} m wrong")
    edges = rows(logbook, "current_edges", trip)
    for row, feature in zip(edges, of(found, "current_edge"), strict=True):
        require(feature["properties"]["change_mps"] == row["change_mps"], row["edge_id"])
        require(feature["properties"]["break_id"] == row["break_id"], row["edge_id"])
    require(len(found) == len(rows_of) + len(edges), f"{len(found)} features of currents")
    return len(rows_of), len(edges)


def main(logbook, trip, breaks_path, map_path, currents_path):
    breaks, surface = features(breaks_path), features(map_path)
    n_currents, n_edges = vectors(logbook, trip, features(currents_path))
    lines = rows(logbook, "break_lines", trip)
    crossings = rows(logbook, "breaks", trip)
    found = of(breaks, "break_line")
    require(len(breaks) == len(lines) + len(crossings), f"{len(breaks)} features, the tables hold {len(lines) + len(crossings)}")
    for row, feature in zip(lines, found, strict=True):
        require(same(feature["geometry"]["coordinates"], row["geometry"]), row["break_line_id"])
        require(feature["properties"]["crossings"] == row["crossings"], row["break_line_id"])
    cells, isotherms = rows(logbook, "surface_map", trip), rows(logbook, "isotherms", trip)
    for row, feature in zip(cells, of(surface, "surface_map"), strict=True):
        ring = feature["geometry"]["coordinates"][0]
        middle = [sum(place[axis] for place in ring[:4]) / 4 for axis in (0, 1)]
        require(abs(middle[0] - row["lon"]) < 1e-6 and abs(middle[1] - row["lat"]) < 1e-6, f"a cell at {middle}")
        require(feature["properties"]["temp_c"] == row["temp_c"], f"the temperature at {middle}")
    for row, feature in zip(isotherms, of(surface, "isotherm"), strict=True):
        require(same(feature["geometry"]["coordinates"], row["geometry"]), row["isotherm_id"])
    print(
        f"passed: {len(crossings)} crossings, {len(lines)} lines, {len(cells)} cells, {len(isotherms)} isotherms, "
        f"{n_currents} currents, {n_edges} edges"
    )


if __name__ == "__main__":
    if len(sys.argv) != 6:
        sys.exit(__doc__)
    main(*sys.argv[1:])
