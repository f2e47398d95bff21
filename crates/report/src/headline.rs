//! What happened on a trip, in the few answers that a captain looks for first?
//!
//! The same rows and the same words as the summary's, so that the two cannot disagree.

use waterseam_tables::{TripTables, bands, trips};
use waterseam_units::show::compass_point;

use crate::rates::{best, more_needed, productive};
use crate::sections::{NO_THERMOCLINE, break_words, remarks, set_aside_for, strongest, thermocline};
use crate::summary::Style;
use crate::words::{clock, count, list, place};

/// One answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Answer {
    /// What is asked.
    pub(crate) about: &'static str,
    /// The answer itself, as short as it goes.
    pub(crate) lead: String,
    /// How sure it is, where that is a question.
    pub(crate) sureness: Option<Sureness>,
    /// The numbers behind it.
    pub(crate) detail: String,
}

/// Whether the evidence carries an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sureness {
    /// More than luck.
    Sure,
    /// It may be luck.
    NotEnough,
}

impl Sureness {
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Sure => "more than luck",
            Self::NotEnough => "not enough evidence",
        }
    }
}

/// What is asked last.
pub(crate) const NEXT_TIME: &str = "Next time";

/// Remarks on the data that have room beside the answer.
const REMARKS: usize = 2;

/// The answers, in the order in which they are asked.
pub(crate) fn answers(trip: &trips::Row, tables: &TripTables, style: &Style) -> Vec<Answer> {
    let fished = (trip.bites, trip.rod_hours);
    vec![
        strongest_break(tables, style),
        layer(tables, style),
        best_band("Best depth", "depth_m", fished, &tables.bands, style),
        best_band("Best temperature", "temp_at_depth_c", fished, &tables.bands, style),
        next_time(tables, style),
        wrong_with_data(trip, tables),
    ]
}

fn plain(about: &'static str, lead: &str, detail: String) -> Answer {
    Answer { about, lead: lead.to_owned(), sureness: None, detail }
}

fn strongest_break(tables: &TripTables, style: &Style) -> Answer {
    let about = "Strongest break";
    let Some(row) = strongest(tables) else {
        return plain(about, "none", crate::sections::breaks(tables, style).swap_remove(0));
    };
    let step = style.units.temp_difference(row.step_c.abs());
    let lead = row.warm_side_deg.map_or_else(
        || format!("{step}, warm side not known"),
        |side| format!("{step}, warm side {}", compass_point(side)),
    );
    let detail =
        format!("{} at {}, {}", break_words(row, style), clock(row.time, style), place(row.lat, row.lon));
    Answer { about, lead, sureness: None, detail }
}

fn layer(tables: &TripTables, style: &Style) -> Answer {
    let about = "Thermocline";
    if tables.layers.is_empty() {
        return plain(about, "not known", crate::sections::layers(tables, style).swap_remove(0));
    }
    let of = count(tables.layers.len(), "probe profile", "probe profiles");
    match thermocline(tables, style) {
        Some(seen) => Answer {
            about,
            lead: format!("{} down", seen.depths),
            sureness: None,
            detail: format!("in {} of {of}{}, {}", seen.profiles, seen.error, seen.steepest),
        },
        None => plain(about, "none seen", format!("{NO_THERMOCLINE} ({of})")),
    }
}

/// Best bin or band of a factor, of a trip or of several.
pub(crate) fn best_band(
    about: &'static str,
    factor: &str,
    fished: (i64, f64),
    bands: &[bands::Row],
    style: &Style,
) -> Answer {
    if let Some(best) = best(bands, factor, style) {
        let sureness = Some(if best.is_sure { Sureness::Sure } else { Sureness::NotEnough });
        return Answer { about, lead: best.range, sureness, detail: best.words };
    }
    let detail = match fished {
        (..=0, rod_hours) => format!("no bite in {rod_hours:.1} rod-hours"),
        (n, _) => format!("not known for any of {}", count(n as usize, "bite", "bites")),
    };
    Answer { about, lead: "cannot be told".to_owned(), sureness: Some(Sureness::NotEnough), detail }
}

/// What the evidence of this trip says of the next; only what is more than luck.
fn next_time(tables: &TripTables, style: &Style) -> Answer {
    let about = NEXT_TIME;
    let sure = productive(&tables.bands, style);
    if sure.is_empty() {
        let more =
            more_needed(&tables.bands).unwrap_or_else(|| "no band can be told from another".to_owned());
        return plain(about, "spread the lines again", more);
    }
    let depth = sure.iter().find(|(name, _)| *name == "depth");
    let lead = depth.or(sure.first()).map_or_else(String::new, |(name, range)| {
        let range = range.trim_end_matches(',');
        if *name == "depth" { format!("set lines at {range}") } else { format!("{name}: {range}") }
    });
    let others: Vec<String> = sure
        .iter()
        .filter(|band| Some(*band) != depth.or(sure.first()))
        .map(|(name, range)| format!("{name}: {}", range.trim_end_matches(',')))
        .collect();
    let detail = if others.is_empty() {
        "nothing else that was looked at stands out".to_owned()
    } else {
        format!("and {}", list(&others))
    };
    Answer { about, lead, sureness: None, detail }
}

fn wrong_with_data(trip: &trips::Row, tables: &TripTables) -> Answer {
    let aside: i64 = tables.sources.iter().map(|source| source.records_set_aside).sum();
    let read: i64 = tables.sources.iter().map(|source| source.records_read).sum();
    let remarks = remarks(trip, tables);
    let lead = match (aside, remarks.len()) {
        (0, 0) => "nothing wrong".to_owned(),
        (0, n) => count(n, "remark", "remarks"),
        (aside, 0) => format!("{aside} of {read} records set aside"),
        (aside, n) => format!("{aside} of {read} records set aside, {}", count(n, "remark", "remarks")),
    };
    let mut parts: Vec<String> = set_aside_for(&tables.sources).into_iter().collect();
    parts.extend(remarks.iter().take(REMARKS).cloned());
    if remarks.len() > REMARKS {
        parts.push(format!("{} more below", remarks.len() - REMARKS));
    }
    let detail = if parts.is_empty() { "every record could be used".to_owned() } else { parts.join("; ") };
    Answer { about: "Data", lead, sureness: None, detail }
}
