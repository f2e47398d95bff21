"""Do the questions of `crates/fleet/sql` mean the same to another engine?

Asks them of a pool in DuckDB, or in DataFusion's own binding, as they stand, and compares the answer with that of the
program. With `--time` it says how long it took instead, for `crates/fleet/scale.sh`; with `--answers DIR` it keeps what
`waterseam hotspots --answers DIR` makes a layer of.

    pip install -r tests/requirements.txt
    python tests/fleet_outside.py duckdb crates/fleet/tests/pool crates/fleet/tests/expected.csv
    python tests/fleet_outside.py duckdb POOL --time
    python tests/fleet_outside.py duckdb POOL --answers DIR

Prints what was compared; the exit status is 1 where something differs.
"""

import csv
import sys
import time
from pathlib import Path

SQL = Path(__file__).resolve().parent.parent / "crates" / "fleet" / "sql"
TABLES = ["effort", "cell_visits", "trips", "bites"]
QUESTIONS = [("visits", "visits"), ("outings", "outings"), ("bites_of_trips", "bites")]
RESOLUTION, SEASON_PART = 7, "month"
DIFFERENCE_MAX = 1e-9


def question(name):
    return (SQL / f"{name}.sql").read_text()


def duckdb_tables(pool):
    import duckdb

    engine = duckdb.connect()
    for table in TABLES:
        files = f"read_parquet('{pool}/{table}/*/*/*.parquet', hive_partitioning = true)"
        engine.execute(f"CREATE VIEW {table} AS SELECT * FROM {files}")
    return engine


def duckdb_layer(pool):
    engine = duckdb_tables(pool)
    engine.execute(f"CREATE TABLE question AS SELECT {RESOLUTION} AS resolution, '{SEASON_PART}' AS season_part")
    for table, name in QUESTIONS:
        engine.execute(f"CREATE TABLE {table} AS {question(name)}")
    answer = engine.execute(question("layer"))
    return [column[0] for column in answer.description], answer.fetchall()


def duckdb_answers(pool, folder):
    engine = duckdb_tables(pool)
    for _, name in QUESTIONS:
        engine.execute(f"COPY ({question(name)}) TO '{folder}/{name}.parquet' (FORMAT parquet)")


def datafusion_tables(pool):
    import datafusion
    import pyarrow

    engine = datafusion.SessionContext()
    keys = [("boat", pyarrow.string()), ("year", pyarrow.string())]
    for table in TABLES:
        engine.register_listing_table(table, f"{pool}/{table}/", table_partition_cols=keys)
    return engine


def datafusion_layer(pool):
    import pyarrow

    engine = datafusion_tables(pool)
    asked = pyarrow.table({"resolution": [RESOLUTION], "season_part": [SEASON_PART]})
    engine.register_record_batches("question", [asked.to_batches()])
    for table, name in QUESTIONS:
        engine.register_record_batches(table, [engine.sql(question(name)).collect()])
    answer = pyarrow.Table.from_batches(engine.sql(question("layer")).collect())
    return answer.column_names, list(zip(*[column.to_pylist() for column in answer.columns]))


def datafusion_answers(pool, folder):
    import pyarrow
    import pyarrow.parquet

    engine = datafusion_tables(pool)
    for _, name in QUESTIONS:
        answer = pyarrow.Table.from_batches(engine.sql(question(name)).collect())
        pyarrow.parquet.write_table(answer, f"{folder}/{name}.parquet")


def same(found, expected):
    if found is None or expected == "":
        return found is None and expected == ""
    if isinstance(found, float):
        return abs(found - float(expected)) <= DIFFERENCE_MAX * max(1.0, abs(found))
    return str(found) == expected


def main(engine, pool, rest, folder=None):
    if rest == "--answers":
        Path(folder).mkdir(parents=True, exist_ok=True)
        {"duckdb": duckdb_answers, "datafusion": datafusion_answers}[engine](pool, folder)
        return 0
    start = time.perf_counter()
    names, rows = {"duckdb": duckdb_layer, "datafusion": datafusion_layer}[engine](pool)
    if rest == "--time":
        hours = sum(row[names.index("fished_us")] for row in rows if row[names.index("species")] == "*") / 3.6e9
        print(f"{len(rows)} places, {hours:.3f} rod-hours")
        print(f"seconds {time.perf_counter() - start:.3f}")
        return 0
    with open(rest, newline="") as file:
        expected = list(csv.reader(file))
    wrong = [] if names == expected[0] and len(rows) == len(expected) - 1 else ["other columns, or another number of rows"]
    for found, line in zip(rows, expected[1:]):
        wrong += [f"{found} is not {line}"] if not all(map(same, found, line)) else []
    print("\n".join(wrong[:10]) or f"ok     {engine}: {len(rows)} rows of the layer as the program has them")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:5]))
