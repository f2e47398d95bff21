//! What do the boat's other trips make of the rates of one?

use waterseam_tables::{bands, trips};
use waterseam_units::UnitSystem;

use crate::summary::Style;
use crate::words::{count, depth_range, temp_range};

/// Bites per rod-hour with the interval that holds them nine times in ten.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct RateTold {
    /// Bites per rod-hour.
    pub per_rod_hour: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The rates of one trip, drawn toward what the boat's other trips say as far as the trip itself is thin.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct OtherTrips {
    /// How many other trips there are.
    pub trips: usize,
    /// Rate of the whole trip; `None` where the others are too few.
    pub rate: Option<RateTold>,
    /// Bins of the trip with their rates; none where the others are too few.
    pub bands: Vec<bands::Row>,
}

/// Lines about one trip; none where the others are too few to say anything.
pub fn trip(others: &OtherTrips, by_itself: &[bands::Row], style: &Style) -> Vec<String> {
    let Some(rate) = others.rate else { return Vec::new() };
    let mut lines = vec![format!(
        "with what your {} say{}: {:.2} bites a rod-hour (90 % sure: {:.2} to {:.2})",
        count(others.trips, "other trip", "other trips"),
        if others.trips == 1 { "s" } else { "" },
        rate.per_rod_hour,
        rate.low,
        rate.high
    )];
    lines.extend(best_bin(others, by_itself, "depth_m", "depth", depth_range, style));
    lines.extend(best_bin(others, by_itself, "temp_at_depth_c", "temperature at depth", temp_range, style));
    lines
}

/// The bin of a factor that is surest to be good: the one with the highest lower end.
fn best_bin(
    others: &OtherTrips,
    by_itself: &[bands::Row],
    factor: &str,
    name: &str,
    range: fn(UnitSystem, f64, f64) -> String,
    style: &Style,
) -> Option<String> {
    let of_factor = others.bands.iter().filter(|band| band.factor == factor);
    let best = of_factor.max_by(|a, b| a.rate_low.unwrap_or(0.0).total_cmp(&b.rate_low.unwrap_or(0.0)))?;
    let alone = by_itself
        .iter()
        .find(|band| band.factor == factor && band.species == best.species && band.low == best.low)?;
    Some(format!(
        "{name}, with what they say: {} is surest, {:.2} a rod-hour ({:.2} to {:.2}; by itself {:.2}, {:.2} to {:.2})",
        range(style.units, best.low, best.high),
        best.rate_per_rod_hour?,
        best.rate_low?,
        best.rate_high?,
        alone.rate_per_rod_hour?,
        alone.rate_low?,
        alone.rate_high?,
    ))
}

/// What stands under a trip in a list of trips.
pub fn of_season(row: &trips::Row, rate: RateTold) -> Option<String> {
    Some(format!(
        "  with what the other trips say {:.2} a rod-hour (90 % sure: {:.2} to {:.2}; by itself {:.2} to {:.2})",
        rate.per_rod_hour, rate.low, rate.high, row.rate_low?, row.rate_high?
    ))
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;

    use super::*;

    fn band(low: f64, rate: (f64, f64, f64)) -> bands::Row {
        bands::Row {
            trip_id: "t".to_owned(),
            factor: "depth_m".to_owned(),
            species: "*".to_owned(),
            low,
            high: low + 3.0,
            rod_hours: 4.0,
            bites: 3,
            rate_per_rod_hour: Some(rate.0),
            rate_low: Some(rate.1),
            rate_high: Some(rate.2),
            in_productive_band: false,
            band_p_value: None,
            band_p_adjusted: None,
            more_rod_hours: None,
        }
    }

    #[test]
    fn both_rates_are_told_side_by_side() {
        let style = Style { units: UnitSystem::Metric, zone: TimeZone::UTC, several_days: false };
        let by_itself = [band(9.0, (0.9, 0.3, 2.0)), band(12.0, (1.5, 0.2, 4.0))];
        let others = OtherTrips {
            trips: 38,
            rate: Some(RateTold { per_rod_hour: 1.36, low: 1.02, high: 1.75 }),
            bands: vec![band(9.0, (0.8, 0.5, 1.2)), band(12.0, (0.9, 0.4, 1.6))],
        };
        assert_eq!(
            trip(&others, &by_itself, &style),
            [
                "with what your 38 other trips say: 1.36 bites a rod-hour (90 % sure: 1.02 to 1.75)",
                "depth, with what they say: 9-12 m is surest, 0.80 a rod-hour (0.50 to 1.20; by itself 0.90, 0.30 to 2.00)",
            ]
        );
        assert_eq!(trip(&OtherTrips::default(), &by_itself, &style), [""; 0]);
    }
}
