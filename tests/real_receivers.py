#!/usr/bin/env python3
"""Recordings of real receivers, and what decoders that are not ours read in them.

    real_receivers.py bring DIR    copies recordings from DIR (test/daemon of the gpsd 3.22 sources, Debian source
                                   package gpsd 3.22-4.1+deb12u1, BSD-2-Clause) into real-receivers/
    real_receivers.py boats DIR    copies the starts of the open recordings in DIR (listed in real-receivers/README.md)
    real_receivers.py expect DIR   writes real-receivers/pynmea2.csv (pynmea2 1.19.0, sentence by sentence) and
                                   real-receivers/gpsd.csv (gpsd's own reports in DIR/*.chk: a report stands behind the
                                   sentence that completed it)

The recordings are cut at a line end to a bounded size. Lines of comment, which name who sent a recording in, are left
out. Sentences are found here by a pattern of this script, not by the reader under test.
"""

import csv
import json
import re
import sys
from pathlib import Path

HERE = Path(__file__).parent / "real-receivers"
BYTES_MAX = 12_000
# recordings with depths and water temperatures are kept longer
BYTES_MAX_OF = {"bundg_zeus_9": 40_000}
TYPES = "RMC GGA GLL GNS VTG ZDA MTW MDA DPT DBT DBS DBK VHW VBW HDG HDT HDM THS VDR MWV MWD WPL XDR".split()
SENTENCE = re.compile(rb"\$([A-Z]{2})([A-Z]{3}),([^$!*\r\n]*)(?:\*([0-9A-Fa-f]{2}))?")
# written to try a reader, not recorded from a receiver
NOT_RECORDED = {"nmea-fuzzy-cases"}


def checksum(text):
    value = 0
    for byte in text:
        value ^= byte
    return value


def kept(original):
    """Bytes of a recording without its comments, cut at a line end."""
    lines = original.read_bytes().split(b"\n")
    out = b""
    for line in lines[:-1] if lines[-1] == b"" else lines:
        comment = line.startswith(b"#") and all(32 <= b < 127 or b in b"\r\t" for b in line)
        if comment:
            continue
        if len(out) + len(line) + 1 > BYTES_MAX_OF.get(original.stem, BYTES_MAX):
            break
        out += line + b"\n"
    return out


def bring(folder):
    rows = []
    for original in sorted(folder.glob("*.log")):
        if original.stem in NOT_RECORDED:
            continue
        text = kept(original)
        whole = [m for m in SENTENCE.finditer(text) if m[4] and m[2].decode() in TYPES]
        if len(whole) < 5:
            continue
        name = f"r{len(rows) + 1:03}.log"
        (HERE / name).write_bytes(text)
        rows.append([name, original.name, len(text), original.stat().st_size])
    with open(HERE / "sources.csv", "w", newline="") as out:
        out.write("# Where each recording comes from: r test/daemon of the gpsd 3.22 sources, b as README.md says.\n")
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["file", "original", "bytes", "original_bytes"])
        writer.writerows(rows)
    print(len(rows), "recordings,", sum(row[2] for row in rows), "bytes")


def boats(folder):
    """Recordings aboard, of which several instruments wrote: the first bytes of each file."""
    rows = []
    for original in sorted(path for path in folder.rglob("*") if path.is_file()):
        text, bytes_max = original.read_bytes(), 48_000 if original.parent == folder else 5_000
        text = text[: text.rfind(b"\n", 0, bytes_max) + 1]
        if len(list(sentences(text))) < 5:
            continue
        name = f"b{len(rows) + 1:02}.log"
        (HERE / name).write_bytes(text)
        rows.append([name, original.relative_to(folder), len(text), original.stat().st_size])
    with open(HERE / "sources.csv", "a", newline="") as out:
        csv.writer(out, lineterminator="\n").writerows(rows)
    print(len(rows), "recordings of boats,", sum(row[2] for row in rows), "bytes")


def sources():
    with open(HERE / "sources.csv") as lines:
        return [(row["file"], row["original"]) for row in csv.DictReader(l for l in lines if not l.startswith("#"))]


def sentences(text):
    """Byte and match of every sentence of a type that is compared, with a right checksum or none at a line's end."""
    for m in SENTENCE.finditer(text):
        if m[2].decode() not in TYPES:
            continue
        if m[4]:
            if checksum(m[0][1:-3]) == int(m[4], 16):
                yield m
        elif text[m.end() : m.end() + 1] in (b"\r", b"\n", b"") and not text[m.end() :].startswith(b"*"):
            yield m


COLUMNS = ["file", "byte", "type", "refused", "time_s", "date", "lat_deg", "lon_deg", "sog_kn", "cog_deg", "temp_c", "depth_m",
           "heading_deg", "stw_kn"]


def number(text):
    return None if text in (None, "") else float(text)


def decoded(text, kind):
    """What pynmea2 reads in a sentence, by column; None where the field is empty."""
    import pynmea2

    msg = pynmea2.parse(text.decode("ascii"))
    got = {}
    if kind in ("RMC", "GGA", "GLL", "GNS", "WPL"):
        got["lat_deg"] = msg.latitude if msg.lat and msg.lat_dir else None
        got["lon_deg"] = msg.longitude if msg.lon and msg.lon_dir else None
    if kind in ("RMC", "GGA", "GLL", "GNS", "ZDA"):
        time = msg.timestamp
        if time not in (None, ""):
            got["time_s"] = time.hour * 3600 + time.minute * 60 + time.second + time.microsecond / 1e6
    if kind == "RMC":
        got["date"] = msg.datestamp.isoformat() if msg.datestamp not in (None, "") else None
        got["sog_kn"], got["cog_deg"] = number(msg.spd_over_grnd), number(msg.true_course)
    elif kind == "ZDA":
        got["date"] = msg.datestamp.isoformat() if msg.day and msg.month and msg.year else None
    elif kind == "VTG":
        got["sog_kn"], got["cog_deg"] = number(msg.spd_over_grnd_kts), number(msg.true_track)
    elif kind == "MTW":
        got["temp_c"] = number(msg.temperature)
    elif kind == "MDA":
        got["temp_c"] = number(msg.water_temp)
    elif kind == "DPT":
        got["depth_m"] = number(msg.depth)
    elif kind in ("DBT", "DBS", "DBK"):
        got["depth_m"] = number(msg.depth_meters)
    elif kind == "VHW":
        got["stw_kn"] = number(msg.water_speed_knots)
        got["heading_deg"] = number(msg.heading_true)
    elif kind in ("HDG", "HDT", "HDM", "THS"):
        got["heading_deg"] = number(msg.heading)
    return got


def expect(folder):
    with open(HERE / "pynmea2.csv", "w", newline="") as out:
        out.write("# Read by pynmea2 1.19.0 (tests/real_receivers.py). byte: where the sentence starts in the file.\n")
        out.write("# refused: the exception of pynmea2. HDG: the sensor's reading. DPT: below the transducer.\n")
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(COLUMNS)
        n = 0
        for file, _ in sources():
            for m in sentences((HERE / file).read_bytes()):
                kind, row = m[2].decode(), {}
                try:
                    row = decoded(m[0], kind)
                except Exception as error:  # whatever it refuses a sentence with
                    row["refused"] = type(error).__name__
                row = {key: value for key, value in row.items() if value is not None}
                writer.writerow([file, m.start(), kind] + [row.get(column, "") for column in COLUMNS[3:]])
                n += 1
        print(n, "sentences by pynmea2")
    reports(folder)


def reports(folder):
    """Position, velocity and depth of gpsd's reports that stand directly behind a sentence that says them."""
    says = {"lat": ("RMC", "GGA", "GLL", "GNS"), "lon": ("RMC", "GGA", "GLL", "GNS"), "speed": ("RMC",), "track": ("RMC",),
            "depth": ("DBT", "DPT")}
    with open(HERE / "gpsd.csv", "w", newline="") as out:
        out.write("# Reports of gpsd 3.22 (its own test/daemon/*.log.chk), each behind the sentence that completed it.\n")
        out.write("# Only what that sentence itself says: position of RMC GGA GLL GNS, velocity of RMC, depth of DBT DPT.\n")
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["file", "byte", "type", "lat_deg", "lon_deg", "speed_mps", "track_deg", "depth_m"])
        n = 0
        for file, original in sources():
            text = (HERE / file).read_bytes()
            at, last = 0, None
            chk = folder / (original + ".chk")
            for line in chk.read_bytes().split(b"\n") if chk.exists() else []:
                line = line.rstrip(b"\r")
                if not line.startswith(b"{"):
                    last = None
                    m = SENTENCE.match(line)
                    found = text.find(line, at) if m and m[2].decode() in TYPES and m[4] else -1
                    if found >= 0:
                        last, at = (found, m), found + 1
                    continue
                if last is None or b'"TPV"' not in line:
                    continue
                byte, m = last
                kind, last = m[2].decode(), None
                tpv = json.loads(line)
                clock = re.search(rb"^[^,]*,(\d{6})", m[0]) or re.search(rb",[EW],(\d{6})", m[0])
                fresh = clock and tpv.get("time", "")[11:19].replace(":", "") == clock[1].decode()
                values = [tpv.get(key) if kind in kinds else None for key, kinds in says.items()]
                if kind not in ("DBT", "DPT") and not fresh:
                    continue
                if any(value is not None for value in values):
                    writer.writerow([file, byte, kind] + ["" if value is None else value for value in values])
                    n += 1
        print(n, "reports by gpsd")


if __name__ == "__main__":
    {"bring": bring, "boats": boats, "expect": expect}[sys.argv[1]](Path(sys.argv[2]))
