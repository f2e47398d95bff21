//! How warm was the water along the way and down, as a picture of both can show it?
//!
//! ```text
//!  depth   ─────────── along the track ───────────▶
//!    │     18  18  18 ┆ 17  17  17 ┆ 18  18
//!    │     12  13  14 ┆ 13  12  11 ┆ 12  12        blank below the deepest sample, and where
//!    ▼      6   7   8 ┆  7   6   · ┆  ·   ·        casts lie too far apart for what changed between
//! ```

use crate::field::Column;
use crate::interpolate::PROFILE_SPEAKS_FOR_S;
use crate::{Field, FieldTemp};

/// Grid of a section, and where it is blank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SectionSettings {
    /// Least distance between columns, m. Default 100: one way of a probe that goes down and up in three minutes behind a trolling boat.
    pub least_step_m: f64,
    /// Most columns of a trip. Default 240: more are finer than an eye sees in a picture as wide as a page.
    pub most_columns: usize,
    /// Least distance between levels, m. Default 1: two bins.
    pub least_level_m: f64,
    /// Most levels. Default 48.
    pub most_levels: usize,
    /// The probe goes down and up all along where profiles follow each other within this time, s. Default 600: longer than a slow cycle,
    /// and shorter than lines are left alone.
    pub undulates_within_s: f64,
    /// … at least so many of them. Default 4: three are lines that were set twice.
    pub undulates_profiles: usize,
    /// Where the depth of isotherms is known less surely than this, nothing is given, m. Default 2: the least step that counts, twice an
    /// ordinary internal wave (standard error).
    pub greatest_depth_se_m: f64,
}

impl Default for SectionSettings {
    fn default() -> Self {
        Self {
            least_step_m: 100.0,
            most_columns: 240,
            least_level_m: 1.0,
            most_levels: 48,
            undulates_within_s: 600.0,
            undulates_profiles: 4,
            greatest_depth_se_m: 2.0,
        }
    }
}

/// Steps of a grid are these times a power of ten.
const ROUND_STEPS: [f64; 3] = [1.0, 2.0, 5.0];

/// A stretch of the way with the water below it.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Columns in order of the way.
    pub columns: Vec<SectionColumn>,
    /// Depths of the levels, m, the same in every column.
    pub levels_m: Vec<f64>,
}

/// The water at one place of the way.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionColumn {
    /// Seconds on the clock of the field.
    pub time_s: f64,
    /// Distance along the way, m.
    pub distance_m: f64,
    /// Whether the probe went down and up all along; else it lies between casts.
    pub is_undulating: bool,
    /// Temperature at each level; `None` where nobody measured, or where it is not known well enough.
    pub temps: Vec<Option<FieldTemp>>,
}

/// Sections of a trip, in order of the way: one for each stretch with profiles about it. `way` is time in s and distance along the
/// track in m, in order of both.
///
/// A column lies between two profiles that both speak for it, or so near one that a probe which goes down and up would make the next;
/// a section has two profiles at least. Columns stand on round distances and levels on round depths.
pub fn sections(field: &Field, way: &[(f64, f64)], settings: &SectionSettings) -> Vec<Section> {
    let profiles = field.profiles();
    let times_s: Vec<f64> = profiles.iter().map(|profile| profile.time_s).collect();
    let deepest_m = profiles.iter().filter_map(|p| p.bins.last()).map(|bin| bin.depth_m).fold(0.0, f64::max);
    let (Some(first), Some(last)) = (way.first(), way.last()) else { return Vec::new() };
    let step_m = round_step((last.1 - first.1) / settings.most_columns as f64, settings.least_step_m);
    let level_m = round_step(deepest_m / settings.most_levels as f64, settings.least_level_m);
    let undulating = undulating(&times_s, settings);
    let from = (first.1 / step_m).ceil() as i64;
    let to = (last.1 / step_m).floor() as i64;
    let columns: Vec<(i64, f64)> = (from..=to)
        .map(|column| (column, time_at(way, column as f64 * step_m)))
        .filter(|&(_, time_s)| is_measured(&times_s, time_s, settings))
        .collect();
    columns
        .chunk_by(|a, b| b.0 == a.0 + 1)
        .filter(|stretch| {
            let spans = (stretch[0].1, stretch[stretch.len() - 1].1);
            let near = |&&time_s: &&f64| {
                spans.0 - settings.undulates_within_s <= time_s
                    && time_s <= spans.1 + settings.undulates_within_s
            };
            times_s.iter().filter(near).count() >= 2
        })
        .map(|stretch| {
            let levels_m: Vec<f64> =
                (0..=(deepest_m / level_m).floor() as i64).map(|level| level as f64 * level_m).collect();
            let columns = stretch.iter().map(|&(column, time_s)| {
                let water = field.at(time_s);
                SectionColumn {
                    time_s,
                    distance_m: column as f64 * step_m,
                    is_undulating: undulating.iter().any(|&(from_s, to_s)| (from_s..=to_s).contains(&time_s)),
                    temps: levels_m.iter().map(|&depth_m| known(&water, depth_m, settings)).collect(),
                }
            });
            Section { columns: columns.collect(), levels_m }
        })
        .collect()
}

/// The temperature where it is known well enough.
fn known(water: &Column, depth_m: f64, settings: &SectionSettings) -> Option<FieldTemp> {
    let temp = water.temp(depth_m)?;
    temp.isotherm_se_m.is_none_or(|se_m| se_m <= settings.greatest_depth_se_m).then_some(temp)
}

/// Whether profiles lie about a time.
fn is_measured(times_s: &[f64], time_s: f64, settings: &SectionSettings) -> bool {
    let after = times_s.partition_point(|&t| t <= time_s);
    let before_s = after.checked_sub(1).map_or(f64::INFINITY, |row| time_s - times_s[row]);
    let after_s = times_s.get(after).map_or(f64::INFINITY, |next_s| next_s - time_s);
    before_s.max(after_s) <= PROFILE_SPEAKS_FOR_S || before_s.min(after_s) <= settings.undulates_within_s
}

/// Spans of time in which the probe goes down and up all along.
fn undulating(times_s: &[f64], settings: &SectionSettings) -> Vec<(f64, f64)> {
    let runs = times_s.chunk_by(|a, b| b - a <= settings.undulates_within_s);
    let runs = runs.filter(|run| run.len() >= settings.undulates_profiles);
    runs.map(|run| (run[0], run[run.len() - 1])).collect()
}

/// When the way first reached a distance that lies within it, s.
fn time_at(way: &[(f64, f64)], distance_m: f64) -> f64 {
    let after = way.partition_point(|row| row.1 < distance_m).min(way.len() - 1);
    let Some(before) = after.checked_sub(1) else { return way[after].0 };
    let ((t0, d0), (t1, d1)) = (way[before], way[after]);
    if d1 > d0 { t0 + (t1 - t0) * ((distance_m - d0) / (d1 - d0)).clamp(0.0, 1.0) } else { t1 }
}

/// The smallest of 1, 2, 5, 10, 20 … that is at least both.
fn round_step(wanted: f64, least: f64) -> f64 {
    let wanted = wanted.max(least);
    let decade = 10f64.powf(wanted.log10().floor());
    ROUND_STEPS
        .into_iter()
        .chain([10.0])
        .map(|step| step * decade)
        .find(|step| *step >= wanted)
        .unwrap_or(wanted)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FieldSettings, Sample, Settings};

    const STEADY_MPS: f64 = 1.1;

    /// Warm above 12 m, cold below; the probe goes to 24 m at these times, at 0.4 m/s.
    fn field(casts_s: &[f64]) -> Field {
        let samples: Vec<Sample> = casts_s
            .iter()
            .flat_map(|&middle_s| {
                (-60..=60).map(move |i: i32| {
                    let depth_m = 24.0 - 0.4 * f64::from(i.abs());
                    Sample {
                        time_s: middle_s + f64::from(i),
                        depth_m,
                        temp_c: 12.0 - 6.0 * ((depth_m - 12.0) / 2.0).tanh(),
                    }
                })
            })
            .collect();
        Field::new(&samples, &[], &Settings::default(), &FieldSettings::default())
    }

    fn way(seconds: i32) -> Vec<(f64, f64)> {
        (0..seconds).map(f64::from).map(|time_s| (time_s, STEADY_MPS * time_s)).collect()
    }

    fn found(casts_s: &[f64]) -> Vec<Section> {
        sections(&field(casts_s), &way(14_400), &SectionSettings::default())
    }

    #[test]
    fn the_water_between_two_casts_is_filled_down_to_where_they_went() {
        let [section] = &found(&[1800.0, 4200.0])[..] else { panic!("one section") };
        assert_eq!(section.levels_m.last(), Some(&24.0));
        let (first, last) = (&section.columns[0], &section.columns[section.columns.len() - 1]);
        assert!(first.time_s >= 1200.0 && first.time_s < 1300.0, "{}", first.time_s);
        assert!(last.time_s <= 4800.0 && last.time_s > 4700.0, "{}", last.time_s);
        for column in &section.columns {
            assert!(!column.is_undulating);
            assert!(
                (column.distance_m - STEADY_MPS * column.time_s).abs() < 1e-6
                    && column.distance_m % 100.0 == 0.0
            );
            for (level_m, want_c) in [(4, 18.0), (12, 12.0), (22, 6.0)] {
                let got = column.temps[level_m].expect("both casts were there");
                assert!((got.temp_c - want_c).abs() < 0.3, "{level_m} m: {got:?}");
            }
        }
    }

    #[test]
    fn casts_too_far_apart_make_nothing_between_them() {
        // each alone is no section
        assert_eq!(found(&[1200.0, 12_900.0]), []);
        let two = found(&[600.0, 1500.0, 12_600.0, 13_500.0]);
        assert_eq!(two.len(), 2);
        assert_eq!(found(&[]), []);
        assert_eq!(sections(&field(&[600.0, 900.0]), &[], &SectionSettings::default()), []);
    }

    #[test]
    fn a_probe_that_goes_down_and_up_all_along_is_told_from_casts() {
        let casts: Vec<f64> = (0..12).map(|i| 1000.0 + 180.0 * f64::from(i)).chain([6000.0]).collect();
        let [section] = &found(&casts)[..] else { panic!("one section") };
        for column in &section.columns {
            assert_eq!(column.is_undulating, (1000.0..=2980.0).contains(&column.time_s), "{}", column.time_s);
        }
    }

    #[test]
    fn steps_are_round() {
        for (wanted, least, step) in
            [(3.0, 100.0, 100.0), (101.0, 100.0, 200.0), (210.0, 1.0, 500.0), (0.0, 1.0, 1.0)]
        {
            assert_eq!(round_step(wanted, least), step);
        }
        let far: Vec<(f64, f64)> =
            way(14_400).into_iter().map(|(time_s, run_m)| (time_s, 5.0 * run_m)).collect();
        let [section] = &sections(&field(&[1800.0, 4200.0]), &far, &SectionSettings::default())[..] else {
            panic!("one section")
        };
        assert_eq!(section.columns[1].distance_m - section.columns[0].distance_m, 500.0);
    }
}
