//! How good are the readings of one quantity, and what is left of them a row?

use std::ops::Range;

use waterseam_units::Flag;

use crate::quality::StreamQuality;
use crate::rows::owned;
use crate::series::{Judged, Series, best_flags, best_means, judged};
use crate::settings::Limits;
use crate::steady::{BySender, Steady, steady};
use crate::track::Trip;

/// The readings of one steady sender; a remark about the others goes to the trip.
pub(crate) fn chosen<T>(
    trip: &mut Trip,
    quantity: &str,
    readings: BySender<T>,
    logs: &[String],
) -> Steady<T> {
    let mut chosen = steady(quantity, readings, logs);
    trip.remarks.extend(chosen.remark.take());
    chosen
}

/// Readings of one quantity with their flags.
pub(crate) struct Stream {
    /// The readings.
    pub series: Series,
    /// A flag for each.
    pub flags: Vec<Flag>,
}

impl Stream {
    /// Judges the readings; what each test said goes to the trip under the name of the stream.
    pub fn judged(
        trip: &mut Trip,
        stream: &'static str,
        series: Series,
        limits: &Limits,
        measure: impl Fn(f64) -> f64,
    ) -> Self {
        let Judged { flags, tests } = judged(&series, limits, measure);
        if !flags.is_empty() {
            trip.quality.push(StreamQuality { stream, tests });
        }
        Self { series, flags }
    }

    /// The readings of each row.
    pub fn shared_out<'a>(&'a self, windows: &'a [Range<i64>]) -> impl Iterator<Item = Range<usize>> + 'a {
        owned(windows, &self.series.time_us)
    }

    /// The flag of the best readings of each row.
    pub fn best_flags(&self, windows: &[Range<i64>]) -> Vec<Flag> {
        best_flags(self.shared_out(windows), &self.flags)
    }

    /// The mean of the best readings of each row, and their flag.
    pub fn means(&self, windows: &[Range<i64>]) -> (Vec<Option<f64>>, Vec<Flag>) {
        best_means(self.shared_out(windows), &self.series, &self.flags)
    }
}
