#!/usr/bin/env bash
# How fast is the main job on this machine, how does it grow, and how does it compare with others on the same bytes?
#
#   crates/process/benches/ratios.sh [--trips N] [--repeats N] [--keep DIR] [--with-python]
#
#   --trips N      trips of the largest rung (default 100); the rungs are 1, 10, 100, 1000 and N, up to N
#   --repeats N    medians are of so many runs (default 5); rungs of more than 100 trips run once
#   --keep DIR     invented cards are made in DIR and stay there for the next run; else they go, as all else does
#   --with-python  also: the same job in pandas and in polars, and a full scan by another engine (installs them from
#                  outside/requirements.txt into a virtual environment that goes too)
#
# A trip is about 10 MB of logs, so 1,000 trips need 11 GB of disk, in DIR or in ${TMPDIR:-/tmp}. Needs python3, and Linux
# to keep a run to one core. Megabytes are 10^6 bytes, of plotter's logs alone: probe's logs and notes count for nothing.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../../.." && pwd)
trips=100 repeats=5 keep='' with_python=''

usage() {
    sed -n '2,/^set/{/^set/d; s/^# \{0,1\}//; p;}' "${BASH_SOURCE[0]}"
}

while (($#)); do
    case $1 in
    --trips) trips=${2:?--trips needs a number} && shift 2 ;;
    --repeats) repeats=${2:?--repeats needs a number} && shift 2 ;;
    --keep) keep=${2:?--keep needs a folder} && shift 2 ;;
    --with-python) with_python=yes && shift ;;
    -h | --help) usage && exit ;;
    *) usage >&2 && exit 2 ;;
    esac
done
for number in "$trips" "$repeats"; do
    [[ $number =~ ^[1-9][0-9]*$ ]] || { echo "'$number' is no whole number above zero" >&2 && exit 2; }
done

say() { printf '%s\n' "$*" >&2; }

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cards=$work/cards
[[ -z $keep ]] || cards=$(mkdir -p "$keep" && cd "$keep" && pwd)
n_cores=$(nproc)

say "building"
cd "$root"
cargo build --release --quiet -p waterseam-cli -p waterseam-logs --bin waterseam --example decode_rate
built=$(cd "${CARGO_TARGET_DIR:-target}/release" && pwd)

# --- cards -----------------------------------------------------------------------------------------------------------

# a season has 153 days; 100 trips in each is one boat's
years=$(((trips + 99) / 100))
whole=$cards/trips-$trips
if [[ ! -f $whole/truth.json ]]; then
    say "inventing $trips trips"
    rm -rf "$whole"
    "$built/waterseam" demo "$whole" --every-second --trips $(((trips + years - 1) / years)) --years $years >&2
fi
mapfile -t folders < <(cd "$whole" && printf '%s\n' */ | sort)

# a rung has days from all over the seasons, so that each rung has the same mix of them; links take no room
rung() {
    local n=$1 i dir=$work/rung-$1
    [[ -z $keep ]] || dir=$cards/trips-$trips-rung-$n
    if [[ ! -f $dir/waterseam.toml ]]; then
        rm -rf "$dir" && mkdir -p "$dir"
        for ((i = 0; i < n; i++)); do
            cp -rl "$whole/${folders[(2 * i + 1) * ${#folders[@]} / (2 * n)]%/}" "$dir/"
        done
        cp "$whole/waterseam.toml" "$dir/"
    fi
    printf '%s' "$dir"
}

rungs=()
for n in 1 10 100 1000; do ((n >= trips)) || rungs+=("$n"); done
rungs+=("$trips")
# what needs no large rung is measured at this one
middle=$((trips < 10 ? trips : 10))

bytes_of() { find "$1" -type f -name "$2" -printf '%s\n' | awk '{ sum += $1 } END { printf "%.0f", sum }'; }

# --- measuring -------------------------------------------------------------------------------------------------------

# seconds, peak MB and CPU seconds of a command that has so many cores
measured() {
    python3 - "$@" <<'PY'
import os, subprocess, sys, time

n, command = int(sys.argv[1]), sys.argv[2:]
env = dict(os.environ, RAYON_NUM_THREADS=str(n), POLARS_MAX_THREADS=str(n), PYTHONDONTWRITEBYTECODE="1")
if hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:n])
start = time.perf_counter()
child = subprocess.Popen(command, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
said = child.stderr.read()
_, status, used = os.wait4(child.pid, 0)
seconds = time.perf_counter() - start
if status:
    sys.exit(f"{' '.join(command)}: failed\n{said.decode(errors='replace')[-2000:]}")
print(f"{seconds:.3f} {used.ru_maxrss * 1024 / 1e6:.0f} {used.ru_utime + used.ru_stime:.3f}")
PY
}

median() { sort -g | awk '{ v[NR] = $1 } END { print NR % 2 ? v[(NR + 1) / 2] : (v[NR / 2] + v[NR / 2 + 1]) / 2 }'; }
largest() { sort -g | tail -n 1; }
# an expression of awk as a number with so many decimals
calc() { awk "BEGIN { printf \"%.$1f\", $2 }"; }

# the main job, with one core and with two in turns; medians in job_s and job_cpu_s, peaks in job_mb, by cores
declare -A job_s job_mb job_cpu_s
main_job() {
    local card=$1 times=$2 cores=$3 n i && shift 3
    : >"$work/runs"
    for ((i = 0; i < times; i++)); do
        for n in $cores; do
            # a file system that has just lost thousands of files is slow to make new ones; they go between the rungs
            mkdir -p "$work/before"
            [[ ! -e $work/logbook ]] || mv "$work/logbook" "$work/before/logbook-$i-$n"
            [[ ! -e $work/pages ]] || mv "$work/pages" "$work/before/pages-$i-$n"
            printf '%s %s\n' "$n" "$(measured "$n" "$built/waterseam" process "$card" --logbook "$work/logbook" "$@")" \
                >>"$work/runs"
        done
    done
    rm -rf "$work/before"
    for n in $cores; do
        job_s[$n]=$(awk -v n="$n" '$1 == n { print $2 }' "$work/runs" | median)
        job_mb[$n]=$(awk -v n="$n" '$1 == n { print $3 }' "$work/runs" | largest)
        job_cpu_s[$n]=$(awk -v n="$n" '$1 == n { print $4 }' "$work/runs" | median)
    done
}

# --- the table -------------------------------------------------------------------------------------------------------

cpu=$(sed -n 's/^model name[[:space:]]*: //p' /proc/cpuinfo 2>/dev/null | head -n 1)
echo "Machine: ${cpu:-unknown}, $n_cores cores; load when it began: $(cut -d ' ' -f 1-3 /proc/loadavg 2>/dev/null || echo unknown)."
echo "Medians of $repeats runs (of one above 100 trips); MB are 10^6 bytes of plotter's logs."

say "decoding"
card=$(rung "$middle")
"$built/examples/decode_rate" "$card" "$repeats" >"$work/rates"
rate() { awk -F '\t' -v name="$1" '$1 == name { print $2 }' "$work/rates"; }
count() { awk -F '\t' -v name="$1" '$1 == name { print $3 }' "$work/rates"; }
bare=$(rate bare_nmea_crate)
echo
echo "One core, $(calc 0 "$(rate bytes) / 1e6") MB in memory, $(count bytes) lines:"
echo
echo "| decoding | MB/s | against the bare crate | taken |"
echo "| --- | --: | --: | --: |"
for name in bare_nmea_crate decode_sentences read_whole; do
    case $name in
    bare_nmea_crate) words='bare `nmea` crate, lines found before' ;;
    decode_sentences) words='our decoding, lines found before' ;;
    read_whole) words='our whole reading: lines, sentences, values, times, account, hash' ;;
    esac
    echo "| $words | $(calc 1 "$(rate $name)") | $(calc 2 "$(rate $name) / $bare") | $(count $name) |"
done

cores='1 2'
((n_cores > 1)) || cores=1
echo
echo "\`process\`, raw logs to all tables and the summary, without pages:"
echo
echo "| trips | MB | 1 core, s | of that computing, s | MB/s | against the bare crate | s/MB against 10 trips | 2 cores, s | MB/s | against 1 core | s/MB against 10 trips | peak MB, 1 and 2 cores | logbook, MB | of the logs |"
echo "| --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: |"
declare -A of_ten
growth=1 worst_mb=0 worst_share=0 gain_of_one=– worst_gain=''
for n in "${rungs[@]}"; do
    say "process, $n trips"
    card=$(rung "$n")
    mb=$(calc 6 "$(bytes_of "$card" '*.TXT') / 1e6")
    # files that were not in memory would count against the first run
    find "$card" -type f -exec cat {} + >/dev/null
    main_job "$card" $((n > 100 ? 1 : repeats)) "$cores" --no-report
    book_mb=$(calc 6 "$(bytes_of "$work/logbook" '*') / 1e6")
    share=$(calc 4 "$book_mb / $mb")
    columns="$n | $(calc 1 "$mb")"
    for core in 1 2; do
        if [[ -z ${job_s[$core]:-} ]]; then
            columns+=" | – | – | – | –"
            continue
        fi
        per_mb=$(calc 9 "${job_s[$core]} / $mb")
        grown=–
        # a single trip is one kind of day, ten and more are a mix
        ((n != 10)) || of_ten[$core]=$per_mb
        if [[ -n ${of_ten[$core]:-} ]]; then
            grown=$(calc 3 "$per_mb / ${of_ten[$core]}")
            growth=$(printf '%s\n' "$growth" "$grown" | largest)
        fi
        columns+=" | $(calc 2 "${job_s[$core]}")"
        if ((core == 1)); then
            columns+=" | $(calc 2 "${job_cpu_s[1]}")"
            against=$(calc 3 "1 / $per_mb / $bare")
        else
            against=$(calc 2 "${job_s[1]} / ${job_s[2]}")
            # one trip has little to share out
            ((n > 1)) || gain_of_one=$against
            ((n == 1)) || worst_gain=$(printf '%s\n' ${worst_gain:-$against} "$against" | sort -g | head -n 1)
        fi
        columns+=" | $(calc 1 "1 / $per_mb") | $against | $grown"
        worst_mb=$(printf '%s\n' "$worst_mb" "${job_mb[$core]}" | largest)
    done
    worst_share=$(printf '%s\n' "$worst_share" "$share" | largest)
    echo "| $columns | ${job_mb[1]}, ${job_mb[2]:-–} | $(calc 2 "$book_mb") | $(calc 1 "100 * $share") % |"
done

# the logbook of the largest rung is the last that was written
if [[ -n $with_python ]]; then
    say "installing what the comparison needs"
    python3 -m venv "$work/venv"
    "$work/venv/bin/pip" install --quiet --disable-pip-version-check --only-binary :all: -r "$here/outside/requirements.txt"
    say "another engine scans the table track"
    IFS=$'\t' read -r files bytes rows n_columns seconds < <("$work/venv/bin/python" "$here/outside/scan_track.py" "$work/logbook" "$repeats")
    echo
    echo "DuckDB, full scan of \`track\` of $trips trips, $n_columns columns of every row ($n_cores cores): $files files, $(calc 1 "$bytes / 1e6") MB, $rows rows in $seconds s."
fi

say "process with pages, $middle trips"
card=$(rung "$middle")
mb=$(calc 6 "$(bytes_of "$card" '*.TXT') / 1e6")
main_job "$card" "$repeats" "$cores" --no-report
declare -A without without_cpu
for core in $cores; do
    without[$core]=${job_s[$core]}
    without_cpu[$core]=${job_cpu_s[$core]}
done
main_job "$card" "$repeats" "$cores" --report "$work/pages"
echo
echo "The same with pages, $middle trips ($(calc 1 "$mb") MB), against without:"
echo
echo "| cores | without pages, s | with pages, s | ratio | peak MB |"
echo "| --: | --: | --: | --: | --: |"
for core in $cores; do
    echo "| $core | $(calc 2 "${without[$core]}") | $(calc 2 "${job_s[$core]}") | $(calc 2 "${job_s[$core]} / ${without[$core]}") | ${job_mb[$core]} |"
done

if [[ -n $with_python ]]; then
    echo
    echo "The same job as a data scientist would write it, $middle trips. It does far less (outside/card.py says what it leaves out); \`process\` is timed without pages:"
    echo
    echo "| way | cores | s | MB/s | computing, s | peak MB | \`process\`, s | computing, s | \`process\` is faster by | computing |"
    echo "| --- | --: | --: | --: | --: | --: | --: | --: | --: | --: |"
    for way in pandas polars; do
        for core in $cores; do
            # pandas has one thread; a second core would stand idle
            [[ $way == polars || $core == 1 ]] || continue
            say "$way, cores: $core"
            : >"$work/runs"
            for ((i = 0; i < repeats; i++)); do
                rm -rf "$work/same"
                measured "$core" "$work/venv/bin/python" "$here/outside/${way}_way.py" "$card" "$work/same" >>"$work/runs"
            done
            s=$(cut -d ' ' -f 1 "$work/runs" | median)
            peak=$(cut -d ' ' -f 2 "$work/runs" | largest)
            cpu_s=$(cut -d ' ' -f 3 "$work/runs" | median)
            words='polars, no checksums'
            [[ $way == polars ]] || words='pynmea2 and pandas'
            echo "| $words | $core | $(calc 2 "$s") | $(calc 1 "$mb / $s") | $(calc 2 "$cpu_s") | $peak | $(calc 2 "${without[$core]}") | $(calc 2 "${without_cpu[$core]}") | $(calc 2 "$s / ${without[$core]}") | $(calc 2 "$cpu_s / ${without_cpu[$core]}") |"
        done
    done
fi

echo
echo "| wanted | found |"
echo "| --- | --: |"
echo "| decoding at 4 times the bare crate's speed or more | $(calc 2 "$(rate decode_sentences) / $bare") |"
echo "| two cores 1.8 times as fast as one or more, the worst rung (one trip alone) | ${worst_gain:-–} ($gain_of_one) |"
echo "| peak memory of 500 MB or less | $worst_mb MB |"
((trips > 10)) && growth="$(calc 0 "100 * ($growth - 1)") %" || growth=–
echo "| no more than 10 % slower per byte than with 10 trips, the worst rung | $growth |"
echo "| logbook of 6 % of the logs or less | $(calc 1 "100 * $worst_share") % |"
