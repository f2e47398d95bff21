//! How deep lines run, and how much line reaches a depth, as a mate tells it.

mod json;
mod parts;

use waterseam_logs::LineMethod;
use waterseam_tables::bands;
use waterseam_tackle::{DepthSource, Refusal, Run, Setup, Shape, Tow};
use waterseam_units::UnitSystem;

pub use self::json::running_depths_json;
pub(crate) use self::parts::out_words;
pub use self::parts::refusal;
use self::parts::{
    band_words, in_band, in_columns, setup_words, shape_words, source_words, speed_words, sure_range,
};
use crate::cautions::RUNNING_DEPTH_CAUTIONS;
use crate::summary::section;
use crate::words::list;

/// Lines at a speed, computed.
#[derive(Clone, Debug)]
pub struct RunningDepths<'a> {
    /// Units of the text.
    pub units: UnitSystem,
    /// How they are towed.
    pub tow: Tow<'a>,
    /// Change of speed that is looked at, m/s.
    pub step_mps: f64,
    /// Depth that is to be reached, m.
    pub target_m: Option<f64>,
    /// Band that they should run in.
    pub band: Option<DepthBand>,
    /// The lines.
    pub lines: Vec<LineRun<'a>>,
}

/// Depths that lines should run in.
#[derive(Clone, Debug, PartialEq)]
pub struct DepthBand {
    /// Shallowest, m.
    pub low_m: f64,
    /// Deepest, m.
    pub high_m: f64,
    /// The trip on which it produced; `None`: the captain says so.
    pub trip_id: Option<String>,
}

/// One line at a speed.
#[derive(Clone, Copy, Debug)]
pub struct LineRun<'a> {
    /// How it is set: as asked, or with as much line out as reaches the depth.
    pub setup: Setup<'a>,
    /// How it runs; where it does not reach the depth, the reason.
    pub run: Run,
    /// Its shape, where that is computed.
    pub shape: Option<Shape>,
    /// Observed depths that set it.
    pub observed: usize,
    /// Depth without them, m.
    pub without_m: Option<f64>,
}

/// The depth band that produced on the newest trip whose evidence tells one.
pub fn productive_depths(rows: &[bands::Row]) -> Option<DepthBand> {
    let told = |row: &&bands::Row| row.factor == "depth_m" && row.species == "*" && row.in_productive_band;
    let trip_id = &rows.iter().filter(told).map(|row| &row.trip_id).max()?;
    let band = || rows.iter().filter(told).filter(|row| row.trip_id == **trip_id);
    let low_m = band().map(|row| row.low).reduce(f64::min)?;
    let high_m = band().map(|row| row.high).reduce(f64::max)?;
    Some(DepthBand { low_m, high_m, trip_id: Some((*trip_id).clone()) })
}

/// One line in full.
///
/// # Errors
/// Where nothing says how deep it runs, or it does not reach the depth.
pub fn running_depth(asked: &RunningDepths<'_>, line: &LineRun<'_>) -> Result<String, Refusal> {
    let units = asked.units;
    let depth = line.run.depth?;
    let mut text = String::new();
    section(&mut text, "Line", &[setup_words(&line.setup, units)]);
    section(&mut text, "Speed", &[speed_words(asked)]);
    if let Some(target_m) = asked.target_m {
        section(
            &mut text,
            "Let out",
            &[format!("{} to reach {}", out_words(&line.setup, units), units.depth(target_m))],
        );
    }
    let what = if line.setup.method == Some(LineMethod::Downrigger) { " (the weight)" } else { "" };
    let sure = format!("{}{what}, 90 % sure: {}", units.depth(depth.depth_m), sure_range(&depth, units));
    section(&mut text, "Depth", &[sure, source_words(line, &depth, units)]);
    if let Some(shape) = &line.shape {
        section(&mut text, "Shape", &[shape_words(line, shape, units)]);
    }
    let step = units.speed(asked.step_mps);
    let at = |depth_m: Option<f64>| depth_m.map_or("not known".to_owned(), |m| units.depth(m));
    if depth.source != DepthSource::Recorded {
        let change = format!(
            "{} when {step} slower, {} when {step} faster",
            at(line.run.slower_m),
            at(line.run.faster_m)
        );
        section(&mut text, "Change", &[change]);
    }
    if let Some(band) = &asked.band {
        section(&mut text, "Band", &[format!("{}: {}", band_words(band, units), in_band(&depth, band))]);
    }
    section(&mut text, "Mind", &RUNNING_DEPTH_CAUTIONS.map(str::to_owned));
    Ok(text)
}

/// Several lines as a table.
pub fn running_depths(asked: &RunningDepths<'_>) -> String {
    let units = asked.units;
    let mut head = vec![speed_words(asked)];
    head.extend(asked.target_m.map(|target_m| format!("to reach {}", units.depth(target_m))));
    head.extend(asked.band.as_ref().map(|band| format!("band {}", band_words(band, units))));
    let step = units.speed(asked.step_mps);
    let mut titles =
        vec!["line", "out", "depth", "90 % sure"].into_iter().map(str::to_owned).collect::<Vec<_>>();
    titles.extend([format!("-{step}"), format!("+{step}")]);
    titles.extend(asked.band.as_ref().map(|_| "in the band".to_owned()));
    let mut rows = vec![titles];
    for line in &asked.lines {
        let name = line.setup.rod.unwrap_or_default().to_owned();
        let out = out_words(&line.setup, units);
        let mut row = vec![name, out];
        match line.run.depth {
            Ok(depth) => {
                let at = |depth_m: Option<f64>| match depth_m {
                    _ if depth.source == DepthSource::Recorded => "as noted".to_owned(),
                    Some(depth_m) => units.depth(depth_m),
                    None => "not known".to_owned(),
                };
                row.extend([units.depth(depth.depth_m), sure_range(&depth, units)]);
                row.extend([at(line.run.slower_m), at(line.run.faster_m)]);
                row.extend(asked.band.as_ref().map(|band| in_band(&depth, band)));
            }
            Err(reason) => row.push(refusal(reason, units)),
        }
        rows.push(row);
    }
    let mut text = format!("{}\n\n", head.join("; "));
    text.push_str(&in_columns(&rows));
    text.push('\n');
    let seen = asked.lines.iter().filter(|line| line.observed > 0);
    let seen = seen.map(|line| format!("{} ({})", line.setup.rod.unwrap_or("line"), line.observed));
    let seen: Vec<String> = seen.collect();
    if !seen.is_empty() {
        section(&mut text, "Seen", &[format!("observed depths set {}", list(&seen))]);
    }
    section(&mut text, "Mind", &RUNNING_DEPTH_CAUTIONS.map(str::to_owned));
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_band_is_that_of_the_newest_trip_that_tells_one() {
        let row = |trip_id: &str, low: f64, in_productive_band: bool| bands::Row {
            trip_id: trip_id.to_owned(),
            factor: "depth_m".to_owned(),
            species: "*".to_owned(),
            low,
            high: low + 3.0,
            rod_hours: 1.0,
            bites: 1,
            rate_per_rod_hour: None,
            rate_low: None,
            rate_high: None,
            in_productive_band,
            band_p_value: None,
            band_p_adjusted: None,
            more_rod_hours: None,
        };
        let rows = [
            row("a", 3.0, true),
            row("b", 9.0, true),
            row("b", 12.0, true),
            row("b", 15.0, false),
            row("c", 6.0, false),
        ];
        let want = DepthBand { low_m: 9.0, high_m: 15.0, trip_id: Some("b".to_owned()) };
        assert_eq!(productive_depths(&rows), Some(want));
        assert_eq!(productive_depths(&rows[4..]), None);
    }
}
