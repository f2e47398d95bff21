//! How warm was the water at any time and depth of a trip?
//!
//! Profiles are few, and between them the thermocline rises and falls and the boat crosses fronts. Three things are known all the
//! time: the surface, by the hull sensor; the shape of the column, by the profiles around; and the water at the probe, wherever
//! it hangs. In coordinates of isotherms the column keeps its shape:
//!
//! ```text
//!            before        now         after
//!  surface  ─────────────────────────────────
//!             \            \               \       a share of the way from the surface's temperature to
//!  isotherm    \────────────\───────────────\      the deep's lies at one depth before and at another after;
//!               \      probe ●               \     the probe says how far off that is now
//!  deep     ─────────────────────────────────
//! ```

use crate::interpolate::{PROFILE_SPEAKS_FOR_S, isotherm_depth_m, temp_at};
use crate::stats::median;
use crate::{Profile, Sample};

/// Thresholds of the interpolation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldSettings {
    /// Time over which readings are averaged, s. Default 60: the swell is gone, and no thermocline moves far.
    pub mean_s: f64,
    /// Standard deviation of the displacement of isotherms from where profiles have them, m.
    ///
    /// Default 1: the rise and fall of a summer thermocline between two casts (common practice, no source).
    pub displacement_m: f64,
    /// Time over which a displacement is forgotten (to 1/e), s. Default 3600: long internal waves take hours, short ones tens of
    /// minutes (common practice, no source).
    pub forgets_s: f64,
    /// Difference between surface and deep water below which the column has no shape, °C. Default 1, as for a thermocline.
    pub least_range_c: f64,
    /// Slope below which a temperature does not tell a depth, °C/m. Default 0.15: a tenth of a degree is then less than a
    /// metre.
    pub least_slope_c_per_m: f64,
    /// Standard error of a mean of any thermometer, and of the shape, °C. Default 0.15: unlike sensors, patches of the surface
    /// (common practice, no source).
    pub reading_se_c: f64,
    /// Standard error of a depth of the probe, m. Default 0.2.
    pub depth_se_m: f64,
}

impl Default for FieldSettings {
    fn default() -> Self {
        Self {
            mean_s: 60.0,
            displacement_m: 1.0,
            forgets_s: 3600.0,
            least_range_c: 1.0,
            least_slope_c_per_m: 0.15,
            reading_se_c: 0.15,
            depth_se_m: 0.2,
        }
    }
}

/// A profile that begins deeper than this does not show the surface, m.
const TOP_M: f64 = 2.0;
/// Share of the way from deep to surface that a profile may leave below its lower end and yet be whole.
const WHOLE: f64 = 0.15;
/// A probe that keeps its depth by this much hangs still, m.
const STILL_M: f64 = 1.0;

/// A temperature of the field.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldTemp {
    /// Temperature, °C.
    pub temp_c: f64,
    /// Standard error, °C.
    pub se_c: f64,
}

/// The water column along a trip.
#[derive(Clone, Debug)]
pub struct Field<'a> {
    settings: FieldSettings,
    /// Profiles that give the column its shape, in order of time, with the surface temperature then.
    profiles: Vec<(&'a Profile, f64)>,
    /// Means of the surface: time, temperature.
    surface: Vec<(f64, f64)>,
    /// Temperature at the lower end of the deepest profile, °C.
    deep_c: f64,
    /// How far isotherms were from where profiles have them, in order of time.
    displacements: Vec<Displacement>,
}

/// How much deeper isotherms are than profiles have them.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Displacement {
    time_s: f64,
    down_m: f64,
    variance_m2: f64,
}

/// Profiles around a time: the one before, the one after, and how near it is to the latter (0 to 1).
type Around<'p> = (&'p (&'p Profile, f64), &'p (&'p Profile, f64), f64);

impl<'a> Field<'a> {
    /// The field of profiles in order of time, readings of the probe (in order of time, casts with them) and of the surface (time
    /// in s and temperature in °C, in order of time; may be empty). All on one clock.
    pub fn new(
        profiles: &'a [Profile],
        probe: &[Sample],
        surface: &[(f64, f64)],
        settings: &FieldSettings,
    ) -> Self {
        let surface = surface
            .chunk_by(|a, b| (a.0 / settings.mean_s).floor() == (b.0 / settings.mean_s).floor())
            .map(|minute| (mean(minute.iter().map(|r| r.0)), mean(minute.iter().map(|r| r.1))))
            .collect();
        let deepest =
            profiles.iter().filter_map(|p| p.bins.last()).fold(None, |deepest: Option<&crate::Bin>, bin| {
                if deepest.is_some_and(|deepest| deepest.depth_m >= bin.depth_m) {
                    deepest
                } else {
                    Some(bin)
                }
            });
        let mut field = Self {
            settings: *settings,
            profiles: Vec::new(),
            surface,
            deep_c: deepest.map_or(f64::NAN, |bin| bin.temp_c),
            displacements: Vec::new(),
        };
        let with_surface = field.with_surface(profiles);
        let (whole, short): (Vec<_>, Vec<_>) = with_surface.iter().partition(|own| field.is_whole(own));
        field.profiles = if whole.is_empty() { with_surface.clone() } else { whole };
        let mut observed: Vec<Displacement> = probe
            .chunk_by(|a, b| (a.time_s / settings.mean_s).floor() == (b.time_s / settings.mean_s).floor())
            .filter_map(|minute| field.of_minute(minute))
            .collect();
        if field.profiles.len() < with_surface.len() {
            observed.extend(short.iter().filter_map(|(profile, _)| field.of_short_profile(profile)));
            observed.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        }
        field.displacements = field.smoothed(&observed);
        field
    }

    /// The surface at each profile, in the hull sensor's temperature. A cast that takes minutes may cross a front, so its own upper
    /// end says what surface it had; by how much the two thermometers differ is the median over the casts.
    fn with_surface(&self, profiles: &'a [Profile]) -> Vec<(&'a Profile, f64)> {
        let top_c = |p: &Profile| p.bins.first().filter(|bin| bin.depth_m <= TOP_M).map(|bin| bin.temp_c);
        let differences_c: Vec<f64> =
            profiles.iter().filter_map(|p| Some(self.surface_c(p.time_s)? - top_c(p)?)).collect();
        let differs_c = if differences_c.is_empty() { 0.0 } else { median(&differences_c) };
        let surface_c = |p: &Profile| {
            let own = top_c(p).map(|top_c| top_c + differs_c);
            own.or_else(|| self.surface_c(p.time_s)).or(Some(p.bins.first()?.temp_c))
        };
        profiles.iter().filter_map(|p| Some((p, surface_c(p)?))).collect()
    }

    /// Temperature at a time (s) and depth (m). `None` where no profile within 90 minutes ([`PROFILE_SPEAKS_FOR_S`]) sampled that depth.
    ///
    /// # Method
    /// The temperature is a share of the way from the deep water's to the surface's. The depth of that share is linear in time between the
    /// profile before and the profile after, and moved by the displacement that the probe's readings show (an
    /// Ornstein–Uhlenbeck process, smoothed by R. E. Kalman's filter and the backward pass of H. E. Rauch, F. Tung & C. T. Striebel, AIAA
    /// Journal 3 (1965) 1445–1450; from memory). The surface is the hull sensor's. The standard error is that of the readings and of the displacement times the slope
    /// of the temperature with depth.
    pub fn temp_at(&self, time_s: f64, depth_m: f64) -> Option<FieldTemp> {
        let around = self.around(time_s, |(p, _)| temp_at(p, depth_m).is_some())?;
        let displacement = self.displacement(time_s);
        let value = |depth_m: f64| self.undisturbed(around, time_s, depth_m);
        let (temp_c, centre_m) = match value(depth_m - displacement.down_m) {
            Some(temp_c) => (temp_c, depth_m - displacement.down_m),
            None => (value(depth_m)?, depth_m),
        };
        let (above, below) = (value(centre_m - 0.5), value(centre_m + 0.5));
        let slope = match (above, below) {
            (Some(above), Some(below)) => below - above,
            (Some(above), None) => 2.0 * (temp_c - above),
            (None, Some(below)) => 2.0 * (below - temp_c),
            (None, None) => 0.0,
        };
        let variance_m2 = displacement.variance_m2 + self.settings.depth_se_m.powi(2);
        let se_c = (self.settings.reading_se_c.powi(2) + slope * slope * variance_m2).sqrt();
        Some(FieldTemp { temp_c, se_c })
    }

    /// Temperature where isotherms lie as profiles have them.
    fn undisturbed(&self, (before, after, part): Around, time_s: f64, depth_m: f64) -> Option<f64> {
        let (from_c, to_c) = (temp_at(before.0, depth_m)?, temp_at(after.0, depth_m)?);
        let surface_was_c = before.1 + part * (after.1 - before.1);
        let surface_c = self.surface_c(time_s).unwrap_or(surface_was_c);
        let has_shape = |surface_c: f64| (surface_c - self.deep_c).abs() >= self.settings.least_range_c;
        if !has_shape(before.1) || !has_shape(after.1) {
            // mixed: the column is as warm as its surface
            return Some(from_c + part * (to_c - from_c) + surface_c - surface_was_c);
        }
        let share = |temp_c: f64, surface_c: f64| (temp_c - self.deep_c) / (surface_c - self.deep_c);
        let (mut low, mut high) = (share(from_c, before.1), share(to_c, after.1));
        let linear = low + part * (high - low);
        let is_deeper = |share: f64| Some(self.depth_of(before, after, part, share)? > depth_m);
        // the share lies between the two profiles' own; where one of them does not have it, it is linear
        for _ in 0..24 {
            let middle = 0.5 * (low + high);
            let Some(deeper) = is_deeper(middle) else {
                (low, high) = (linear, linear);
                break;
            };
            // the greater share lies higher up
            if deeper == (low < high) {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(self.deep_c + 0.5 * (low + high) * (surface_c - self.deep_c))
    }

    /// Depth of a share of the way from deep to surface, m.
    fn depth_of(
        &self,
        before: &(&Profile, f64),
        after: &(&Profile, f64),
        part: f64,
        share: f64,
    ) -> Option<f64> {
        let of = |(profile, surface_c): &(&Profile, f64)| {
            isotherm_depth_m(profile, self.deep_c + share * (surface_c - self.deep_c))
        };
        let (from_m, to_m) = (of(before)?, of(after)?);
        Some(from_m + part * (to_m - from_m))
    }

    /// The profiles around a time that are good for something.
    fn around(&self, time_s: f64, is_good: impl Fn(&(&Profile, f64)) -> bool) -> Option<Around<'_>> {
        let speaks = |(p, _): &&(&Profile, f64)| (p.time_s - time_s).abs() <= PROFILE_SPEAKS_FOR_S;
        let after = self.profiles.partition_point(|(p, _)| p.time_s <= time_s);
        let earlier = self.profiles[..after].iter().rev().take_while(speaks).find(|own| is_good(own));
        let later = self.profiles[after..].iter().take_while(speaks).find(|own| is_good(own));
        match (earlier, later) {
            (Some(before), Some(after)) => {
                let (from_s, to_s) = (before.0.time_s, after.0.time_s);
                Some((before, after, (time_s - from_s) / (to_s - from_s)))
            }
            (one, other) => one.or(other).map(|only| (only, only, 0.0)),
        }
    }

    /// The surface at a time, between minutes that were measured.
    fn surface_c(&self, time_s: f64) -> Option<f64> {
        /// A surface further away in time is another one: a trolling boat goes 300 m in it, s.
        const NEAR_S: f64 = 300.0;
        let after = self.surface.partition_point(|r| r.0 <= time_s);
        let near = |row: usize| self.surface.get(row).filter(|r| (r.0 - time_s).abs() <= NEAR_S);
        match (after.checked_sub(1).and_then(near), near(after)) {
            (Some(&(t0, temp0)), Some(&(t1, temp1))) => {
                Some(temp0 + (temp1 - temp0) * (time_s - t0) / (t1 - t0))
            }
            (one, other) => one.or(other).map(|r| r.1),
        }
    }

    /// Whether a profile goes through the whole of the column's change. One that ends within it says where isotherms are, and not
    /// what lies below.
    fn is_whole(&self, (profile, surface_c): &(&Profile, f64)) -> bool {
        let left_c = profile.bins.last().map_or(f64::INFINITY, |bin| bin.temp_c - self.deep_c);
        let whole_c = surface_c - self.deep_c;
        whole_c.abs() < self.settings.least_range_c || left_c / whole_c <= WHOLE
    }

    /// Displacement that a minute of the probe shows where it hangs still. On its way up or down it lags, and it is what
    /// profiles are made of.
    fn of_minute(&self, minute: &[Sample]) -> Option<Displacement> {
        let depth_m = mean(minute.iter().map(|s| s.depth_m));
        let moves_m = minute.iter().map(|s| (s.depth_m - depth_m).abs()).fold(0.0, f64::max);
        let (time_s, temp_c) = (mean(minute.iter().map(|s| s.time_s)), mean(minute.iter().map(|s| s.temp_c)));
        (moves_m <= STILL_M).then(|| self.of_reading(time_s, depth_m, temp_c)).flatten()
    }

    /// Displacement that a profile shows which is not whole itself.
    fn of_short_profile(&self, profile: &Profile) -> Option<Displacement> {
        let bins =
            profile.bins.iter().filter_map(|bin| self.of_reading(profile.time_s, bin.depth_m, bin.temp_c));
        let (mut weight, mut sum_m) = (0.0, 0.0);
        for bin in bins {
            weight += bin.variance_m2.recip();
            sum_m += bin.down_m / bin.variance_m2;
        }
        let down_m = (weight > 0.0).then(|| sum_m / weight)?;
        // bins of one cast share its errors
        Some(Displacement {
            time_s: profile.time_s,
            down_m,
            variance_m2: weight.recip() + self.settings.depth_se_m.powi(2),
        })
    }

    /// Displacement that one reading shows.
    fn of_reading(&self, time_s: f64, depth_m: f64, temp_c: f64) -> Option<Displacement> {
        let surface_c = self.surface_c(time_s).or_else(|| Some(self.around(time_s, |_| true)?.0.1))?;
        if (surface_c - self.deep_c).abs() < self.settings.least_range_c {
            return None;
        }
        let share = (temp_c - self.deep_c) / (surface_c - self.deep_c);
        let around = self.around(time_s, |own| self.depth_of(own, own, 0.0, share).is_some())?;
        let usual_m = self.depth_of(around.0, around.1, around.2, share)?;
        let value = |depth_m: f64| self.undisturbed(around, time_s, depth_m);
        let slope = (value(usual_m + 0.5)? - value(usual_m - 0.5)?).abs();
        (slope >= self.settings.least_slope_c_per_m).then(|| Displacement {
            time_s,
            down_m: depth_m - usual_m,
            variance_m2: (self.settings.reading_se_c / slope).powi(2) + self.settings.depth_se_m.powi(2),
        })
    }

    /// Filter forward, smoother backward, at the times of the observations.
    fn smoothed(&self, observed: &[Displacement]) -> Vec<Displacement> {
        let still = self.settings.displacement_m.powi(2);
        let kept = |from_s: f64, to_s: f64| (-(to_s - from_s).abs() / self.settings.forgets_s).exp();
        let mut forecasts = Vec::with_capacity(observed.len());
        let mut filtered: Vec<Displacement> = Vec::with_capacity(observed.len());
        for seen in observed {
            let (forecast_m, variance_m2) = filtered.last().map_or((0.0, still), |last| {
                let kept = kept(last.time_s, seen.time_s);
                (kept * last.down_m, kept * kept * last.variance_m2 + (1.0 - kept * kept) * still)
            });
            let gain = variance_m2 / (variance_m2 + seen.variance_m2);
            forecasts.push((forecast_m, variance_m2));
            filtered.push(Displacement {
                time_s: seen.time_s,
                down_m: forecast_m + gain * (seen.down_m - forecast_m),
                variance_m2: (1.0 - gain) * variance_m2,
            });
        }
        for row in (1..filtered.len()).rev() {
            let (next, (forecast_m, forecast_m2)) = (filtered[row], forecasts[row]);
            let here = &mut filtered[row - 1];
            let gain = kept(here.time_s, next.time_s) * here.variance_m2 / forecast_m2;
            here.down_m += gain * (next.down_m - forecast_m);
            here.variance_m2 += gain * gain * (next.variance_m2 - forecast_m2);
        }
        filtered
    }

    /// Displacement at a time: that of the nearest observation, as far as it is not forgotten.
    fn displacement(&self, time_s: f64) -> Displacement {
        let still = self.settings.displacement_m.powi(2);
        let after = self.displacements.partition_point(|d| d.time_s <= time_s);
        let near =
            after.checked_sub(1).into_iter().chain([after]).filter_map(|row| self.displacements.get(row));
        let nearest = near.min_by(|a, b| (a.time_s - time_s).abs().total_cmp(&(b.time_s - time_s).abs()));
        nearest.map_or(Displacement { time_s, down_m: 0.0, variance_m2: still }, |nearest| {
            let kept = (-(nearest.time_s - time_s).abs() / self.settings.forgets_s).exp();
            Displacement {
                time_s,
                down_m: kept * nearest.down_m,
                variance_m2: kept * kept * nearest.variance_m2 + (1.0 - kept * kept) * still,
            }
        })
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for value in values {
        sum += value;
        n += 1.0;
    }
    sum / n
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use waterseam_units::Flag;

    use super::*;
    use crate::Bin;

    const DEEP_C: f64 = 5.0;

    fn water_c(surface_c: f64, depth_m: f64, thermocline_m: f64) -> f64 {
        DEEP_C + (surface_c - DEEP_C) * 0.5 * (1.0 - ((depth_m - thermocline_m) / 2.0).tanh())
    }

    fn profile(time_s: f64, surface_c: f64, thermocline_m: f64, to_m: f64) -> Profile {
        let depths = (1..).map(|i| 0.5 * f64::from(i)).take_while(|&depth_m| depth_m <= to_m);
        let bin = |depth_m| Bin {
            depth_m,
            temp_c: water_c(surface_c, depth_m, thermocline_m),
            temp_qc: Flag::Pass,
            samples: 5,
        };
        Profile { time_s, bins: depths.map(bin).collect() }
    }

    fn surface(of: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        (0..3600).map(f64::from).map(|time_s| (time_s, of(time_s))).collect()
    }

    fn check(field: &Field, time_s: f64, depth_m: f64, want_c: f64, tolerance_c: f64) {
        let got = field.temp_at(time_s, depth_m).expect("someone measured");
        assert!((got.temp_c - want_c).abs() <= tolerance_c, "{time_s} s, {depth_m} m: {got:?}, not {want_c}");
        assert!(got.se_c > 0.0);
    }

    #[test]
    fn a_thermocline_on_its_way_from_one_depth_to_another_keeps_its_shape() {
        let profiles = [profile(0.0, 17.0, 10.0, 30.0), profile(3600.0, 17.0, 16.0, 30.0)];
        let field = Field::new(&profiles, &[], &surface(|_| 17.0), &FieldSettings::default());
        // halfway it is as sharp as at either end; a mean of temperatures would be a staircase
        for depth_m in [6.0, 10.0, 13.0, 16.0, 20.0] {
            check(&field, 1800.0, depth_m, water_c(17.0, depth_m, 13.0), 0.15);
        }
    }

    #[test]
    fn a_front_warms_the_upper_water_and_not_the_deep() {
        let profiles = [profile(0.0, 12.0, 12.0, 30.0)];
        let crossed = surface(|time_s| if time_s < 1000.0 { 12.0 } else { 16.0 });
        let field = Field::new(&profiles, &[], &crossed, &FieldSettings::default());
        check(&field, 500.0, 2.0, 12.0, 0.1);
        check(&field, 2000.0, 2.0, 16.0, 0.1);
        check(&field, 2000.0, 12.0, water_c(16.0, 12.0, 12.0), 0.1);
        check(&field, 2000.0, 28.0, DEEP_C, 0.1);
    }

    #[test]
    fn a_probe_that_hangs_in_the_thermocline_says_how_far_it_has_moved() {
        let profiles = [profile(0.0, 17.0, 12.0, 30.0)];
        let hangs: Vec<Sample> = (600..3600)
            .map(f64::from)
            .map(|time_s| Sample { time_s, depth_m: 12.0, temp_c: water_c(17.0, 12.0, 13.5) })
            .collect();
        let surface = surface(|_| 17.0);
        let field = Field::new(&profiles, &hangs, &surface, &FieldSettings::default());
        for depth_m in [9.0, 12.0, 14.0, 16.0] {
            check(&field, 2400.0, depth_m, water_c(17.0, depth_m, 13.5), 0.35);
        }
        let blind = Field::new(&profiles, &[], &surface, &FieldSettings::default());
        let (told, not_told) = (field.temp_at(2400.0, 13.0).unwrap(), blind.temp_at(2400.0, 13.0).unwrap());
        assert!(told.se_c < 0.5 * not_told.se_c, "{told:?} {not_told:?}");
    }

    #[test]
    fn a_short_cast_moves_what_lies_below_it() {
        let profiles = [profile(0.0, 17.0, 12.0, 30.0), profile(2000.0, 17.0, 10.0, 10.0)];
        let field = Field::new(&profiles, &[], &surface(|_| 17.0), &FieldSettings::default());
        check(&field, 2000.0, 13.0, water_c(17.0, 13.0, 10.0), 0.6);
    }

    #[test]
    fn thermometers_that_differ_change_nothing() {
        let profiles = [profile(0.0, 17.0, 12.0, 30.0), profile(3000.0, 17.0, 12.0, 30.0)];
        let field = Field::new(&profiles, &[], &surface(|_| 17.8), &FieldSettings::default());
        // below the surface it is the probe's that counts
        check(&field, 1500.0, 1.0, water_c(17.0, 1.0, 12.0), 0.1);
        check(&field, 1500.0, 20.0, water_c(17.0, 20.0, 12.0), 0.1);
    }

    #[test]
    fn mixed_water_is_as_warm_as_its_surface() {
        let profiles = [profile(0.0, 5.2, 12.0, 30.0)];
        let field = Field::new(&profiles, &[], &surface(|_| 5.2), &FieldSettings::default());
        check(&field, 1800.0, 20.0, 5.0, 0.3);
    }

    #[test]
    fn nothing_where_nobody_measured() {
        let profiles = [profile(0.0, 17.0, 12.0, 20.0)];
        let field = Field::new(&profiles, &[], &[], &FieldSettings::default());
        assert_eq!(field.temp_at(0.0, 25.0), None);
        assert_eq!(field.temp_at(PROFILE_SPEAKS_FOR_S + 1.0, 10.0), None);
        assert!(field.temp_at(0.0, 10.0).is_some(), "without a hull sensor the profile's own surface stands");
        assert_eq!(Field::new(&[], &[], &[], &FieldSettings::default()).temp_at(0.0, 5.0), None);
    }

    proptest! {
        #[test]
        fn any_readings_give_finite_temperatures_between_reason(
            temps in prop::collection::vec(-1f64..30.0, 1..40),
            probe in prop::collection::vec((0f64..4000.0, 0f64..40.0, -1f64..30.0), 0..60),
            hull in prop::collection::vec((0f64..4000.0, -1f64..30.0), 0..60),
            time_s in 0f64..4000.0, depth_m in 0f64..40.0,
        ) {
            let bins = temps.iter().enumerate().map(|(i, &temp_c)| Bin {
                depth_m: 1.0 + i as f64, temp_c, temp_qc: Flag::Pass, samples: 1,
            });
            let profiles = [Profile { time_s: 1000.0, bins: bins.collect() }];
            let mut probe: Vec<Sample> =
                probe.into_iter().map(|(time_s, depth_m, temp_c)| Sample { time_s, depth_m, temp_c }).collect();
            probe.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
            let mut hull = hull;
            hull.sort_by(|a, b| a.0.total_cmp(&b.0));
            let field = Field::new(&profiles, &probe, &hull, &FieldSettings::default());
            if let Some(got) = field.temp_at(time_s, depth_m) {
                prop_assert!(got.temp_c.is_finite() && got.se_c.is_finite() && got.se_c > 0.0, "{got:?}");
            }
        }
    }
}
