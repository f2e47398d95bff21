//! What did each half of a month give?

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::Date;
use waterseam_bites::rates::{Counted, Gamma};

/// What a trip gave, all its rods together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TripCounts {
    /// Day of its start, by the boat's clock.
    pub day: Date,
    /// Bites.
    pub bites: u64,
    /// Rod-hours.
    pub rod_hours: f64,
}

/// What half a month gave.
#[derive(Clone, Debug, PartialEq)]
pub struct HalfMonth {
    /// First day: the 1st or the 16th.
    pub from: Date,
    /// Last day.
    pub to: Date,
    /// Trips that started in it, by the boat's clock.
    pub trips: usize,
    /// Bites.
    pub bites: i64,
    /// Rod-hours.
    pub rod_hours: f64,
    /// Bites a rod-hour and the ends of its 90 % interval, of the count alone; `None` without rod-hours.
    pub rate: Option<[f64; 3]>,
}

/// Halves of months from the first trip to the last, those without a trip among them.
pub fn half_months(trips: &[TripCounts]) -> Vec<HalfMonth> {
    let mut parts: BTreeMap<Date, (usize, Counted)> = BTreeMap::new();
    for trip in trips {
        let (n, seen) = parts.entry(first_of_half(trip.day)).or_default();
        *n += 1;
        let own = Counted { count: trip.bites, exposure: trip.rod_hours };
        *seen = Counted::total(&[*seen, own]);
    }
    let (Some(&first), Some(&last)) = (parts.keys().next(), parts.keys().next_back()) else {
        return Vec::new();
    };
    let halves = std::iter::successors(Some(first), |&from| last_of_half(from).tomorrow().ok());
    halves
        .take_while(|&from| from <= last)
        .map(|from| {
            let (trips, seen) = parts.get(&from).copied().unwrap_or_default();
            HalfMonth {
                from,
                to: last_of_half(from),
                trips,
                bites: seen.count as i64,
                rod_hours: seen.exposure,
                rate: rate(seen),
            }
        })
        .collect()
}

fn rate(seen: Counted) -> Option<[f64; 3]> {
    let posterior = (seen.exposure > 0.0).then(|| Gamma::weak(seen).posterior(seen))?;
    let (low, high) = posterior.interval(0.9)?;
    Some([posterior.mean()?, low, high])
}

/// The 1st or the 16th.
fn first_of_half(day: Date) -> Date {
    let first = day.first_of_month();
    if day.day() > 15 { first.saturating_add(15.days()) } else { first }
}

fn last_of_half(from: Date) -> Date {
    if from.day() > 15 { from.last_of_month() } else { from.saturating_add(14.days()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_of_months_cover_every_day_once() {
        let mut from = Date::constant(2024, 1, 1);
        for _ in 0..48 {
            let to = last_of_half(from);
            for day in [from, to] {
                assert_eq!((first_of_half(day), last_of_half(first_of_half(day))), (from, to));
            }
            from = to.tomorrow().unwrap();
        }
        assert_eq!(from, Date::constant(2026, 1, 1));
    }
}
