//! The parts of a trip's summary, each a few lines of words with the numbers beside them.

use std::collections::BTreeMap;
use std::fmt::Write;

use waterseam_tables::{TripTables, bites, breaks, sources, trips};
use waterseam_units::show::compass_point;

use crate::other_trips::{self, OtherTrips};
use crate::rates::{Detail, Produced, produced};
use crate::summary::Style;
use crate::words::{clock, count, day, depth_range, duration, list, place};

/// Most lines that one list may fill, so that the whole fits a page; the drawn page has them all.
const MOST_LINES: usize = 3;
/// Shorter gaps within a break are of no matter to whoever goes back there, m.
const GAP_WORTH_SAYING_M: f64 = 50.0;

/// When, where, with what.
pub fn head(trip: &trips::Row, tables: &TripTables, style: &Style) -> String {
    let units = style.units;
    let rods: std::collections::BTreeSet<&str> = tables.rod_spells.iter().map(|s| s.rod.as_str()).collect();
    let zone = style.zone.iana_name().unwrap_or("UTC");
    let start =
        tables.track.first().map_or_else(|| "a place not recorded".to_owned(), |row| place(row.lat, row.lon));
    let assumed = if trip.effort_assumed { " (usual spread assumed: no gear log)" } else { "" };
    format!(
        "{}, {}, {} to {} ({}), trip {}\n\
         Clock times are {zone}. Ran {} from {start}, farthest {} from there.\n\
         Trolled {}, {}{assumed}.\n\n",
        trip.boat,
        day(trip.time_start, &style.zone),
        clock(trip.time_start, style),
        clock(trip.time_end, style),
        duration((trip.time_end - trip.time_start) as f64 / 1e6),
        trip.trip_id,
        units.distance(trip.distance_m),
        units.distance(trip.farthest_from_start_m),
        duration(trip.trolling_s),
        if rods.is_empty() {
            "no rods recorded".to_owned()
        } else {
            format!("{} out for {:.1} rod-hours", count(rods.len(), "rod", "rods"), trip.rod_hours)
        },
    )
}

/// The surface.
pub fn water(trip: &trips::Row, style: &Style) -> Vec<String> {
    let line = match (trip.surface_temp_min_c, trip.surface_temp_max_c) {
        (Some(low), Some(high)) => {
            format!("surface {} to {}", style.units.temp(low), style.units.temp(high))
        }
        _ => "no surface temperature that could be used".to_owned(),
    };
    vec![line]
}

/// Breaks crossed, strongest first to be kept, shown in order of time.
pub fn breaks(tables: &TripTables, style: &Style) -> Vec<String> {
    let (deep, at_surface): (Vec<_>, Vec<_>) = tables.breaks.iter().partition(|row| row.depth_m.is_some());
    let (doubtful, mut shown): (Vec<_>, Vec<_>) =
        at_surface.into_iter().partition(|row| row.kind == "maybe_shadow");
    let crossings = shown.len();
    let others = [
        (doubtful.len(), "weak change", "weak changes", "that may be the shadow of a cloud"),
        (deep.len(), "break", "breaks", "at the depth of the probe"),
    ];
    let others = others.into_iter().filter(|(n, ..)| *n > 0);
    let others =
        others.map(|(n, one, many, what)| format!("  {} {what} (table breaks)", count(n, one, many)));
    if shown.is_empty() {
        let none = "no thermal break stands out from this sensor's noise and the day's slow changes";
        return std::iter::once(none.to_owned()).chain(others).collect();
    }
    shown.sort_by(|a, b| b.step_c.abs().total_cmp(&a.step_c.abs()));
    let left_out = shown.len().saturating_sub(MOST_LINES);
    shown.truncate(MOST_LINES);
    shown.sort_by_key(|row| row.time);
    let mut out = vec![count(crossings, "crossing", "crossings")];
    if !tables.break_lines.is_empty() {
        let _ = write!(out[0], " that join into {}", count(tables.break_lines.len(), "line", "lines"));
    }
    if tables.breaks.iter().any(|row| row.kind == "thermal_bar") {
        out[0].push_str("; a thermal bar: the surface passes 4 °C, where fresh water is heaviest");
    }
    for row in shown {
        out.push(format!(
            "  {}  {}  {}",
            clock(row.time, style),
            place(row.lat, row.lon),
            break_words(row, style)
        ));
    }
    if left_out > 0 {
        out.push(format!("  and {left_out} with smaller steps (table breaks)"));
    }
    out.extend(others);
    out
}

/// `65.2 to 60.3 °F in 480 ft, warm side west`.
pub(crate) fn break_words(row: &breaks::Row, style: &Style) -> String {
    let (before, after) = (style.units.temp_value(row.temp_before_c), style.units.temp(row.temp_after_c));
    format!(
        "{before:.1} to {after} in {}{}{}",
        style.units.short_distance(row.width_m),
        row.warm_side_deg.map_or(String::new(), |side| format!(", warm side {}", compass_point(side))),
        remark(row, style),
    )
}

/// The strongest crossing at the surface that is surely one.
pub(crate) fn strongest(tables: &TripTables) -> Option<&breaks::Row> {
    let sure = tables.breaks.iter().filter(|row| row.depth_m.is_none() && row.kind != "maybe_shadow");
    sure.max_by(|a, b| a.step_c.abs().total_cmp(&b.step_c.abs()))
}

/// What is special about a break.
fn remark(row: &breaks::Row, style: &Style) -> String {
    if row.kind == "run_along" {
        return ", run along it".to_owned();
    }
    // most of its width without a reading
    let gap_m = row.gap_m.filter(|&gap_m| gap_m > GAP_WORTH_SAYING_M && gap_m > 0.5 * row.width_m);
    gap_m.map_or(String::new(), |gap_m| {
        format!(", inside a gap of {} without readings", style.units.short_distance(gap_m))
    })
}

/// Where profiles reach down and show no thermocline.
pub(crate) const NO_THERMOCLINE: &str = "no thermocline in the water that the probe saw";

/// The thermocline over the profiles of the trip, in words.
pub(crate) struct Thermocline {
    /// `40-46 ft`.
    pub(crate) depths: String,
    /// ` (give or take 2 ft)`.
    pub(crate) error: String,
    /// Profiles that show it.
    pub(crate) profiles: usize,
    /// `at its steepest 24.6 °F in 10 ft`.
    pub(crate) steepest: String,
}

/// `None` where no profile shows one.
pub(crate) fn thermocline(tables: &TripTables, style: &Style) -> Option<Thermocline> {
    let units = style.units;
    let depths: Vec<f64> = tables.layers.iter().filter_map(|row| row.thermocline_depth_m).collect();
    let profiles = depths.len();
    let (low, high) = span(depths)?;
    let gradient =
        tables.layers.iter().filter_map(|row| row.thermocline_gradient_c_per_m).fold(0.0, f64::min);
    let (over_m, over) = if units.depth_unit() == "ft" { (3.048, "10 ft") } else { (1.0, "1 m") };
    Some(Thermocline {
        depths: depth_range(units, low, high),
        error: give_or_take(tables.layers.iter().filter_map(|row| row.thermocline_depth_se_m), style),
        profiles,
        steepest: format!("at its steepest {} in {over}", units.temp_difference(-gradient * over_m)),
    })
}

fn span(values: Vec<f64>) -> Option<(f64, f64)> {
    let low = values.iter().copied().reduce(f64::min)?;
    Some((low, values.into_iter().reduce(f64::max)?))
}

/// Thermocline and preferred temperatures over the profiles of the trip.
pub fn layers(tables: &TripTables, style: &Style) -> Vec<String> {
    let units = style.units;
    let rows = &tables.layers;
    if rows.is_empty() {
        return vec!["no probe profile: nothing is known below the surface".to_owned()];
    }
    let deepest = rows.iter().map(|r| r.deepest_sampled_m).fold(0.0, f64::max);
    let thermocline = thermocline(tables, style).map_or_else(
        || NO_THERMOCLINE.to_owned(),
        |seen| {
            format!(
                "thermocline at {}{} in {} of them, {}",
                seen.depths, seen.error, seen.profiles, seen.steepest
            )
        },
    );
    let mut out = vec![format!(
        "{} to {}; {thermocline}",
        count(rows.len(), "probe profile", "probe profiles"),
        units.depth(deepest)
    )];
    out.extend(isotherm_steps(tables, style));
    let tops = span(rows.iter().filter_map(|r| r.preferred_top_m).collect());
    let bottoms = span(rows.iter().filter_map(|r| r.preferred_bottom_m).collect());
    if let (Some((top, _)), Some((_, bottom))) = (tops, bottoms) {
        let errors = rows.iter().flat_map(|r| [r.preferred_top_se_m, r.preferred_bottom_se_m]).flatten();
        out.push(format!(
            "temperatures that the target species like: {} down{}",
            depth_range(units, top, bottom),
            give_or_take(errors, style)
        ));
    }
    out.extend(mixed(tables, style));
    out
}

/// How deep the surface layer is usually mixed: the middle one of the profiles.
fn mixed(tables: &TripTables, style: &Style) -> Option<String> {
    let mut depths_m: Vec<f64> = tables.layers.iter().filter_map(|row| row.mixed_layer_chosen_m).collect();
    depths_m.sort_by(f64::total_cmp);
    let usual_m = depths_m.get(depths_m.len() / 2)?;
    Some(format!("mixed by wind and waves down to about {}", style.units.depth(*usual_m)))
}

/// The usual one of standard errors, in brackets; nothing where there are none.
fn give_or_take(errors_m: impl Iterator<Item = f64>, style: &Style) -> String {
    let mut errors_m: Vec<f64> = errors_m.collect();
    errors_m.sort_by(f64::total_cmp);
    let Some(&usual_m) = errors_m.get(errors_m.len() / 2) else { return String::new() };
    // never less than the last digit that is shown
    let least_m = if style.units.depth_unit() == "ft" { 0.3048 } else { 0.1 };
    format!(" (give or take {})", style.units.depth(usual_m.max(least_m)))
}

/// The surest step in the depth of an isotherm, and how many more that isotherm has: one front shows in several.
fn isotherm_steps(tables: &TripTables, style: &Style) -> Option<String> {
    let rows = &tables.isotherm_breaks;
    let surest = rows.iter().min_by(|a, b| a.p_value.total_cmp(&b.p_value))?;
    let units = style.units;
    let others = match rows.iter().filter(|row| row.isotherm_c == surest.isotherm_c).count() {
        0 | 1 => String::new(),
        n => format!("; {} more such steps (table isotherm_breaks)", n - 1),
    };
    Some(format!(
        "the {:.0} {} line {} from {:.0} to {} in {} at {}, {}{others}",
        units.temp_value(surest.isotherm_c),
        units.temp_unit(),
        if surest.step_m > 0.0 { "drops" } else { "rises" },
        units.depth_value(surest.depth_before_m),
        units.depth(surest.depth_after_m),
        units.short_distance(surest.width_m),
        clock(surest.time, style),
        place(surest.lat, surest.lon),
    ))
}

/// `steelhead, 45 ft, 53.5 °F, 1540 ft to a break, cold side, 2.4 mph, blue and silver spoon`.
pub(crate) fn bite_words(row: &bites::Row, style: &Style) -> String {
    let units = style.units;
    let mut parts = vec![row.species.clone().unwrap_or_else(|| "species not said".to_owned())];
    parts.extend(bite_depth(row, style));
    parts.extend(row.temp_at_depth_c.map(|t| units.temp(t)));
    if let (Some(distance), Some(side)) = (row.break_distance_m, row.break_side.as_deref()) {
        parts.push(format!("{} to a break, {side} side", units.short_distance(distance)));
    }
    parts.extend(row.stw_mps.or(row.sog_mps).map(|v| units.speed(v)));
    parts.extend(row.lure.clone());
    parts.join(", ")
}

/// The bites.
pub fn bites(tables: &TripTables, style: &Style) -> Vec<String> {
    let rows = &tables.bites;
    if rows.is_empty() {
        return vec!["none noted".to_owned()];
    }
    let mut outcomes: BTreeMap<&str, usize> = BTreeMap::new();
    for row in rows {
        *outcomes.entry(row.outcome.as_deref().unwrap_or("not said")).or_default() += 1;
    }
    let outcomes: Vec<String> = outcomes.iter().map(|(word, n)| format!("{n} {word}")).collect();
    let mut out = vec![format!("{}: {}", rows.len(), list(&outcomes))];
    for row in rows.iter().take(MOST_LINES) {
        out.push(format!("  {}  {}", clock(row.time, style), bite_words(row, style)));
    }
    if rows.len() > MOST_LINES {
        out.push(format!("  and {} more (table bites)", rows.len() - MOST_LINES));
    }
    out
}

/// `about 45 ft` where it is worked out.
pub(crate) fn bite_depth(row: &bites::Row, style: &Style) -> Option<String> {
    let modelled = row.depth_source.as_deref() == Some("model");
    row.depth_m.map(|depth| format!("{}{}", if modelled { "about " } else { "" }, style.units.depth(depth)))
}

/// Bites per rod-hour, what the boat's other trips make of that, and whether the evidence tells one band from another.
pub fn rates(trip: &trips::Row, tables: &TripTables, others: &OtherTrips, style: &Style) -> Vec<String> {
    let (Some(rate), Some(low), Some(high)) = (trip.rate_per_rod_hour, trip.rate_low, trip.rate_high) else {
        return vec!["no rod-hours: without effort a rate cannot be given".to_owned()];
    };
    let mut out = vec![format!(
        "{rate:.2} bites a rod-hour (90 % sure: {low:.2} to {high:.2}), {} in {:.1} rod-hours",
        count(trip.bites as usize, "bite", "bites"),
        trip.rod_hours
    )];
    out.extend(other_trips::trip(others, &tables.bands, style));
    out.extend(produced(&Produced::of(tables), Detail::Short, style));
    out
}

/// What was read and what was set aside.
pub fn data(trip: &trips::Row, tables: &TripTables) -> Vec<String> {
    let sum = |f: fn(&sources::Row) -> i64| tables.sources.iter().map(f).sum::<i64>();
    let mut line = format!(
        "{}: {} records, {} used, {} not needed, {} set aside",
        count(tables.sources.len(), "file", "files"),
        sum(|s| s.records_read),
        sum(|s| s.records_used),
        sum(|s| s.records_not_needed),
        sum(|s| s.records_set_aside),
    );
    if let Some(reasons) = set_aside_for(&tables.sources) {
        let _ = write!(line, " ({reasons})");
    }
    let mut out = vec![line];
    out.extend(remarks(trip, tables));
    out
}

/// `4 checksum wrong and 2 cut short`; `None` where nothing was set aside.
pub(crate) fn set_aside_for(sources: &[sources::Row]) -> Option<String> {
    let mut reasons: BTreeMap<String, u64> = BTreeMap::new();
    for source in sources {
        let counted: BTreeMap<String, u64> =
            serde_json::from_str(&source.set_aside_reasons).unwrap_or_default();
        for (reason, n) in counted {
            *reasons.entry(reason).or_default() += n;
        }
    }
    let reasons: Vec<String> =
        reasons.iter().map(|(reason, n)| format!("{n} {}", reason.replace('_', " "))).collect();
    (!reasons.is_empty()).then(|| list(&reasons))
}

/// What the captain should know about the data: of the trip, then file by file.
pub(crate) fn remarks(trip: &trips::Row, tables: &TripTables) -> Vec<String> {
    let mut remarks: Vec<String> = serde_json::from_str(&trip.remarks).unwrap_or_default();
    for source in &tables.sources {
        let said: Vec<String> = serde_json::from_str(&source.remarks).unwrap_or_default();
        remarks.extend(said.into_iter().map(|remark| format!("{}: {remark}", source.file_name)));
    }
    remarks
}
