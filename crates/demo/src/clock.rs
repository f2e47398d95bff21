//! What does a clock aboard show at a second of the voyage?

use jiff::tz::{TimeZone, offset};
use waterseam_units::time::{US_PER_S, timestamp};

use crate::days::ZONE_OFFSET_S;

/// The clock of a voyage.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Clock {
    /// Second 0, µs since 1970 UTC.
    pub start_us: i64,
}

impl Clock {
    /// Instant of a second of the voyage, µs since 1970 UTC.
    pub(crate) fn us(self, second: f64) -> i64 {
        self.start_us + (second * US_PER_S as f64).round() as i64
    }

    /// An instant in UTC, as `strftime` writes it.
    pub(crate) fn utc(self, second: f64, format: &str) -> String {
        timestamp(self.us(second)).to_zoned_datetime(TimeZone::UTC).strftime(format).to_string()
    }

    /// An instant on the boat's clock, as `strftime` writes it.
    pub(crate) fn local(self, second: f64, format: &str) -> String {
        let zone = TimeZone::fixed(offset((ZONE_OFFSET_S / 3600) as i8));
        timestamp(self.us(second)).to_zoned_datetime(zone).strftime(format).to_string()
    }
}
