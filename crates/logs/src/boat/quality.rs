//! When is a reading doubtful or wrong? What the captain says of the quality tests.

use std::collections::BTreeMap;

use waterseam_units::UnitSystem;
use waterseam_units::convert::{M_PER_MI, M_PER_NMI};

use super::BoatFile;
use super::entry::{Entry, Section};
use super::error::BoatFileError;
use crate::quantity::Dimension;

/// Limits of the quality tests. What is `None` keeps its default.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Quality {
    /// Limits of positions.
    pub position: PositionLimits,
    /// Limits of the other streams, by name: `surface_temp`, `water_depth`, `probe_temp`, `probe_depth`, `sog`, `stw`,
    /// `heading`.
    pub streams: BTreeMap<&'static str, StreamLimits>,
}

/// Limits of positions (`[quality.position]`).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PositionLimits {
    /// Time between positions that counts as a gap, s (`gap_s`).
    pub gap_s: Option<f64>,
    /// Fastest that the boat can go, m/s (`fastest`).
    pub fastest_mps: Option<f64>,
    /// How far a good position can be off, m (`noise`).
    pub noise_m: Option<f64>,
    /// How far from the home port the boat can be, m (`farthest_from_home`).
    pub farthest_from_home_m: Option<f64>,
}

/// Limits of one stream, in its SI unit; for the water's depth, spike, rate, flat tolerance and attenuated signal are
/// parts of the depth. Pairs are suspect and fail.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StreamLimits {
    /// Time between samples that counts as a gap, s (`gap_s`).
    pub gap_s: Option<f64>,
    /// Outside is suspect (`suspect = [low, high]`).
    pub suspect: Option<(f64, f64)>,
    /// Outside fails (`fail = [low, high]`).
    pub fail: Option<(f64, f64)>,
    /// Distance from the neighbours (`spike`).
    pub spike: Option<(f64, f64)>,
    /// Change in a second (`rate`).
    pub rate_per_s: Option<(f64, f64)>,
    /// Time without a change, s (`flat_minutes`).
    pub flat_s: Option<(f64, f64)>,
    /// A span below this is no change (`flat_tolerance`).
    pub flat_tolerance: Option<f64>,
    /// Standard deviation (`attenuated`).
    pub attenuated: Option<(f64, f64)>,
    /// Time over which it is taken, s (`attenuated_minutes`).
    pub attenuated_s: Option<f64>,
}

/// How numbers of a stream are read.
#[derive(Clone, Copy)]
enum Scale {
    /// Values and differences of a dimension.
    Of(Dimension, Dimension),
    /// Values of a dimension, differences as parts of the value.
    Relative(Dimension),
    /// Degrees of a circle.
    Degrees,
}

const POSITION: &str = "position";
const STREAMS: [(&str, Scale); 7] = [
    ("surface_temp", Scale::Of(Dimension::Temperature, Dimension::TemperatureDifference)),
    ("water_depth", Scale::Relative(Dimension::Depth)),
    ("probe_temp", Scale::Of(Dimension::Temperature, Dimension::TemperatureDifference)),
    ("probe_depth", Scale::Of(Dimension::Depth, Dimension::Depth)),
    ("sog", Scale::Of(Dimension::Speed, Dimension::Speed)),
    ("stw", Scale::Of(Dimension::Speed, Dimension::Speed)),
    ("heading", Scale::Degrees),
];
const KEYS: [&str; 9] = [
    "gap_s",
    "suspect",
    "fail",
    "spike",
    "rate",
    "flat_minutes",
    "flat_tolerance",
    "attenuated",
    "attenuated_minutes",
];

/// Longest times, s and minutes: beyond any trip.
const LONGEST_S: f64 = 1e6;
const LONGEST_MINUTES: f64 = 1e5;
const SHORTEST: f64 = 0.01;
/// Half round the earth, in the shortest unit.
const FARTHEST: f64 = 20_000.0;

/// Reads `[quality.…]`.
pub(super) fn quality(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    let Some(entry) = top.get("quality") else { return Ok(()) };
    let right = "a table for each stream, like [quality.surface_temp] with spike = [1, 2]";
    let all = entry.table(right)?;
    let known: Vec<&str> = [POSITION].into_iter().chain(STREAMS.iter().map(|&(stream, _)| stream)).collect();
    all.only(&known)?;
    if let Some(entry) = all.get(POSITION) {
        boat.quality.position = position(&entry.table(right)?, boat.units)?;
    }
    for (stream, scale) in STREAMS {
        if let Some(entry) = all.get(stream) {
            let limits = Stream { section: entry.table(right)?, scale, units: boat.units }.read()?;
            boat.quality.streams.insert(stream, limits);
        }
    }
    Ok(())
}

fn position(section: &Section<'_>, units: UnitSystem) -> Result<PositionLimits, BoatFileError> {
    section.only(&["gap_s", "fastest", "noise", "farthest_from_home"])?;
    let length = |key| section.get(key).map(|entry| entry.amount(Dimension::Depth, units)).transpose();
    Ok(PositionLimits {
        gap_s: seconds(section, "gap_s")?,
        fastest_mps: section.get("fastest").map(|entry| entry.amount(Dimension::Speed, units)).transpose()?,
        noise_m: length("noise")?,
        farthest_from_home_m: section
            .get("farthest_from_home")
            .map(|entry| distance(&entry, units))
            .transpose()?,
    })
}

/// A number of the miles or kilometres that the captain counts in, as m.
fn distance(entry: &Entry<'_>, units: UnitSystem) -> Result<f64, BoatFileError> {
    let (unit_m, right) = match units {
        UnitSystem::Imperial => (M_PER_MI, "miles"),
        UnitSystem::Metric => (1000.0, "kilometres"),
        UnitSystem::Marine => (M_PER_NMI, "nautical miles"),
    };
    Ok(unit_m * entry.number(SHORTEST..FARTHEST, right)?)
}

fn seconds(section: &Section<'_>, key: &str) -> Result<Option<f64>, BoatFileError> {
    section.get(key).map(|entry| entry.number(SHORTEST..LONGEST_S, "seconds")).transpose()
}

/// The table of one stream.
struct Stream<'t> {
    section: Section<'t>,
    scale: Scale,
    units: UnitSystem,
}

impl Stream<'_> {
    fn read(&self) -> Result<StreamLimits, BoatFileError> {
        let section = &self.section;
        section.only(&KEYS)?;
        let minutes = |entry: &Entry<'_>| -> Result<f64, BoatFileError> {
            Ok(60.0 * entry.number(SHORTEST..LONGEST_MINUTES, "minutes")?)
        };
        Ok(StreamLimits {
            gap_s: seconds(section, "gap_s")?,
            suspect: self.range("suspect")?,
            fail: self.range("fail")?,
            spike: self.growing("spike", |entry| self.difference(entry))?,
            rate_per_s: self.growing("rate", |entry| self.difference(entry))?,
            flat_s: self.growing("flat_minutes", minutes)?,
            flat_tolerance: section.get("flat_tolerance").map(|entry| self.difference(&entry)).transpose()?,
            attenuated: self.attenuated()?,
            attenuated_s: section.get("attenuated_minutes").map(|entry| minutes(&entry)).transpose()?,
        })
    }

    fn value(&self, entry: &Entry<'_>) -> Result<f64, BoatFileError> {
        match self.scale {
            Scale::Of(dimension, _) | Scale::Relative(dimension) => entry.quantity(dimension, self.units),
            Scale::Degrees => entry.number(-360.0..360.0, "degrees"),
        }
    }

    fn difference(&self, entry: &Entry<'_>) -> Result<f64, BoatFileError> {
        match self.scale {
            Scale::Of(_, dimension) => entry.amount(dimension, self.units),
            Scale::Relative(_) => entry.number(0.0..10.0, "a part of the depth, like 0.15"),
            Scale::Degrees => entry.number(0.0..360.0, "degrees"),
        }
    }

    fn pair(
        &self,
        key: &str,
        right: &str,
        one: impl Fn(&Entry<'_>) -> Result<f64, BoatFileError>,
        fits: fn(f64, f64) -> bool,
    ) -> Result<Option<(f64, f64)>, BoatFileError> {
        let Some(entry) = self.section.get(key) else { return Ok(None) };
        let [first, second] = entry.pair(right)?;
        let (first, second) = (one(&first)?, one(&second)?);
        if fits(first, second) { Ok(Some((first, second))) } else { Err(entry.wrong(right)) }
    }

    fn range(&self, key: &str) -> Result<Option<(f64, f64)>, BoatFileError> {
        let right = "[lowest, highest] that passes";
        self.pair(key, right, |entry| self.value(entry), |low, high| low < high)
    }

    fn growing(
        &self,
        key: &str,
        one: impl Fn(&Entry<'_>) -> Result<f64, BoatFileError>,
    ) -> Result<Option<(f64, f64)>, BoatFileError> {
        let right = "[suspect from, fail from], the second not smaller";
        self.pair(key, right, one, |suspect, fail| suspect <= fail)
    }

    fn attenuated(&self) -> Result<Option<(f64, f64)>, BoatFileError> {
        let right = "[suspect below, fail below], the second not greater";
        self.pair("attenuated", right, |entry| self.difference(entry), |suspect, fail| fail <= suspect)
    }
}
