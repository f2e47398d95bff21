#!/usr/bin/env bash
# How long do engines take for a layer over 1, 10 and 100 million minutes of effort on this machine, and in how much memory?
#
#   crates/fleet/scale.sh [FOLDER [ROWS...]]
#
# Needs python3 with a network for the other engines' wheels, /usr/bin/time, and 6 GB in FOLDER for 100 million rows;
# each pool is removed when it has been asked. Every engine reads the same files in the same run, one after another, by
# all cores; seconds are those of the engine itself, CPU seconds and the greatest resident size are those of its process.
set -euo pipefail
cd "$(dirname "$0")/../.."
folder=${1:-target/scale}
shift || true
if [ $# = 0 ]; then set -- 1000000 10000000 100000000; fi

cargo build --release --quiet -p waterseam-tables --example scale
scale=${CARGO_TARGET_DIR:-target}/release/examples/scale
python=${PYTHON:-$folder/engines/bin/python}
mkdir -p "$folder"
if [ ! -x "$python" ]; then
    python3 -m venv "$folder/engines"
    "$python" -m pip install --quiet --disable-pip-version-check duckdb==2.0.1 datafusion==55.0.0 pyarrow==26.0.1
fi

# prints: rows, engine, seconds, CPU seconds, greatest resident size, and what it found
measure() {
    local engine=$1; shift
    /usr/bin/time -f 'used %U %S %M' "$@" >"$folder/out" 2>"$folder/err" || { cat "$folder/err" >&2; exit 1; }
    read -r user system kbytes <<<"$(sed -n 's/^used //p' "$folder/err")"
    awk -v rows="$rows" -v engine="$engine" -v user="$user" -v system_s="$system" -v kbytes="$kbytes" \
        -v seconds="$(sed -n 's/^seconds \([0-9.]*\).*/\1/p' "$folder/out")" -v found="$(head -1 "$folder/out")" \
        'BEGIN { printf "%11d  %-10s %8.2f s %8.2f CPU s %6.0f MB   %s\n", rows, engine, seconds, user + system_s, kbytes / 1000, found }'
}

nproc --all | sed 's/$/ cores/'
for rows in "$@"; do
    pool=$folder/pool
    rm -rf "$pool"
    "$scale" generate "$pool" "$rows"
    du -sh "$pool" | cut -f1 | sed "s/^/$rows rows are /"
    # once without a clock, so that nobody has to wait for the disk
    "$scale" layer "$pool" >"$folder/out"
    measure waterseam "$scale" layer "$pool"
    measure datafusion "$python" tests/fleet_outside.py datafusion "$pool" --time
    measure duckdb "$python" tests/fleet_outside.py duckdb "$pool" --time
    rm -rf "$pool"
done
