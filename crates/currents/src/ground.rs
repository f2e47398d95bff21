//! How does the boat move over ground: by the receiver's speed and course, or by its positions?

use crate::stats::median;
use crate::{Motion, Settings, Velocity};

/// Fewer positions give no slope.
const LEAST_POSITIONS: usize = 5;
/// Size of the table of values that occurred, and what spreads them over it: 2⁶⁴ by the golden ratio (Knuth, The Art of Computer
/// Programming, section 6.4; from memory).
const OCCURRED_BITS: u32 = 10;
const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
/// Speeds or courses closer together than this are one value (m/s, degrees).
const SAME: f64 = 1e-6;

/// Velocity over ground, row by row.
#[derive(Clone, Debug, Default)]
pub(crate) struct Ground {
    pub velocity: Vec<Option<Velocity>>,
    /// Where it comes from positions: ordinary standard error of one component, m/s.
    pub positions_se_mps: Option<f64>,
}

/// The receiver's speed and course; the slope of the positions where these are missing, and throughout where they are
/// too coarse or too noisy for a current.
pub(crate) fn ground(motion: &Motion, settings: &Settings) -> Ground {
    let reported: Vec<Option<Velocity>> = (0..motion.time_s.len())
        .map(|i| Some(Velocity::toward(value(motion.sog_mps, i)?, value(motion.cog_deg, i)?)))
        .collect();
    let slopes = slopes(motion, settings);
    let errors: Vec<f64> = slopes.iter().flatten().map(|slope| slope.1).collect();
    if errors.is_empty() {
        return Ground { velocity: reported, positions_se_mps: None };
    }
    let velocity = |slope: &Option<(Velocity, f64)>| slope.map(|(velocity, _)| velocity);
    let se_mps = median(&errors);
    if is_coarse(motion.sog_mps, settings.coarse_sog_mps)
        || is_coarse(motion.cog_deg, settings.coarse_cog_deg)
        || noise_mps(&reported, 2.0 * settings.slope_side_s) > settings.noisier_than_positions * se_mps
    {
        return Ground { velocity: slopes.iter().map(velocity).collect(), positions_se_mps: Some(se_mps) };
    }
    let velocity = reported.iter().zip(&slopes).map(|(reported, slope)| reported.or(velocity(slope)));
    Ground { velocity: velocity.collect(), positions_se_mps: None }
}

/// A value of a row; `None` where it is missing or no number.
pub(crate) fn value(column: &[Option<f64>], i: usize) -> Option<f64> {
    column.get(i).copied().flatten().filter(|v| v.is_finite())
}

/// Velocity by least squares of the positions about each row, with the standard error of one component, m/s.
fn slopes(motion: &Motion, settings: &Settings) -> Vec<Option<(Velocity, f64)>> {
    let fixes: Vec<(f64, Velocity)> = (0..motion.time_s.len())
        .filter_map(|i| {
            let at = Velocity { east_mps: value(motion.east_m, i)?, north_mps: value(motion.north_m, i)? };
            Some((motion.time_s[i], at))
        })
        .collect();
    let side_s = settings.slope_side_s;
    let (mut from, mut to) = (0, 0);
    let mut sums = Sums::default();
    let slope = |&time_s: &f64| {
        while let Some(fix) = fixes.get(from).filter(|(t, _)| *t < time_s - side_s) {
            if from < to {
                sums.add(*fix, -1.0);
            }
            from += 1;
        }
        to = to.max(from);
        while let Some(fix) = fixes.get(to).filter(|(t, _)| *t <= time_s + side_s) {
            sums.add(*fix, 1.0);
            to += 1;
        }
        let about = &fixes[from..to];
        // all of them to one side: that is a velocity of another time
        let both = about.first()?.0 < time_s - 0.25 * side_s && about.last()?.0 > time_s + 0.25 * side_s;
        if about.len() < LEAST_POSITIONS || !both {
            return None;
        }
        if !sums.are_near(about[0]) {
            sums = Sums::about(about);
        }
        Some(sums.slope(about.len() as f64))
    };
    if fixes.is_empty() { vec![None; motion.time_s.len()] } else { motion.time_s.iter().map(slope).collect() }
}

/// Running sums over fixes, seconds and metres away from one in their midst: they lose no digits that count as long as that is
/// near.
#[derive(Default)]
struct Sums {
    origin: (f64, Velocity),
    s: f64,
    s2: f64,
    m: Velocity,
    sm: Velocity,
    m2: f64,
}

/// Sums about an origin this far are made anew: s, m.
const NEAR_S: f64 = 60.0;
const NEAR_M: f64 = 300.0;

impl Sums {
    fn about(fixes: &[(f64, Velocity)]) -> Self {
        let mut sums = Self { origin: fixes[fixes.len() / 2], ..Self::default() };
        for fix in fixes {
            sums.add(*fix, 1.0);
        }
        sums
    }

    fn are_near(&self, (time_s, at): (f64, Velocity)) -> bool {
        let off = at - self.origin.1;
        (time_s - self.origin.0).abs() < NEAR_S && off.dot(off) < NEAR_M * NEAR_M
    }

    fn add(&mut self, (time_s, at): (f64, Velocity), sign: f64) {
        let (t, at) = (time_s - self.origin.0, at - self.origin.1);
        let (signed_t, signed) = (sign * t, at * sign);
        self.s += signed_t;
        self.s2 += signed_t * t;
        self.m = self.m + signed;
        self.sm = self.sm + signed * t;
        self.m2 += signed.dot(at);
    }

    /// Velocity of `n` fixes, with the standard error of one component.
    fn slope(&self, n: f64) -> (Velocity, f64) {
        let Self { s, s2, m, sm, m2, .. } = *self;
        let (spread_s2, product) = (s2 - s * s / n, sm - m * (s / n));
        let velocity = product * spread_s2.recip();
        let off_m2 = (m2 - m.dot(m) / n - product.dot(velocity)).max(0.0) / (2.0 * (n - 2.0));
        (velocity, (off_m2 / spread_s2).sqrt())
    }
}

/// Whether the values that occur lie further apart than this, in the middle.
fn is_coarse(column: &[Option<f64>], limit: f64) -> bool {
    // most values occur again soon; a table of those that occurred keeps nearly all of them from being sorted
    let mut occurred = [f64::NAN.to_bits(); 1 << OCCURRED_BITS];
    let is_new = |value: &f64| {
        let bits = value.to_bits();
        let slot = bits.wrapping_mul(GOLDEN) >> (u64::BITS - OCCURRED_BITS);
        std::mem::replace(&mut occurred[slot as usize], bits) != bits
    };
    let mut values: Vec<f64> =
        column.iter().flatten().copied().filter(|v| v.is_finite()).filter(is_new).collect();
    values.sort_unstable_by(f64::total_cmp);
    values.dedup_by(|a, b| (*a - *b).abs() < SAME);
    let apart: Vec<f64> = values.windows(2).map(|pair| pair[1] - pair[0]).collect();
    apart.is_empty() || median(&apart) > limit
}

/// Standard error of one component of a mean over so many rows, by the changes from row to row.
fn noise_mps(velocity: &[Option<Velocity>], rows: f64) -> f64 {
    let squares: Vec<f64> = velocity
        .windows(2)
        .filter_map(|pair| Some(pair[1]? - pair[0]?))
        .map(|change| change.dot(change))
        .collect();
    // two components, twice the variance of a row; the median of their sum is that of a chi square
    (median(&squares) / (2.0 * 2.0 * std::f64::consts::LN_2) / rows).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twenty minutes at 1.3 m/s toward 70°, with positions to the metre and a speed as the receiver shows it.
    fn velocity(sog_mps: &dyn Fn(f64) -> f64) -> Ground {
        let time_s: Vec<f64> = (0..1200).map(f64::from).collect();
        let column = |f: &dyn Fn(f64) -> f64| time_s.iter().map(|&t| Some(f(t))).collect::<Vec<_>>();
        let way = Velocity::toward(1.3, 70.0);
        let motion = Motion {
            time_s: &time_s,
            distance_m: &time_s,
            east_m: &column(&|t| (way.east_mps * t).round()),
            north_m: &column(&|t| (way.north_mps * t).round()),
            sog_mps: &column(sog_mps),
            cog_deg: &column(&|t| 70.0 + (t * 0.7).sin()),
            ..Motion::default()
        };
        ground(&motion, &Settings::default())
    }

    #[test]
    fn positions_stand_in_for_speeds_in_whole_knots() {
        let got = velocity(&|t| if (t * 0.9).sin() > 0.0 { 1.03 } else { 1.54 });
        let se_mps = got.positions_se_mps.unwrap();
        let of_middle = &got.velocity[20..1180];
        let off = |v: &Option<Velocity>| (v.unwrap() - Velocity::toward(1.3, 70.0)).speed_mps();
        let rms = (of_middle.iter().map(|v| off(v).powi(2)).sum::<f64>() / of_middle.len() as f64).sqrt();
        assert!((0.3 * se_mps..3.0 * se_mps).contains(&rms), "{rms} m/s, stated {se_mps} m/s");
    }

    /// Running sums against those of each window, on a way with gaps, jumps and two fixes of one time.
    #[test]
    fn running_sums_lose_no_digits_that_count() {
        let mut dice = 7_u64;
        let mut noise = move || {
            dice = dice * 48_271 % 2_147_483_647;
            dice as f64 / 2_147_483_647.0 - 0.5
        };
        let time_s: Vec<f64> = (0..4000_i32).map(|i| f64::from(i + (i / 700) * 40 - i / 13)).collect();
        let at = |t: f64| (4.0 * t + 300.0 * (t / 90.0).sin() + (t / 1000.0).floor() * 20_000.0, 9.0 * t);
        let east: Vec<_> = time_s.iter().map(|&t| (noise() < 0.45).then(|| at(t).0 + noise())).collect();
        let north: Vec<_> = time_s.iter().map(|&t| Some(at(t).1 + noise())).collect();
        let motion = Motion {
            time_s: &time_s,
            distance_m: &time_s,
            east_m: &east,
            north_m: &north,
            ..Motion::default()
        };
        let settings = Settings::default();
        let got = slopes(&motion, &settings);
        assert!(got.iter().flatten().count() > 3000);
        for (i, got) in got.iter().enumerate() {
            let near = |j: &usize| (time_s[*j] - time_s[i]).abs() <= settings.slope_side_s;
            let fix = |j: usize| Some((time_s[j], Velocity { east_mps: east[j]?, north_mps: north[j]? }));
            let about: Vec<_> = (0..time_s.len()).filter(near).filter_map(fix).collect();
            let Some((velocity, se)) = got else { continue };
            let want = Sums::about(&about).slope(about.len() as f64);
            assert!((*velocity - want.0).speed_mps() < 1e-9, "row {i}: {velocity:?} {want:?}");
            assert!((se - want.1).abs() < 1e-6 * want.1.max(0.01), "row {i}: {se} {want:?}");
        }
    }

    #[test]
    fn a_good_receiver_is_believed() {
        let got = velocity(&|t| 1.3 + 0.03 * (t * 0.9).sin());
        assert_eq!(got.positions_se_mps, None);
        assert!((got.velocity[0].unwrap().speed_mps() - 1.3).abs() < 1e-9, "the first row has no slope");
    }
}
