"""Does a pool hold what its logbooks hold, and does an engine pass over what it need not read?

Compares every table of a pool with the same table of its logbooks, row by row, in DuckDB; checks with pyarrow that
rows stand in the order that the files declare and that columns say their units and meanings, and counts the row groups that a question about one cell needs by
their statistics, and the rows that pyarrow's own reader takes for it.

    pip install -r tests/requirements.txt
    python tests/pool_outside.py POOL LOGBOOK [LOGBOOK2 ...]

Prints one line for each table and ends with `N passed, M failed`; the exit status is 1 where any failed.
"""

import json
import sys
from pathlib import Path

import duckdb
import pyarrow
import pyarrow.compute
import pyarrow.dataset
import pyarrow.parquet


class Failed(Exception):
    """What is wrong with a table."""


def require(good, message):
    if not good:
        raise Failed(message)


def check_rows(pool, logbooks, table):
    """The rows of the pool are those of the logbooks' trips, each as often."""
    files = [str(book / table / "year=[0-9]*" / "*" / "*.parquet") for book in logbooks]
    columns = pyarrow.parquet.read_schema(next((pool / table).rglob("*.parquet"))).names
    engine = duckdb.connect()
    listed = ", ".join(f'"{name}"' for name in columns)
    engine.execute(
        f"CREATE TABLE before AS SELECT {listed} FROM read_parquet({files}, union_by_name = true, hive_partitioning = false)"
    )
    engine.execute(
        f"CREATE TABLE after AS SELECT {listed} FROM read_parquet('{pool / table}/*/*/*.parquet', hive_partitioning = false)"
    )
    [(n_before, n_after)] = engine.execute(
        "SELECT (SELECT count(*) FROM before), (SELECT count(*) FROM after)"
    ).fetchall()
    require(n_before == n_after, f"{n_after} rows, the logbooks have {n_before}")
    for one, other in [("before", "after"), ("after", "before")]:
        [(n,)] = engine.execute(
            f"SELECT count(*) FROM (SELECT * FROM {one} EXCEPT ALL SELECT * FROM {other})"
        ).fetchall()
        require(n == 0, f"{n} rows {one} compacting have no equal")
    return n_after


def check_words(path, table):
    """Every column says its unit and its meaning, as the page of the table does."""
    page = json.loads((Path(__file__).parent.parent / "schemas" / f"{table}.json").read_text())
    expected = {column["name"]: column for column in page["columns"]}
    for field in pyarrow.parquet.read_schema(path):
        said = {key.decode(): value.decode() for key, value in (field.metadata or {}).items()}
        for key, word in (("unit", "unit"), ("description", "meaning")):
            have = said.get(key)
            require(have == expected[field.name][word], f"{table}.{field.name}: {key} {have!r}")


def check_order(path):
    """The rows of a file stand in the order that it declares, and every row group says so."""
    file = pyarrow.parquet.ParquetFile(path)
    names = file.schema_arrow.names
    expected = [name for name in ["cell" if "cell" in names else "trip_id", "time"] if name in names]
    for group in range(file.num_row_groups):
        declared = [names[column.column_index] for column in file.metadata.row_group(group).sorting_columns]
        require(declared == expected, f"{path}: declares the order {declared}")
    rows = file.read(columns=expected)
    sorted_rows = rows.sort_by([(name, "ascending") for name in expected])
    require(rows.equals(sorted_rows), f"{path}: rows are not in the order of {expected}")


def one_cell(files):
    """Row groups that may hold the commonest cell, row groups in all, rows of that cell by pyarrow's reader and by hand."""
    table = pyarrow.parquet.read_table(files[0], columns=["cell"], partitioning=None)
    counts = table.column("cell").value_counts().to_pylist()
    cell = max(counts, key=lambda count: (count["counts"], count["values"]))["values"]
    needed, n_groups, by_hand = 0, 0, 0
    for path in files:
        file = pyarrow.parquet.ParquetFile(path)
        column = file.schema_arrow.get_field_index("cell")
        for group in range(file.num_row_groups):
            chunk = file.metadata.row_group(group).column(column)
            require(chunk.has_column_index and chunk.has_offset_index, f"{path}: no page index of the cell")
            low, high = chunk.statistics.min, chunk.statistics.max
            needed += low <= cell <= high
            n_groups += 1
            cells = file.read_row_group(group, columns=["cell"]).column("cell")
            by_hand += pyarrow.compute.sum(pyarrow.compute.equal(cells, pyarrow.scalar(cell, pyarrow.uint64()))).as_py()
    filtered = pyarrow.dataset.dataset([str(path) for path in files], format="parquet")
    found = filtered.count_rows(filter=pyarrow.dataset.field("cell") == pyarrow.scalar(cell, pyarrow.uint64()))
    require(found == by_hand, f"the reader finds {found} rows of a cell, there are {by_hand}")
    return f"one cell: {needed} of {n_groups} row groups, {found} rows"


def main(pool, logbooks):
    passed, failed = 0, 0
    for folder in sorted(path for path in pool.iterdir() if path.is_dir() and not path.name.startswith(".")):
        table = folder.name
        files = sorted(folder.rglob("*.parquet"))
        try:
            n_rows = check_rows(pool, logbooks, table)
            for path in files:
                check_order(path)
                check_words(path, table)
            has_cells = n_rows and "cell" in pyarrow.parquet.read_schema(files[0]).names
            print(f"ok     {table}: {n_rows} rows in {len(files)} files" + (f"; {one_cell(files)}" if has_cells else ""))
            passed += 1
        except Failed as wrong:
            print(f"FAILED {table}: {wrong}")
            failed += 1
    print(f"{passed} passed, {failed} failed")
    return 0 if passed and not failed else 1


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), [Path(book) for book in sys.argv[2:]]))
