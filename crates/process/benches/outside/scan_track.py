"""How long does another engine take to read every value of the table `track`?

    python scan_track.py LOGBOOK REPEATS

DuckDB reads the folders as Hive's partitions and makes a number of every column. Prints files, bytes, rows, columns and the
median of the seconds, divided by tabs.
"""

import statistics
import sys
import time
from pathlib import Path

import duckdb


def main():
    folder, repeats = Path(sys.argv[1]) / "track", int(sys.argv[2])
    files = [path for path in folder.rglob("*.parquet")]
    rows = f"read_parquet('{folder.as_posix()}/*/*/*.parquet', hive_partitioning = true)"
    engine = duckdb.connect()
    columns = engine.execute(f"DESCRIBE SELECT * FROM {rows}").fetchall()
    asked = ["count(*)"]
    for name, kind, *_ in columns:
        if kind == "DOUBLE":
            asked += [f'sum("{name}")', f'avg("{name}")']
        elif kind.startswith("VARCHAR"):
            asked.append(f'sum(length("{name}"))')
        elif kind.startswith("TIMESTAMP"):
            asked.append(f'sum(epoch_us("{name}"))')
        else:
            asked.append(f'sum("{name}"::HUGEINT)')
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        answer = engine.execute(f"SELECT {', '.join(asked)} FROM {rows}").fetchone()
        seconds.append(time.perf_counter() - start)
    n_bytes = sum(path.stat().st_size for path in files)
    print(len(files), n_bytes, answer[0], len(columns), f"{statistics.median(seconds):.3f}", sep="\t")


if __name__ == "__main__":
    main()
