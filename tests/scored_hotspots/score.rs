//! How well does the layer know the places?

use std::fmt;

use super::lakes::Lake;
use super::{HOT_TIMES, LEAST_ROD_HOURS};

/// Counts over all lakes, of cells and months with effort enough.
#[derive(Clone, Copy, Debug, Default)]
pub struct Score {
    found: usize,
    missed: usize,
    invented: usize,
    covered: usize,
    below: usize,
    intervals: usize,
}

impl Score {
    pub fn of<'a>(lakes: impl Iterator<Item = &'a Lake>) -> Self {
        let mut score = Self::default();
        for lake in lakes {
            for (&(cell, month), truth) in &lake.truth {
                let name = format!("{month:02}");
                let row = lake.rows.iter().find(|row| row.cell == cell && row.season_part == name);
                score.intervals(row.and_then(|row| row.rate), truth.rate);
                if truth.rod_hours < LEAST_ROD_HOURS {
                    continue;
                }
                match (truth.times >= HOT_TIMES, row.is_some_and(|row| row.hot)) {
                    (true, true) => score.found += 1,
                    (true, false) => score.missed += 1,
                    (false, true) => score.invented += 1,
                    (false, false) => {}
                }
            }
        }
        score
    }

    fn intervals(&mut self, rate: Option<waterseam_hotspots::Rate>, truth: f64) {
        let Some(rate) = rate else { return };
        self.intervals += 1;
        self.covered += usize::from((rate.low..=rate.high).contains(&truth));
        self.below += usize::from(truth < rate.low);
    }

    pub fn true_hot(&self) -> usize {
        self.found + self.missed
    }

    pub fn said_hot(&self) -> usize {
        self.found + self.invented
    }

    pub fn precision(&self) -> f64 {
        self.found as f64 / self.said_hot().max(1) as f64
    }

    pub fn recall(&self) -> f64 {
        self.found as f64 / self.true_hot().max(1) as f64
    }

    pub fn covered(&self) -> f64 {
        self.covered as f64 / self.intervals.max(1) as f64
    }
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} of {} true hot places found ({:.3}), {} invented (precision {:.3}); {} intervals hold {:.3}, {} true rates below",
            self.found,
            self.true_hot(),
            self.recall(),
            self.invented,
            self.precision(),
            self.intervals,
            self.covered(),
            self.below
        )
    }
}
