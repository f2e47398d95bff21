"""The same job with pynmea2 and pandas: logs, probe and notes to tables in Parquet. What it leaves out: card.py.

    python pandas_way.py CARD OUT
"""

import datetime

import numpy as np
import pandas as pd
import pynmea2

import card

VALUES = [
    "lat", "lon", "sog_mps", "cog_deg", "surface_temp_c", "water_depth_m", "transducer_m", "stw_mps", "heading_deg",
    "wind_deg", "wind_mps",
]  # fmt: skip


def number(text):
    """A field's value; an empty field has none, nor has one of a sentence that was torn before its checksum."""
    try:
        return float(text) if text not in (None, "") else None
    except ValueError:
        return None


def read_log(path):
    """One row for each second with a position. A sentence belongs to the RMC before it."""
    rows, row = [], None
    with open(path, encoding="ascii", errors="replace") as lines:
        for line in lines:
            try:
                sentence = pynmea2.parse(line, check=True)
            except pynmea2.ParseError:
                continue
            if not isinstance(sentence, pynmea2.TalkerSentence):
                continue
            kind = sentence.sentence_type
            if kind == "RMC":
                row = None
                # a sentence that was torn before its checksum passes, its date then stays text
                if sentence.status == "A" and isinstance(sentence.datestamp, datetime.date):
                    row = {
                        "time": sentence.datetime,
                        "lat": sentence.latitude,
                        "lon": sentence.longitude,
                        "sog_mps": number(sentence.spd_over_grnd),
                        "cog_deg": number(sentence.true_course),
                    }
                    rows.append(row)
            elif row is None:
                continue
            elif kind == "MTW":
                row["surface_temp_c"] = number(sentence.temperature)
            elif kind == "DPT":
                row["water_depth_m"] = number(sentence.depth)
                row["transducer_m"] = number(sentence.offset)
            elif kind == "VHW":
                row["stw_mps"] = number(sentence.water_speed_knots)
            elif kind == "HDG":
                row["heading_deg"] = number(sentence.heading)
            elif kind == "MWV":
                row["wind_deg"] = number(sentence.wind_angle)
                row["wind_mps"] = number(sentence.wind_speed)
    return pd.DataFrame(rows, columns=["time", *VALUES]).astype(dict.fromkeys(VALUES, "float64"))


def read_track(day):
    """The day's track with the way along it."""
    track = pd.concat([read_log(path) for path in day.logs], ignore_index=True)
    track["time"] = pd.to_datetime(track["time"], utc=True).astype("datetime64[us, UTC]")
    track = track.drop_duplicates("time").sort_values("time", ignore_index=True)
    for column in ["sog_mps", "stw_mps", "wind_mps"]:
        track[column] = track[column] * card.MPS_PER_KN
    track["water_depth_m"] = track["water_depth_m"] + track.pop("transducer_m")
    lat, lon = np.radians(track["lat"]), np.radians(track["lon"])
    half = np.sin(lat.diff() / 2) ** 2 + np.cos(lat) * np.cos(lat.shift()) * np.sin(lon.diff() / 2) ** 2
    track["distance_m"] = (2 * card.EARTH_M * np.arcsin(np.sqrt(half))).fillna(0).cumsum()
    return track


def read_probe(day, zone):
    """Depth and temperature of the probe, in UTC and SI."""
    look = card.probe_look(day.probe)
    table = pd.read_csv(day.probe, sep=look.separator, skiprows=look.skip, skip_blank_lines=False)
    names = list(table.columns)
    text = table["Date"] + " " + table["Time"] if "Date" in names else table[names[0]]
    time = pd.to_datetime(text, format=look.time_format)
    time = time.dt.tz_localize("UTC" if look.is_utc else zone).dt.tz_convert("UTC")
    depth = next(name for name in names if name.startswith("Depth"))
    temp = next(name for name in names if name.startswith("Temp"))
    imperial = "ft" in depth
    probe = pd.DataFrame(
        {
            "time": time.astype("datetime64[us, UTC]"),
            "probe_depth_m": table[depth] * (card.M_PER_FT if imperial else 1),
            "probe_temp_c": (table[temp] - 32) / 1.8 if imperial else table[temp],
        }
    )
    return probe.sort_values("time")


def find_breaks(track):
    """Where the smoothed surface changes by a step within the window."""
    smooth = track.set_index("time")["surface_temp_c"].rolling(f"{card.SMOOTHED_S}s").median().to_numpy()
    metre = track["distance_m"].astype("int64").to_numpy()
    first = np.searchsorted(metre, metre - card.WINDOW_M, side="right")
    last = np.searchsorted(metre, metre, side="right") - 1
    step = pd.Series(smooth[last] - smooth[first])
    steep = step.abs() >= card.STEP_C
    run = (steep != steep.shift()).cumsum()[steep]
    strongest = step.abs()[steep].groupby(run).idxmax()
    breaks = track.loc[strongest, ["time", "lat", "lon", "distance_m"]].copy()
    breaks["step_c"] = step[strongest].to_numpy()
    return breaks.reset_index(drop=True)


def note_times(day, text, zone):
    """Times of notes, in UTC."""
    first = text.iloc[0] if len(text) else ""
    text = day.name + " " + text if len(first) == len("05:50") else text
    time = pd.to_datetime(text, format=card.notes_format(first))
    return time.dt.tz_localize(zone).dt.tz_convert("UTC").astype("datetime64[us, UTC]")


def feet(column):
    """Numbers in feet, with or without their unit."""
    return pd.to_numeric(column.astype("str").str.removesuffix(" ft"), errors="coerce")


def read_spells(day, zone):
    """Rods in the water, from when to when, and how deep by the counter."""
    gear = pd.read_csv(day.gear)
    if "event" in gear:
        gear["time"] = note_times(day, gear["time"], zone)
        gear = gear.sort_values(["rod", "time"], kind="stable")
        gear["time_out"] = gear.groupby("rod")["time"].shift(-1)
        spells = gear[gear["event"] == "out"].rename(columns={"time": "time_in"})
    else:
        spells = gear.assign(
            time_in=note_times(day, gear["time_in"], zone), time_out=note_times(day, gear["time_out"], zone)
        )
    hours = (spells["time_out"] - spells["time_in"]).dt.total_seconds() / 3600
    spells = spells.assign(depth_ft=feet(spells["depth"]), rod_hours=hours)
    return spells[["rod", "method", "lure", "time_in", "time_out", "depth_ft", "rod_hours"]].sort_values("time_in")


def read_bites(day, zone, spells, track):
    """Bites with the spell in which they came and the second of the track."""
    bites = pd.read_csv(day.bites, dtype="str")
    bites["time"] = note_times(day, bites["time"], zone)
    bites = bites[["time", "species", "outcome", "rod"]].sort_values("time")
    bites = pd.merge_asof(
        bites, spells.drop(columns=["lure", "method"]), left_on="time", right_on="time_in", by="rod"
    )
    near = pd.Timedelta(seconds=card.NEAR_S)
    return pd.merge_asof(bites, track, on="time", direction="nearest", tolerance=near)


def by_depth(spells, bites):
    """Bites per rod-hour by the depth that the counter said; other lines have no depth here."""
    def binned(depth_ft):
        return depth_ft // card.DEPTH_BIN_FT * card.DEPTH_BIN_FT

    hours = spells.groupby(binned(spells["depth_ft"]), dropna=False)["rod_hours"].sum()
    counts = bites.groupby(binned(bites["depth_ft"]), dropna=False)["time"].count()
    bins = pd.concat([hours, counts.rename("bites")], axis=1).fillna({"bites": 0}).reset_index(names="low_ft")
    bins["rate_per_rod_hour"] = bins["bites"] / bins["rod_hours"]
    return bins.sort_values("low_ft")


def main():
    days, out, zone = card.arguments()
    near = pd.Timedelta(seconds=card.NEAR_S)
    seconds = breaks = 0
    all_spells, all_bites = [], []
    for day in days:
        track = read_track(day)
        probe = read_probe(day, zone)
        track = pd.merge_asof(track, probe, on="time", direction="nearest", tolerance=near)
        crossings = find_breaks(track)
        spells = read_spells(day, zone)
        bites = read_bites(day, zone, spells, track)
        for name, table in [("track", track), ("breaks", crossings), ("spells", spells), ("bites", bites)]:
            folder = out / name / f"day={day.name}"
            folder.mkdir(parents=True, exist_ok=True)
            table.to_parquet(folder / "part-0.parquet", index=False)
        seconds, breaks = seconds + len(track), breaks + len(crossings)
        all_spells.append(spells)
        all_bites.append(bites)
    spells = pd.concat(all_spells)
    bites = pd.concat(all_bites)
    by_depth(spells, bites).to_parquet(out / "rates.parquet", index=False)
    card.say(len(days), seconds, breaks, len(bites), spells["rod_hours"].sum())


if __name__ == "__main__":
    main()
