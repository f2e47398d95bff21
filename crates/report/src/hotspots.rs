//! Where many trips did well, as a mate tells it.

use std::fmt::Write;

use waterseam_hotspots::{Guess, Skill, Start};
use waterseam_tables::hotspots::Row;
use waterseam_tables::wkb;
use waterseam_units::{LatLon, UnitSystem};

use crate::cautions::CAUTIONS;
use crate::summary::section;
use crate::words::{chance, count, depth_range, list, place, temp_range};

/// Places that are told of each part of the season.
const TOLD: usize = 5;

/// A layer and what it was made of.
#[derive(Clone, Copy, Debug)]
pub struct Layer<'a> {
    /// Its rows, of any species.
    pub rows: &'a [Row],
    /// The species that is told of; `*` for all.
    pub species: &'a str,
    /// How the season is divided, in a word.
    pub division: &'a str,
    /// Trips of the logbook, and years.
    pub trips: usize,
    /// Years with a trip.
    pub years: usize,
    /// Units of the text.
    pub units: UnitSystem,
}

/// The best places of each part of the season, and what cannot be said.
pub fn hotspots(layer: &Layer<'_>) -> String {
    let rows: Vec<&Row> = layer.rows.iter().filter(|row| row.species == layer.species).collect();
    let (hours, bites) = rows.iter().fold((0.0, 0), |sum, row| (sum.0 + row.rod_hours, sum.1 + row.bites));
    let of = if layer.species == "*" { String::new() } else { format!(" of {}", layer.species) };
    let mut text = format!(
        "{} in {}, {hours:.1} rod-hours, {}{of}; places of {} across, by {}\n\n",
        count(layer.trips, "trip", "trips"),
        count(layer.years, "year", "years"),
        count(bites as usize, "bite", "bites"),
        rows.first().map_or_else(String::new, |row| layer.units.distance(across_m(row))),
        layer.division.replace('-', " "),
    );
    // the parts in the order of the rows, which is that of the year
    let mut parts: Vec<(&str, Vec<&Row>)> = Vec::new();
    for row in rows {
        match parts.last_mut() {
            Some((part, rows)) if *part == row.season_part => rows.push(row),
            _ => parts.push((&row.season_part, vec![row])),
        }
    }
    for (part, rows) in &parts {
        let mut lines = part_lines(rows, layer.units);
        let words = part_words(part);
        if let Some(first) = lines.first_mut().filter(|_| words != *part) {
            *first = format!("{words}: {first}");
        }
        section(&mut text, part, &lines);
    }
    if parts.is_empty() {
        text.push_str("Nothing was run or fished, so nothing can be said.\n");
    }
    section(&mut text, "Mind", &CAUTIONS.map(str::to_owned));
    text
}

/// One part of the season.
pub(crate) fn part_lines(rows: &[&Row], units: UnitSystem) -> Vec<String> {
    let fished: Vec<&Row> = rows.iter().copied().filter(|row| row.rod_hours > 0.0).collect();
    let hours: f64 = fished.iter().map(|row| row.rod_hours).sum();
    let bites: i64 = fished.iter().map(|row| row.bites).sum();
    let run_through = rows.len() - fished.len();
    let mut head = format!(
        "{} in {hours:.1} rod-hours over {}",
        count(bites as usize, "bite", "bites"),
        count(fished.len(), "place", "places"),
    );
    if let Some(mean) = fished.iter().find_map(|row| Some(row.rate? / row.times_average?)) {
        let _ = write!(head, ", at average luck {mean:.2} a rod-hour");
    }
    if run_through > 0 {
        let _ = write!(head, "; {} more run through and never fished", count(run_through, "place", "places"));
    }
    let mut lines = vec![head];
    let mut hot: Vec<&Row> = fished.iter().copied().filter(|row| row.hot).collect();
    hot.sort_by(|a, b| by_rate(a, b));
    for (n, row) in hot.iter().take(TOLD).enumerate() {
        lines.push(format!("{}  {}", n + 1, told(row, units)));
    }
    if hot.len() > TOLD {
        lines.push(format!("and {} more hot places (table hotspots)", hot.len() - TOLD));
    }
    let mut better: Vec<&Row> =
        fished.iter().copied().filter(|row| !row.hot && row.times_low.is_some_and(|low| low > 1.0)).collect();
    better.sort_by(|a, b| by_rate(a, b));
    for row in better.iter().take(if hot.is_empty() { 3 } else { 1 }) {
        lines.push(format!("better than average, not surely twice: {}", told(row, units)));
    }
    if hot.is_empty() && better.is_empty() {
        lines.push(nothing(&fished));
    }
    lines
}

pub(crate) fn by_rate(a: &Row, b: &Row) -> std::cmp::Ordering {
    b.rate.unwrap_or_default().total_cmp(&a.rate.unwrap_or_default()).then(a.cell.cmp(&b.cell))
}

/// Why nothing can be said, and what it would take.
fn nothing(fished: &[&Row]) -> String {
    if fished.is_empty() {
        return "never fished".to_owned();
    }
    let promising = fished.iter().filter(|row| row.times_average.is_some_and(|times| times > 1.1));
    let best = promising.min_by(|a, b| {
        let hours = |row: &Row| row.more_rod_hours.unwrap_or(f64::INFINITY);
        hours(a).total_cmp(&hours(b)).then(a.cell.cmp(&b.cell))
    });
    match best.and_then(|row| Some((row, row.more_rod_hours?, row.times_average?))) {
        Some((row, more, times)) => format!(
            "no place can be told from the average: {} looks best ({times:.1} times, {:.0} rod-hours); some {:.0} rod-hours more there \
             would tell",
            middle(row).map_or_else(String::new, |at| place(at.lat_deg, at.lon_deg)),
            row.rod_hours,
            more.max(1.0),
        ),
        None => format!(
            "no place differs from the average as far as {:.0} rod-hours tell",
            fished.iter().map(|row| row.rod_hours).sum::<f64>()
        ),
    }
}

/// A place in a sentence.
pub(crate) fn told(row: &Row, units: UnitSystem) -> String {
    let at = middle(row).map_or_else(String::new, |at| place(at.lat_deg, at.lon_deg));
    let mut words = format!(
        "{at}  {:.2} a rod-hour (90 % sure: {:.2} to {:.2}), {:.1} times the average",
        row.rate.unwrap_or_default(),
        row.rate_low.unwrap_or_default(),
        row.rate_high.unwrap_or_default(),
        row.times_average.unwrap_or_default(),
    );
    words.push_str("; ");
    words.push_str(&evidence(row, units).join(", "));
    words
}

/// What a place rests on: effort, years, water.
pub(crate) fn evidence(row: &Row, units: UnitSystem) -> Vec<String> {
    let mut parts = vec![format!(
        "{} in {:.0} rod-hours on {} in {}",
        count(row.bites as usize, "bite", "bites"),
        row.rod_hours,
        count(row.trips as usize, "trip", "trips"),
        count(row.years as usize, "year", "years"),
    )];
    if row.years > 1 {
        parts.push(format!("above the same trips' other water in {}", row.years_above));
    }
    let witnesses: Vec<String> = [
        row.gi_star_q.filter(|q| *q <= 0.1).map(|q| format!("its neighbourhood (Gi*, {})", chance(q))),
        row.cluster_p.filter(|p| *p <= 0.1).map(|p| format!("the search ({})", chance(p))),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !witnesses.is_empty() {
        parts.push(format!("borne out by {}", list(&witnesses)));
    }
    parts.extend(water(row, units));
    parts
}

/// How deep and in what water the middle half of its bites came.
pub(crate) fn water(row: &Row, units: UnitSystem) -> Vec<String> {
    let range = |low: Option<f64>, high: Option<f64>, show: fn(UnitSystem, f64, f64) -> String| {
        Some(show(units, low?, high?))
    };
    [
        range(row.bite_depth_low_m, row.bite_depth_high_m, depth_range).map(|range| format!("{range} down")),
        range(row.bite_temp_low_c, row.bite_temp_high_c, temp_range)
            .map(|range| format!("{range} at the lure")),
        range(row.bite_surface_temp_low_c, row.bite_surface_temp_high_c, temp_range)
            .map(|range| format!("{range} at the surface")),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Middle of a row's cell.
pub(crate) fn middle(row: &Row) -> Option<LatLon> {
    let vertices = corners(row);
    let n = vertices.len() as f64;
    let first = vertices.first()?;
    let sum = vertices.iter().fold((0.0, 0.0), |sum, at| {
        (sum.0 + at.lat_deg, sum.1 + waterseam_units::angle::turn_deg(first.lon_deg, at.lon_deg))
    });
    LatLon::new(sum.0 / n, waterseam_units::angle::turn_deg(0.0, first.lon_deg + sum.1 / n))
}

/// Corners of a row's cell, each once.
pub(crate) fn corners(row: &Row) -> Vec<LatLon> {
    let mut vertices = wkb::shape(&row.geometry).map(wkb::Shape::vertices).unwrap_or_default();
    vertices.pop();
    vertices
}

fn across_m(row: &Row) -> f64 {
    let corners = corners(row);
    let opposite = corners.first().zip(corners.get(corners.len() / 2));
    opposite.map_or(0.0, |(a, b)| waterseam_units::geodesy::distance_m(*a, *b))
}

/// A part of the season in words: `July`, `1 to 15 July`, `week 27`.
pub(crate) fn part_words(part: &str) -> String {
    let month = |number: &str| MONTHS.get(number.parse::<usize>().ok()?.checked_sub(1)?).copied();
    if let Some(week) = part.strip_prefix('w')
        && week.bytes().all(|b| b.is_ascii_digit())
    {
        return format!("week {}", week.trim_start_matches('0'));
    }
    match (part.get(..2).and_then(month), part.get(2..)) {
        (Some(month), Some("")) => month.to_owned(),
        (Some(month), Some("a")) => format!("{month}, to the 15th"),
        (Some(month), Some("b")) => format!("{month}, from the 16th"),
        _ if part == "all" => "all year".to_owned(),
        _ => part.to_owned(),
    }
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// What the model expects in water of a temperature, and what it is worth.
#[derive(Clone, Copy, Debug)]
pub struct Conditional<'a> {
    /// Surface temperature, °C; `None`: as is usual.
    pub surface_temp_c: Option<f64>,
    /// Usual surface temperature of the part of the season, °C.
    pub usual_temp_c: Option<f64>,
    /// By what all rates change.
    pub factor: f64,
    /// The part of the season in a word.
    pub part: &'a str,
    /// The best places, the best first.
    pub starts: &'a [Start],
    /// Skill of the model.
    pub skill: Option<&'a Skill>,
    /// Units of the text.
    pub units: UnitSystem,
}

/// What to expect at a surface temperature.
pub fn expected(asked: &Conditional<'_>) -> String {
    let units = asked.units;
    let mut lines = Vec::new();
    let part = part_words(asked.part);
    match (asked.surface_temp_c, asked.usual_temp_c) {
        (Some(temp_c), Some(usual_c)) => lines.push(format!(
            "{part}, {} at the surface (usual: {}): rates are {:.1} times those in usual water",
            units.temp(temp_c),
            units.temp(usual_c),
            asked.factor
        )),
        (Some(_), None) => lines
            .push(format!("{part}: the surface temperature was never measured, so it changes nothing here")),
        (None, _) => lines.push(part),
    }
    for (n, start) in asked.starts.iter().enumerate() {
        let expected = &start.expected;
        lines.push(format!(
            "{}  {}  {:.2} a rod-hour to be expected (90 % sure: {:.2} to {:.2}), {:.1} times the average",
            n + 1,
            place(expected.at.lat_deg, expected.at.lon_deg),
            expected.rate,
            expected.low,
            expected.high,
            expected.times_average
        ));
    }
    if asked.starts.is_empty() {
        lines.push("nothing was fished then, so nothing can be expected".to_owned());
    }
    let mut text = String::new();
    section(&mut text, "Expect", &lines);
    section(&mut text, "Skill", &skill_lines(asked.skill));
    text
}

fn skill_lines(skill: Option<&Skill>) -> Vec<String> {
    let Some(skill) = skill else {
        return vec![
            "not known: every year is predicted by the others, and that takes two years with bites"
                .to_owned(),
        ];
    };
    let mut lines = vec![format!(
        "each year predicted by the others, {}; gain in log score over simple guesses (nats a trip, give or take a standard error):",
        count(skill.trips, "trip", "trips")
    )];
    lines.extend(skill.better_by.iter().map(|(guess, by, se)| {
        let verdict = if *by > 2.0 * se {
            "better"
        } else if *by < -2.0 * se {
            "worse"
        } else {
            "no sure difference"
        };
        format!("  {:<32} {by:+.2} give or take {se:.2}: {verdict}", guess_words(*guess))
    }));
    lines
}

fn guess_words(guess: Guess) -> &'static str {
    match guess {
        Guess::MeanRate => "the mean rate everywhere",
        Guess::LastBest => "the last trip's best place",
        Guess::SameWeeks => "the same weeks of other years",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_in_words() {
        for (part, words) in [
            ("07", "July"),
            ("07a", "July, to the 15th"),
            ("12b", "December, from the 16th"),
            ("w05", "week 5"),
            ("summer", "summer"),
            ("winter", "winter"),
            ("all", "all year"),
        ] {
            assert_eq!(part_words(part), words);
        }
    }
}
