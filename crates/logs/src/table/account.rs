//! What became of each record of a file?

use crate::observation::{NO_TALKER, Observation, Value};
use crate::source::{SET_ASIDE_KEPT, SetAside, Sink, SourceReport};

/// Longest part of a record that is kept with it, characters.
const RAW_CHARACTERS: usize = 200;

/// Where a record stands.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Place<'a> {
    /// Line, from 1.
    pub line: u64,
    /// Byte at which it starts, from 0.
    pub byte: u64,
    /// Its text.
    pub raw: &'a str,
}

/// Counts records into a report and passes values and rejected records to a sink.
pub(crate) struct Account<'a> {
    /// The report.
    pub report: &'a mut SourceReport,
    /// The sink.
    pub sink: &'a mut dyn Sink,
}

impl Account<'_> {
    /// A record gave at least one value.
    pub fn used(&mut self) {
        self.report.records_read += 1;
        self.report.records_used += 1;
    }

    /// A record is good, but not needed.
    pub fn not_needed(&mut self) {
        self.report.records_read += 1;
        self.report.records_not_needed += 1;
    }

    /// A record cannot be used.
    pub fn set_aside(&mut self, reason: &'static str, place: Place<'_>) {
        self.report.records_read += 1;
        let count = self.report.set_aside.entry(reason).or_default();
        *count += 1;
        if *count <= SET_ASIDE_KEPT {
            let raw = place.raw.chars().take(RAW_CHARACTERS).collect();
            self.sink.set_aside(SetAside { line: place.line, byte: place.byte, reason, raw });
        }
    }

    /// Hands out a value of a used record and counts it by its kind.
    pub fn hand_out(&mut self, time_us: i64, value: Value) {
        self.sink.observation(Observation { time_us, talker: NO_TALKER, source: 0, value });
        self.count(match value {
            Value::Fix { .. } => "position",
            Value::GroundVelocity { .. } => "velocity over ground",
            Value::Probe { temp_c: Some(_), .. } => "depth and temperature",
            Value::Probe { .. } => "depth and speed",
            Value::WaterTemp { .. } => "surface temperature",
            Value::Mark { .. } => "mark",
            _ => "depth of the water",
        });
    }

    /// Counts something by its name, for [`SourceReport::contents`].
    pub fn count(&mut self, name: &str) {
        match self.report.contents.get_mut(name) {
            Some(count) => *count += 1,
            None => _ = self.report.contents.insert(name.to_owned(), 1),
        }
    }

    /// A used record has this time.
    pub fn seen_at(&mut self, time_us: i64) {
        let report = &mut *self.report;
        report.time_first_us = Some(report.time_first_us.map_or(time_us, |first| first.min(time_us)));
        report.time_last_us = Some(report.time_last_us.map_or(time_us, |last| last.max(time_us)));
    }
}
