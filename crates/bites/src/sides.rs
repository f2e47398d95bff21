//! Was it better on the warm side of a break or on the cold one?

use crate::bands::{BandSettings, Fished, interrupted};
use crate::near::Side;
use crate::rates::{Counted, RateRatio, rate_ratio};

/// The two sides of the breaks, compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sides {
    /// Warm side.
    pub warm: Counted,
    /// Cold side.
    pub cold: Counted,
    /// Warm over cold; `None` where one of them was not fished.
    pub ratio: Option<RateRatio>,
}

/// Rates near a break on either of its sides, over one trip or several, for one species or (`None`) for all.
///
/// Bites count where the minute that they interrupted was fished; others take no part.
pub fn sides(trips: &[Fished], species: Option<&str>, settings: &BandSettings) -> Sides {
    let (mut warm, mut cold) = (Counted::default(), Counted::default());
    let mut add = |distance_m: Option<f64>, side: Option<Side>, count: u64, exposure: f64| {
        let near = distance_m.is_some_and(|distance_m| distance_m <= settings.sides_within_m);
        let Some(counted) = side.filter(|_| near).map(|side| match side {
            Side::Warm => &mut warm,
            Side::Cold => &mut cold,
        }) else {
            return;
        };
        counted.count += count;
        counted.exposure += exposure;
    };
    for trip in trips {
        for row in trip.effort {
            add(row.break_distance_m, row.break_side, 0, row.rod_hours);
        }
        for bite in trip.bites.iter().filter(|bite| species.is_none() || bite.species.as_deref() == species) {
            if let Some(row) = interrupted(trip.effort, bite).map(|row| &trip.effort[row]) {
                add(row.break_distance_m, row.break_side, 1, 0.0);
            }
        }
    }
    Sides { warm, cold, ratio: rate_ratio(warm, cold, settings.level) }
}
