//! When does the sun rise and set on a day, and how long is there light around that?

use jiff::civil::Date;
use jiff::tz::TimeZone;
use waterseam_units::LatLon;
use waterseam_units::time::US_PER_S;

use crate::sun::sun_elevation_deg;

/// Geometric elevation of the sun's centre at sunrise and sunset: 34' of refraction and 16' of the sun's radius (the convention of the
/// almanacs; as in NREL/TP-560-34302, appendix A.2), degrees.
const RISE_DEG: f64 = -0.8333;
/// The same at the ends of civil twilight, in which one can still see to work, degrees.
const TWILIGHT_DEG: f64 = -6.0;
/// The day is searched in steps of this: the sun does not rise and set within it where people fish, s.
const STEP_S: i64 = 600;

/// The light of a day. `None` where there is no such moment between its midnights.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Daylight {
    /// Start of civil twilight, µs since 1970 UTC.
    pub dawn_us: Option<i64>,
    /// Sunrise.
    pub sunrise_us: Option<i64>,
    /// Sunset.
    pub sunset_us: Option<i64>,
    /// End of civil twilight.
    pub dusk_us: Option<i64>,
}

/// The light of a day of a time zone at a place, to the second.
pub fn daylight(day: Date, zone: &TimeZone, at: LatLon) -> Daylight {
    let midnight =
        |day: Date| day.to_zoned_datetime(zone.clone()).ok().map(|zoned| zoned.timestamp().as_microsecond());
    let (Some(from_us), Some(to_us)) = (midnight(day), day.tomorrow().ok().and_then(midnight)) else {
        return Daylight::default();
    };
    let crossing = |elevation_deg: f64, rising: bool| {
        let above = |time_us: i64| (sun_elevation_deg(time_us, at) > elevation_deg) == rising;
        let mut start_us = from_us;
        while start_us < to_us {
            let end_us = (start_us + STEP_S * US_PER_S).min(to_us);
            if !above(start_us) && above(end_us) {
                let (mut low_us, mut high_us) = (start_us, end_us);
                while high_us - low_us > US_PER_S / 2 {
                    let middle_us = low_us + (high_us - low_us) / 2;
                    if above(middle_us) { high_us = middle_us } else { low_us = middle_us }
                }
                return Some(high_us);
            }
            start_us = end_us;
        }
        None
    };
    Daylight {
        dawn_us: crossing(TWILIGHT_DEG, true),
        sunrise_us: crossing(RISE_DEG, true),
        sunset_us: crossing(RISE_DEG, false),
        dusk_us: crossing(TWILIGHT_DEG, false),
    }
}
