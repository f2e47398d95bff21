"""Can other engines read a logbook as its schemas say?

Opens every table of a logbook with pyarrow and with DuckDB, as a captain's analyst would, and compares column
names, order, types and nullability with the pages in `schemas/`, and the two engines' rows with each other.

    pip install -r tests/requirements.txt
    python tests/tables_outside.py LOGBOOK schemas

Prints one line for each table and ends with `N passed, M failed`; the exit status is 1 where any failed.
"""

import json
import sys
from pathlib import Path

import duckdb
import pyarrow
import pyarrow.dataset
import pyarrow.parquet

PARTITION_COLUMNS = ["year", "trip"]
# the layer of many trips is of no trip and has folders of its own: tests/hotspots_outside.py
LAYER = "hotspots"

# Arrow type to the type that DuckDB names for it (https://duckdb.org/docs, "Data types").
DUCKDB_TYPES = {
    "string": "VARCHAR",
    "double": "DOUBLE",
    "int64": "BIGINT",
    "uint8": "UTINYINT",
    "uint64": "UBIGINT",
    "bool": "BOOLEAN",
    "timestamp[us, tz=UTC]": "TIMESTAMP WITH TIME ZONE",
    "binary": "BLOB",
}

# Values that DuckDB can count apart without regard to how an engine prints them.
COMPARED = "SELECT count(*), count({0}), count(DISTINCT {0}) FROM rows"


class Failed(Exception):
    """What is wrong with a table."""


def require(good, message):
    if not good:
        raise Failed(message)


def check_arrow(folder, page):
    """The table as pyarrow reads it, its partitions found by their folders' names."""
    schema = pyarrow.schema([("year", pyarrow.int32()), ("trip", pyarrow.string())])
    partitioning = pyarrow.dataset.partitioning(schema, flavor="hive")
    dataset = pyarrow.dataset.dataset(folder, format="parquet", partitioning=partitioning)
    table = dataset.to_table()
    table.validate(full=True)
    columns = page["columns"]
    names = [column["name"] for column in columns]
    require(table.column_names == names + PARTITION_COLUMNS, f"pyarrow: columns {table.column_names}")
    for column in columns:
        field = table.schema.field(column["name"])
        where = f"pyarrow: {column['name']}"
        require(str(field.type) == column["type"], f"{where}: type {field.type}, the schema says {column['type']}")
        require(field.nullable == column["nullable"], f"{where}: nullable {field.nullable}")
    moved = table.filter(pyarrow.compute.field("trip_id") != pyarrow.compute.field("trip"))
    require(moved.num_rows == 0, f"pyarrow: {moved.num_rows} rows in the folder of another trip")
    # files that no trip could use: their partition is Hive's for a missing key, and the engine gives NULL back
    for key in PARTITION_COLUMNS:
        gone, named = table.column(key).is_null(), table.column("trip_id").is_null()
        require(gone.equals(named), f"pyarrow: {key} is not missing where trip_id is")
    return table


def check_duckdb(folder, page, table):
    """The table as DuckDB reads it, and against the rows of pyarrow."""
    engine = duckdb.connect()
    files = f"read_parquet('{folder.as_posix()}/*/*/*.parquet', hive_partitioning = true, hive_types = {{'year': INT, 'trip': VARCHAR}})"
    described = engine.execute(f"DESCRIBE SELECT * FROM {files}").fetchall()
    columns = page["columns"]
    names = [column["name"] for column in columns]
    found = [row[0] for row in described]
    # where a partition's name comes first or last is for the engine to say
    require([name for name in found if name not in PARTITION_COLUMNS] == names, f"duckdb: columns {found}")
    types = {row[0]: row[1] for row in described}
    for column in columns:
        want = DUCKDB_TYPES[column["type"]]
        got = types[column["name"]]
        shape = column["type"] == "binary" and got.startswith("GEOMETRY")
        require(got == want or shape, f"duckdb: {column['name']}: type {got}, expected {want}")
    engine.register("from_pyarrow", table)
    for column in columns:
        name = f'"{column["name"]}"'
        if column["type"] == "binary":
            name = f"octet_length({name})" if types[column["name"]] == "BLOB" else f"{name} IS NULL"
        counts = [
            engine.execute(f"WITH rows AS (SELECT * FROM {source}) " + COMPARED.format(name)).fetchone()
            for source in (files, "from_pyarrow")
        ]
        if column["type"] == "binary":
            counts = [count[:1] for count in counts]
        require(counts[0] == counts[1], f"duckdb: {column['name']}: rows, values, distinct values {counts[0]}, pyarrow {counts[1]}")
    odd = " OR ".join(f'("{key}" IS NULL) <> (trip_id IS NULL)' for key in PARTITION_COLUMNS)
    (different,) = engine.execute(f"SELECT count(*) FROM {files} WHERE {odd}").fetchone()
    require(different == 0, f"duckdb: {different} rows whose partition is missing and trip_id is not, or the other way round")
    plain = ", ".join(f'"{column["name"]}"' for column in columns if column["type"] != "binary")
    for one, other in ((files, "from_pyarrow"), ("from_pyarrow", files)):
        query = f"SELECT count(*) FROM (SELECT {plain} FROM {one} EXCEPT ALL SELECT {plain} FROM {other})"
        (different,) = engine.execute(query).fetchone()
        require(different == 0, f"duckdb and pyarrow read {different} rows differently")


def check_layer(folder, page):
    """The layer of many trips: its folders' names (`cells`, `parts`) must hide none of its columns."""
    partitioning = pyarrow.dataset.partitioning(flavor="hive")
    table = pyarrow.dataset.dataset(folder, format="parquet", partitioning=partitioning).to_table()
    columns = page["columns"]
    names = [column["name"] for column in columns]
    require(table.column_names == names + ["cells", "parts"], f"pyarrow: columns {table.column_names}")
    for column in columns:
        field = table.schema.field(column["name"])
        require(str(field.type) == column["type"], f"pyarrow: {column['name']}: type {field.type}")
        require(field.nullable == column["nullable"], f"pyarrow: {column['name']}: nullable {field.nullable}")
    files = f"read_parquet('{folder.as_posix()}/*/*/*.parquet', hive_partitioning = true)"
    engine = duckdb.connect()
    engine.register("from_pyarrow", table)
    plain = ", ".join(f'"{column["name"]}"' for column in columns if column["type"] != "binary")
    for one, other in ((files, "from_pyarrow"), ("from_pyarrow", files)):
        query = f"SELECT count(*) FROM (SELECT {plain} FROM {one} EXCEPT ALL SELECT {plain} FROM {other})"
        (different,) = engine.execute(query).fetchone()
        require(different == 0, f"duckdb and pyarrow read {different} rows differently")
    return table


def check_ranges(page, table):
    """Numbers are finite, and nothing that must be there is missing. Ranges are for `verify`."""
    for column in page["columns"]:
        values = table.column(column["name"])
        require(column["nullable"] or values.null_count == 0, f"{column['name']}: {values.null_count} missing values")
        if column["type"] == "double":
            finite = pyarrow.compute.all(pyarrow.compute.is_finite(values), min_count=0).as_py()
            require(finite, f"{column['name']}: a number that is not finite")


def check_geo(folder, page):
    """GeoParquet 1.1.0: the file metadata (https://geoparquet.org/releases/v1.1.0/) and the shapes themselves."""
    shapes = [column["name"] for column in page["columns"] if column["type"] == "binary"]
    for file in sorted(folder.rglob("*.parquet")) if shapes else []:
        table = pyarrow.parquet.ParquetFile(file)
        metadata = table.metadata.metadata or {}
        require(b"geo" in metadata, f"{file.name}: no `geo` metadata")
        geo = json.loads(metadata[b"geo"])
        require(geo["version"] == "1.1.0", f"geo version {geo['version']}")
        require(geo["primary_column"] in shapes and list(geo["columns"]) == shapes, f"geo columns {list(geo['columns'])}")
        column = geo["columns"][geo["primary_column"]]
        require(column["encoding"] == "WKB", f"geo encoding {column['encoding']}")
        require("crs" not in column, "geo: a crs is stated; left out it is OGC:CRS84")
        values = table.read([geo["primary_column"]]).column(0).to_pylist()
        lines = [line(value) for value in values if value is not None]
        kind = "Polygon" if page["table"] == LAYER else "LineString"
        require(column["geometry_types"] == ([kind] if lines else []), f"geo types {column['geometry_types']}")
        if lines:
            lons = [lon for points in lines for lon, _ in points]
            lats = [lat for points in lines for _, lat in points]
            box = [min(lons), min(lats), max(lons), max(lats)]
            require(column["bbox"] == box, f"geo bbox {column['bbox']}, the shapes span {box}")


def line(wkb):
    """Vertices of a linestring, or of a polygon's one ring, in well-known binary (OGC 06-103r4, clause 8.2)."""
    import struct

    order = "<" if wkb[0] == 1 else ">"
    kind, points = struct.unpack_from(f"{order}II", wkb, 1)
    if kind == 3:
        require(points == 1, f"a polygon of {points} rings")
        return line(wkb[:1] + struct.pack(f"{order}I", 2) + wkb[9:])
    require(kind == 2, f"a shape of type {kind} is no linestring")
    require(len(wkb) == 9 + 16 * points, f"a linestring of {points} points has {len(wkb)} bytes")
    numbers = struct.unpack_from(f"{order}{2 * points}d", wkb, 9)
    return list(zip(numbers[::2], numbers[1::2]))


def main(logbook, schemas):
    pages = sorted(Path(schemas).glob("*.json"))
    passed = failed = 0
    for path in pages:
        page = json.loads(path.read_text(encoding="utf-8"))
        folder = Path(logbook) / page["table"]
        if page["table"] == LAYER and not folder.is_dir():
            # it is there once `waterseam hotspots` has built it
            continue
        try:
            require(folder.is_dir(), "the logbook has no such table")
            if page["table"] == LAYER:
                table = check_layer(folder, page)
                check_ranges(page, table)
                check_geo(folder, page)
                passed += 1
                print(f"passed {page['table']}: {table.num_rows} rows, {len(page['columns'])} columns")
                continue
            table = check_arrow(folder, page)
            check_duckdb(folder, page, table)
            check_ranges(page, table)
            check_geo(folder, page)
        except (Failed, pyarrow.ArrowException, duckdb.Error, KeyError, ValueError) as error:
            failed += 1
            print(f"FAILED {page['table']}: {error}")
        else:
            passed += 1
            without = table.column("trip_id").null_count
            trips = f", {without} of no trip" if without else ""
            print(f"passed {page['table']}: {table.num_rows} rows{trips}, {len(page['columns'])} columns")
    if not pages:
        failed += 1
        print(f"FAILED: {schemas} holds no schema")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    sys.exit(main(*sys.argv[1:]))
