"""The same job with polars alone: sentences split by its string expressions. What it leaves out: card.py.

Beside that, checksums are not summed: polars has no expression for them, and a loop in Python would be the other way.
A sentence is one that looks whole.

    python polars_way.py CARD OUT
"""

import polars as pl

import card

WHOLE = r"^\$[A-Z]{2}[A-Z]{3},[^$*]*\*[0-9A-F]{2}$"
UTC = pl.Datetime("us", "UTC")


def fields(lines, kind, columns):
    """Fields of a kind of sentence, by their number, of the last in each second."""
    parts = pl.col("line").str.split(",")
    return (
        lines.filter(pl.col("kind") == kind)
        .select("second", *[parts.list.get(at, null_on_oob=True).alias(name) for name, at in columns.items()])
        .unique("second", keep="last")
    )


def value(name):
    """A field as a number; an empty or garbled field has none."""
    return pl.col(name).cast(pl.Float64, strict=False)


def degrees(name, digits, side, negative):
    """Degrees of a field like 4612.000."""
    angle = pl.col(name).str.head(digits).cast(pl.Float64, strict=False)
    angle = angle + pl.col(name).str.slice(digits).cast(pl.Float64, strict=False) / 60
    return pl.when(pl.col(side) == negative).then(-angle).otherwise(angle)


def read_log(path):
    """One row for each second with a position. A sentence belongs to the RMC before it."""
    lines = pl.read_csv(
        path, has_header=False, new_columns=["line"], separator="\x01", quote_char=None, encoding="utf8-lossy",
        schema_overrides=[pl.String],
    ).lazy()  # fmt: skip
    lines = (
        lines.select(pl.col("line").str.strip_chars())
        .filter(pl.col("line").str.contains(WHOLE))
        .with_columns(
            kind=pl.col("line").str.slice(3, 3),
            line=pl.col("line").str.head(-3),
        )
        .with_columns(second=(pl.col("kind") == "RMC").cum_sum())
    )
    time = (pl.col("date") + pl.col("clock").str.head(6)).str.to_datetime("%d%m%y%H%M%S", strict=False, time_unit="us")
    rmc = fields(
        lines,
        "RMC",
        {"clock": 1, "status": 2, "lat": 3, "north": 4, "lon": 5, "east": 6, "sog": 7, "cog": 8, "date": 9},
    )
    track = rmc.filter(pl.col("status") == "A").select(
        "second",
        time=time.dt.replace_time_zone("UTC"),
        lat=degrees("lat", 2, "north", "S"),
        lon=degrees("lon", 3, "east", "W"),
        sog_mps=value("sog") * card.MPS_PER_KN,
        cog_deg=value("cog"),
    )
    others = {
        "MTW": ({"temp": 1}, {"surface_temp_c": value("temp")}),
        "DPT": ({"depth": 1, "offset": 2}, {"water_depth_m": value("depth") + value("offset")}),
        "VHW": ({"speed": 5}, {"stw_mps": value("speed") * card.MPS_PER_KN}),
        "HDG": ({"heading": 1}, {"heading_deg": value("heading")}),
        "MWV": ({"angle": 1, "speed": 3}, {"wind_deg": value("angle"), "wind_mps": value("speed") * card.MPS_PER_KN}),
    }
    for kind, (columns, values) in others.items():
        track = track.join(fields(lines, kind, columns).select("second", **values), on="second", how="left")
    return track.drop("second")


def read_track(day):
    """The day's track with the way along it."""
    lat, lon = pl.col("lat").radians(), pl.col("lon").radians()
    half = (lat.diff() / 2).sin() ** 2 + lat.cos() * lat.shift().cos() * (lon.diff() / 2).sin() ** 2
    return (
        pl.concat([read_log(path) for path in day.logs])
        .drop_nulls("time")
        .unique("time", keep="first")
        .sort("time")
        .with_columns(distance_m=(2 * card.EARTH_M * half.sqrt().arcsin()).fill_null(0).cum_sum())
    )


def read_probe(day, zone):
    """Depth and temperature of the probe, in UTC and SI."""
    look = card.probe_look(day.probe)
    table = pl.read_csv(day.probe, separator=look.separator, skip_rows=look.skip)
    names = table.columns
    text = pl.col("Date") + " " + pl.col("Time") if "Date" in names else pl.col(names[0])
    time = text.str.to_datetime(look.time_format, time_unit="us", time_zone=None)
    time = time.dt.replace_time_zone("UTC" if look.is_utc else str(zone)).dt.convert_time_zone("UTC")
    depth = next(name for name in names if name.startswith("Depth"))
    temp = next(name for name in names if name.startswith("Temp"))
    imperial = "ft" in depth
    return (
        table.lazy()
        .select(
            time=time,
            probe_depth_m=pl.col(depth) * (card.M_PER_FT if imperial else 1),
            probe_temp_c=(pl.col(temp) - 32) / 1.8 if imperial else pl.col(temp),
        )
        .sort("time")
    )


def find_breaks(track):
    """Where the smoothed surface changes by a step within the window."""
    smooth = pl.col("surface_temp_c").rolling_median_by("time", window_size=f"{card.SMOOTHED_S}s")
    track = track.with_columns(smooth=smooth, metre=pl.col("distance_m").cast(pl.Int64))
    steps = track.rolling("metre", period=f"{card.WINDOW_M}i").agg(
        step_c=pl.col("smooth").last() - pl.col("smooth").first()
    )
    steep = pl.col("step_c").abs() >= card.STEP_C
    return (
        track.select("time", "lat", "lon", "distance_m")
        .with_columns(steps["step_c"])
        .with_columns(run=steep.fill_null(False).rle_id())
        .filter(steep)
        .group_by("run", maintain_order=True)
        .agg(pl.all().get(pl.col("step_c").abs().arg_max()))
        .drop("run")
    )


def note_times(day, table, name, zone):
    """Times of notes, in UTC."""
    first = table[name].first() or ""
    text = pl.lit(day.name + " ") + pl.col(name) if len(first) == len("05:50") else pl.col(name)
    time = text.str.to_datetime(card.notes_format(first), time_unit="us")
    return time.dt.replace_time_zone(str(zone)).dt.convert_time_zone("UTC")


def read_spells(day, zone):
    """Rods in the water, from when to when, and how deep by the counter."""
    gear = pl.read_csv(day.gear, infer_schema=False)
    if "event" in gear.columns:
        spells = (
            gear.with_columns(time_in=note_times(day, gear, "time", zone))
            .sort("rod", "time_in", maintain_order=True)
            .with_columns(time_out=pl.col("time_in").shift(-1).over("rod"))
            .filter(pl.col("event") == "out")
        )
    else:
        spells = gear.with_columns(
            time_in=note_times(day, gear, "time_in", zone), time_out=note_times(day, gear, "time_out", zone)
        )
    return spells.select(
        "rod", "method", "lure", "time_in", "time_out",
        depth_ft=pl.col("depth").str.strip_suffix(" ft").cast(pl.Float64, strict=False),
        rod_hours=(pl.col("time_out") - pl.col("time_in")).dt.total_seconds() / 3600,
    ).sort("time_in")  # fmt: skip


def read_bites(day, zone, spells, track):
    """Bites with the spell in which they came and the second of the track."""
    bites = pl.read_csv(day.bites, infer_schema=False)
    near = f"{card.NEAR_S}s"
    return (
        bites.select("species", "outcome", "rod", time=note_times(day, bites, "time", zone))
        .sort("time")
        # both are in order of time, and so is each rod of them
        .join_asof(
            spells.drop("lure", "method"), left_on="time", right_on="time_in", by="rod", check_sortedness=False
        )
        .join_asof(track, on="time", strategy="nearest", tolerance=near)
    )


def by_depth(spells, bites):
    """Bites per rod-hour by the depth that the counter said; other lines have no depth here."""
    low = (pl.col("depth_ft") // card.DEPTH_BIN_FT * card.DEPTH_BIN_FT).alias("low_ft")
    hours = spells.group_by(low).agg(pl.col("rod_hours").sum())
    counts = bites.group_by(low).agg(bites=pl.len())
    return (
        hours.join(counts, on="low_ft", how="left", nulls_equal=True)
        .with_columns(pl.col("bites").fill_null(0))
        .with_columns(rate_per_rod_hour=pl.col("bites") / pl.col("rod_hours"))
        .sort("low_ft")
    )


def main():
    days, out, zone = card.arguments()
    seconds = breaks = 0
    all_spells, all_bites = [], []
    for day in days:
        near = f"{card.NEAR_S}s"
        probe = read_probe(day, zone)
        track = read_track(day).join_asof(probe, on="time", strategy="nearest", tolerance=near).collect()
        crossings = find_breaks(track)
        spells = read_spells(day, zone)
        bites = read_bites(day, zone, spells, track)
        tables = [("track", track), ("breaks", crossings), ("spells", spells), ("bites", bites)]
        for name, table in tables:
            table.write_parquet(out / name / f"day={day.name}" / "part-0.parquet", mkdir=True)
        seconds, breaks = seconds + len(track), breaks + len(crossings)
        all_spells.append(spells)
        all_bites.append(bites)
    spells, bites = pl.concat(all_spells), pl.concat(all_bites)
    by_depth(spells, bites).write_parquet(out / "rates.parquet")
    card.say(len(days), seconds, breaks, len(bites), spells["rod_hours"].sum())


if __name__ == "__main__":
    main()
