//! The parts of what is said of a line.

use std::fmt::Write;

use waterseam_logs::LineMethod;
use waterseam_tackle::materials::{DOWNRIGGER_WEIGHT_KG, usual_leader_m};
use waterseam_tackle::{Depth, DepthSource, Refusal, Setup, Shape};
use waterseam_units::UnitSystem;

use super::{DepthBand, LineRun, RunningDepths};
use crate::words::{count, depth_range};

/// Standard errors on both sides that hold 90 % of a normal.
const SURE_90: f64 = 1.645;

/// Why nothing says how deep a line runs, in words.
pub fn refusal(reason: Refusal, units: UnitSystem) -> String {
    match reason {
        Refusal::NoMethod => "it is not said how the line is taken down".to_owned(),
        Refusal::NoLineOut => "it is not said how much line is out".to_owned(),
        Refusal::NoWeight => "the weight is not said".to_owned(),
        Refusal::AllLeader => "all of the line out is leader: the weight is not in the water".to_owned(),
        Refusal::NotANumber => "a length, a weight or a speed cannot be".to_owned(),
        Refusal::NoTable => "no table of the boat file ([[divers]]) says how deep this diver runs".to_owned(),
        Refusal::WhichTable => {
            "several tables of divers might be meant: give each its rods in the boat file, or name one"
                .to_owned()
        }
        Refusal::TableSpeed { slowest_mps, fastest_mps } => {
            format!(
                "the diver's table speaks for {} to {}",
                units.speed(slowest_mps),
                units.speed(fastest_mps)
            )
        }
        Refusal::TableLine { shortest_m, longest_m } => {
            format!("the diver's table speaks for {} of line out", depth_range(units, shortest_m, longest_m))
        }
        Refusal::TooDeep { deepest_m, line_out_m } => {
            format!("reaches no more than {}, with {} out", units.depth(deepest_m), units.depth(line_out_m))
        }
        Refusal::TooShallow { shallowest_m } => {
            format!("runs no shallower than {}", units.depth(shallowest_m))
        }
    }
}

/// How fast the lines are towed.
pub fn speed_words(asked: &RunningDepths<'_>) -> String {
    let units = asked.units;
    let below = asked.tow.below.iter();
    let below = below.map(|&(depth_m, mps)| format!(", {} at {}", units.speed(mps), units.depth(depth_m)));
    format!("{} through the water{}", units.speed(asked.tow.stw_mps), below.collect::<String>())
}

/// How a line is set, with what is assumed of it.
pub fn setup_words(setup: &Setup<'_>, units: UnitSystem) -> String {
    let mut parts = vec![setup.method.map_or("line".to_owned(), |method| method.word().replace('_', " "))];
    parts.extend(setup.line_out_m.map(|m| format!("{} out", units.depth(m))));
    parts.extend(setup.colors.map(colors));
    parts.extend(setup.weight_kg.map(|kg| weight(kg, units)));
    if setup.weight_kg.is_none() && setup.method == Some(LineMethod::Downrigger) {
        parts.push(format!("{} assumed", weight(DOWNRIGGER_WEIGHT_KG, units)));
    }
    parts.extend(setup.leader_m.map(|m| format!("leader {}", units.depth(m))));
    if setup.leader_m.is_none() {
        let usual_m = setup.method.and_then(usual_leader_m);
        parts.extend(usual_m.map(|m| format!("leader {} assumed", units.depth(m))));
    }
    let rod = setup.rod.map_or(String::new(), |rod| format!("{rod}: "));
    format!("{rod}{}", parts.join(", "))
}

/// What the captain lets out: colours, or line.
pub fn out_words(setup: &Setup<'_>, units: UnitSystem) -> String {
    let mut parts: Vec<String> = setup.colors.map(colors).into_iter().collect();
    parts.extend(setup.line_out_m.map(|m| units.depth(m)));
    if parts.is_empty() { "-".to_owned() } else { parts.join(", ") }
}

fn colors(colors: f64) -> String {
    let text = format!("{colors:.1}");
    let text = text.strip_suffix(".0").unwrap_or(&text);
    if text == "1" { "1 colour".to_owned() } else { format!("{text} colours") }
}

/// A weight on a line: `3 oz`, `12 lb`, `85 g`, `5.4 kg`.
fn weight(kg: f64, units: UnitSystem) -> String {
    use waterseam_units::convert::{KG_PER_LB, KG_PER_OZ};
    let (value, unit) = match units {
        UnitSystem::Imperial if kg < 0.995 * KG_PER_LB => (kg / KG_PER_OZ, "oz"),
        UnitSystem::Imperial => (kg / KG_PER_LB, "lb"),
        _ if kg < 0.995 => return format!("{:.0} g", 1000.0 * kg),
        _ => (kg, "kg"),
    };
    let text = format!("{value:.1}");
    format!("{} {unit}", text.strip_suffix(".0").unwrap_or(&text))
}

/// Depths that hold the lure with 90 %.
pub fn sure_range(depth: &Depth, units: UnitSystem) -> String {
    let half_m = SURE_90 * depth.depth_se_m;
    depth_range(units, (depth.depth_m - half_m).max(0.0), depth.depth_m + half_m)
}

/// Where a depth comes from.
pub fn source_words(line: &LineRun<'_>, depth: &Depth, units: UnitSystem) -> String {
    let mut text = match depth.source {
        DepthSource::Recorded => return "as it is noted".to_owned(),
        DepthSource::Counter => "the counter less the blow-back of wire and weight",
        DepthSource::Table => "by your table of the diver",
        DepthSource::Model => "computed from the weight and drag of such a line and lure",
    }
    .to_owned();
    if line.observed > 0 {
        let _ = write!(text, ", set by {}", count(line.observed, "observed depth", "observed depths"));
        if let Some(without_m) = line.without_m {
            let _ = write!(text, " ({} without)", units.depth(without_m));
        }
    }
    text
}

/// How the line stands in the water.
pub fn shape_words(line: &LineRun<'_>, shape: &Shape, units: UnitSystem) -> String {
    let from_vertical_deg = 90.0 - shape.top_angle_deg;
    let behind = units.short_distance(shape.layback_m.max(0.0));
    if line.setup.method == Some(LineMethod::Downrigger) {
        format!(
            "blow-back {from_vertical_deg:.0}° from straight down at the surface; the weight hangs {behind} behind"
        )
    } else {
        format!(
            "the line enters the water {from_vertical_deg:.0}° from straight down; the lure runs {behind} behind"
        )
    }
}

/// The band, and where it comes from.
pub fn band_words(band: &DepthBand, units: UnitSystem) -> String {
    let range = depth_range(units, band.low_m, band.high_m);
    match &band.trip_id {
        Some(trip_id) => format!("{range} (produced best on trip {trip_id})"),
        None => range,
    }
}

/// Whether a line runs in the band, and the chance that it does.
pub fn in_band(depth: &Depth, band: &DepthBand) -> String {
    let percent = 100.0 * depth.chance_between(band.low_m, band.high_m);
    let place = if depth.depth_m < band.low_m {
        "above it"
    } else if depth.depth_m > band.high_m {
        "below it"
    } else {
        "yes"
    };
    format!("{place} ({percent:.0} %)")
}

/// Rows with their cells one below the other; a row's last cell may be as long as it likes.
pub fn in_columns(rows: &[Vec<String>]) -> String {
    let mut widths: Vec<usize> = Vec::new();
    for row in rows {
        // a refusal stands across the columns behind it
        let full = row.len() == rows[0].len();
        for (column, cell) in row.iter().enumerate().take(if full { row.len() } else { row.len() - 1 }) {
            if widths.len() <= column {
                widths.push(0);
            }
            widths[column] = widths[column].max(cell.chars().count());
        }
    }
    let line = |row: &Vec<String>| {
        let cells: String =
            row.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}  ")).collect();
        format!("{}\n", cells.trim_end())
    };
    rows.iter().map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_are_told_as_they_are_sold() {
        assert_eq!(weight(0.085_048_569, UnitSystem::Imperial), "3 oz");
        assert_eq!(weight(5.443_108_44, UnitSystem::Imperial), "12 lb");
        assert_eq!(weight(0.085, UnitSystem::Metric), "85 g");
        assert_eq!(weight(5.44, UnitSystem::Marine), "5.4 kg");
    }
}
