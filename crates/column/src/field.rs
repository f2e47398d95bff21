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

use std::cell::Cell;

use crate::displacement::{Displacement, Displacements, LeftOut, Strays, variance_m2};
use crate::interpolate::{BIN_GAP_M, PROFILE_SPEAKS_FOR_S, first_reach_m, isotherm_depth_m, temp_at};
use crate::stats::median;
use crate::{Bin, Profile, Sample, Settings, profiles};

/// Thresholds of the interpolation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldSettings {
    /// Time over which readings are averaged, s. Default 60: the swell is gone, and no thermocline moves far.
    pub mean_s: f64,
    /// Usual standard deviation of the displacement of isotherms from where profiles have them, once all is forgotten, m.
    ///
    /// Default 0.5: half the rise and fall of a quiet summer thermocline (common practice, no source). The profiles of the trip say
    /// how far theirs stray: each that lies between two others is compared with what those have there.
    pub displacement_m: f64,
    /// By what factor it may well be more or less, before the profiles have spoken. Default 2.5.
    pub displacement_factor: f64,
    /// Time over which a displacement is forgotten (to 1/e), s. Default 3600: long internal waves take hours, short ones tens of
    /// minutes (common practice, no source).
    pub forgets_s: f64,
    /// Difference between surface and deep water below which the column has no shape, °C. Default 1, as for a thermocline.
    pub least_range_c: f64,
    /// Slope below which a temperature does not tell a depth, °C/m. Default 0.3: the readings' error is then half a metre.
    pub least_slope_c_per_m: f64,
    /// Standard error of a mean of any thermometer, and of the shape, °C. Default 0.15: unlike sensors, patches of the surface
    /// (common practice, no source).
    pub reading_se_c: f64,
    /// Standard error of a depth of the probe, m. Default 0.15: half a foot, as for isotherms (common practice, no source).
    pub depth_se_m: f64,
}

impl Default for FieldSettings {
    fn default() -> Self {
        Self {
            mean_s: 60.0,
            displacement_m: 0.5,
            displacement_factor: 2.5,
            forgets_s: 3600.0,
            least_range_c: 1.0,
            least_slope_c_per_m: 0.3,
            reading_se_c: 0.15,
            depth_se_m: 0.15,
        }
    }
}

/// A profile that begins deeper than this does not show the surface, m.
const TOP_M: f64 = 2.0;
/// Share of the way from deep to surface that a profile may leave below its lower end and yet be whole.
const WHOLE: f64 = 0.15;
/// Water is even below this part of the slope that tells a depth: an error of the depth is then no more than a few hundredths of a degree.
const EVEN_PART: f64 = 0.3;
/// What is thought of the error of readings beforehand counts as much as so many profiles.
const READING_WORTH: f64 = 0.5;
/// A probe that keeps its depth by this much hangs still, m.
const STILL_M: f64 = 1.0;

/// A temperature of the field.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldTemp {
    /// Temperature, °C.
    pub temp_c: f64,
    /// Standard error, °C.
    pub se_c: f64,
    /// Standard error of the depth of the isotherm that lies there, m; `None` in water that is not layered.
    pub isotherm_se_m: Option<f64>,
}

/// The water column along a trip.
#[derive(Clone, Debug)]
pub struct Field {
    settings: FieldSettings,
    /// Means of the surface in the probe's temperature: time, temperature.
    surface: Vec<(f64, f64)>,
    /// Temperature at the lower end of the deepest profile, °C.
    deep_c: f64,
    /// The surface that `under_one` is made for, °C.
    one_surface_c: f64,
    /// Profiles as they were read, for water without a shape.
    read: Vec<Profile>,
    /// Profiles as they would be under one and the same surface, in order of time: those that give the column its shape.
    under_one: Vec<Profile>,
    /// How far isotherms were from where profiles have them, in order of time.
    displacements: Displacements,
    /// Standard error of a temperature where it hardly changes with depth, °C.
    even_se_c: f64,
}

/// Profiles around a time: the one before, the one after, and how near it is to the latter (0 to 1).
type Around<'p> = (&'p Profile, &'p Profile, f64);

impl Field {
    /// The field of readings of the probe (in order of time, casts with them) and of the surface (time in s and temperature in
    /// °C, in order of time; may be empty), on one clock. `columns` says what a cast is.
    pub fn new(
        probe: &[Sample],
        surface: &[(f64, f64)],
        columns: &Settings,
        settings: &FieldSettings,
    ) -> Self {
        Self::of_profiles(probe, profiles(probe, columns), surface, columns, settings)
    }

    /// The same, where the [`profiles`] of the probe are known.
    pub fn of_profiles(
        probe: &[Sample],
        read: Vec<Profile>,
        surface: &[(f64, f64)],
        columns: &Settings,
        settings: &FieldSettings,
    ) -> Self {
        let surface = surface
            .chunk_by(|a, b| (a.0 / settings.mean_s).floor() == (b.0 / settings.mean_s).floor())
            .map(|minute| (mean(minute.iter().map(|r| r.0)), mean(minute.iter().map(|r| r.1))))
            .collect();
        let mut field = Self {
            settings: *settings,
            surface,
            deep_c: deepest_c(&read),
            one_surface_c: f64::NAN,
            read,
            under_one: Vec::new(),
            even_se_c: settings.reading_se_c,
            displacements: Displacements::new(
                Strays { variance_m2: 0.0, forgets_s: settings.forgets_s },
                &[],
            ),
        };
        field.take_the_probes_surface();
        let probe: Vec<Sample> = probe.iter().filter_map(|sample| field.as_under_one(sample)).collect();
        let (whole, short): (Vec<Profile>, Vec<Profile>) =
            profiles(&probe, columns).into_iter().partition(|profile| field.is_whole(profile));
        let (shape, moved) = if whole.is_empty() { (short, whole) } else { (whole, short) };
        field.under_one = shape;
        let mut observed: Vec<Displacement> = probe
            .chunk_by(|a, b| (a.time_s / settings.mean_s).floor() == (b.time_s / settings.mean_s).floor())
            .filter_map(|minute| field.of_minute(minute))
            .chain(moved.iter().filter_map(|profile| field.of_short_profile(profile)))
            .chain(field.under_one.iter().map(|profile| field.of_whole_profile(profile)))
            .collect();
        observed.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        let strays = Strays { variance_m2: field.strays_m2(), forgets_s: settings.forgets_s };
        field.displacements = Displacements::new(strays, &observed);
        field.even_se_c = field.even_water_se_c();
        field
    }

    /// Temperature at a time (s) and depth (m). `None` where no profile within 90 minutes ([`PROFILE_SPEAKS_FOR_S`]) sampled that depth.
    ///
    /// # Method
    /// The temperature is a share of the way from the deep water's to the surface's; every reading is brought under one surface by its own
    /// moment's, because a cast takes minutes and may cross a front. The depth of a share is linear in time between the
    /// profile before and the profile after, and moved by the displacement that short casts and the probe where it hangs show (an
    /// Ornstein–Uhlenbeck process that is zero at the profiles, and as wide as they themselves show). The surface is the hull sensor's, in the probe's temperature. The standard error is that of the
    /// readings and of the displacement times the slope of the temperature with depth.
    pub fn temp_at(&self, time_s: f64, depth_m: f64) -> Option<FieldTemp> {
        self.at(time_s).temp(depth_m)
    }

    /// What the field knows of a time, for many depths.
    pub(crate) fn at(&self, time_s: f64) -> Column<'_> {
        let displacement = self.displacements.at(time_s);
        Column { field: self, time_s, scale: self.scale(time_s), displacement, last: Cell::default() }
    }

    /// The profiles as they were read, in order of time.
    pub(crate) fn profiles(&self) -> &[Profile] {
        &self.read
    }

    /// The same in water whose surface is as cold as its deep: as the profiles around read it.
    fn without_shape(&self, time_s: f64, depth_m: f64) -> Option<FieldTemp> {
        let (before, after, part) = around(&self.read, time_s, |p| temp_at(p, depth_m).is_some())?;
        let (from_c, to_c) = (temp_at(before, depth_m)?, temp_at(after, depth_m)?);
        let se_c = self.settings.reading_se_c.hypot(self.settings.least_range_c);
        Some(FieldTemp { temp_c: from_c + part * (to_c - from_c), se_c, isotherm_se_m: None })
    }

    /// Takes the difference of the two thermometers, its median over the casts, off the surface, and sets the one surface.
    fn take_the_probes_surface(&mut self) {
        let top_c = |p: &Profile| p.bins.first().filter(|bin| bin.depth_m <= TOP_M).map(|bin| bin.temp_c);
        let differences_c: Vec<f64> =
            self.read.iter().filter_map(|p| Some(self.surface_c(p.time_s)? - top_c(p)?)).collect();
        if !differences_c.is_empty() {
            let differs_c = median(&differences_c);
            self.surface.iter_mut().for_each(|(_, temp_c)| *temp_c -= differs_c);
        }
        let tops_c: Vec<f64> = if self.surface.is_empty() {
            self.read.iter().filter_map(|p| Some(p.bins.first()?.temp_c)).collect()
        } else {
            self.surface.iter().map(|(_, temp_c)| *temp_c).collect()
        };
        if !tops_c.is_empty() {
            self.one_surface_c = median(&tops_c);
        }
    }

    /// The way from deep to surface at a time, as a part of that under the one surface; `None` where there is none.
    fn scale(&self, time_s: f64) -> Option<f64> {
        let whole_c = self.one_surface_c - self.deep_c;
        let now_c = self.surface_c(time_s).unwrap_or(self.one_surface_c) - self.deep_c;
        let has_shape = |range_c: f64| range_c.abs() >= self.settings.least_range_c;
        (has_shape(whole_c) && has_shape(now_c) && (whole_c > 0.0) == (now_c > 0.0))
            .then_some(now_c / whole_c)
    }

    /// A reading as it would be under the one surface.
    fn as_under_one(&self, sample: &Sample) -> Option<Sample> {
        let temp_c = self.deep_c + (sample.temp_c - self.deep_c) / self.scale(sample.time_s)?;
        Some(Sample { temp_c, ..*sample })
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
    fn is_whole(&self, profile: &Profile) -> bool {
        let left_c = profile.bins.last().map_or(f64::INFINITY, |bin| bin.temp_c - self.deep_c);
        left_c / (self.one_surface_c - self.deep_c) <= WHOLE
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

    /// Isotherms are where a profile has them that goes through all of them.
    fn of_whole_profile(&self, profile: &Profile) -> Displacement {
        Displacement { time_s: profile.time_s, down_m: 0.0, variance_m2: self.settings.depth_se_m.powi(2) }
    }

    /// Each profile that lies between two others, as those have it: the three, and how near it is to the latter (0 to 1).
    fn left_out(&self) -> impl Iterator<Item = (&Profile, Around<'_>)> {
        self.under_one.windows(3).filter_map(|three| {
            let [before, profile, after] = three else { return None };
            let (since_s, until_s) = (profile.time_s - before.time_s, after.time_s - profile.time_s);
            let is_near = since_s.max(until_s) <= PROFILE_SPEAKS_FOR_S && since_s > 0.0 && until_s > 0.0;
            is_near.then(|| (profile, (before, after, since_s / (since_s + until_s))))
        })
    }

    /// Variance of the displacement once all is forgotten, m², from each profile between two others.
    fn strays_m2(&self) -> f64 {
        let unit = Strays { variance_m2: 1.0, forgets_s: self.settings.forgets_s };
        let seen = |(profile, around): (&Profile, Around)| {
            let off = |bin: &Bin| Some(self.off(around, bin.depth_m, bin.temp_c)?.0);
            let downs_m: Vec<f64> = profile.bins.iter().filter_map(off).collect();
            let (since_s, until_s) = (profile.time_s - around.0.time_s, around.1.time_s - profile.time_s);
            (!downs_m.is_empty()).then(|| LeftOut {
                down_m: median(&downs_m),
                part: unit.between(since_s, Some(until_s)),
                readings_m2: (1.0 + of_ends(around)) * self.settings.depth_se_m.powi(2),
            })
        };
        let left_out: Vec<LeftOut> = self.left_out().filter_map(seen).collect();
        variance_m2(&left_out, self.settings.displacement_m, self.settings.displacement_factor)
    }

    /// Standard error of a temperature where it hardly changes with depth, °C: by how far profiles lie off the two around them there.
    /// What was thought beforehand counts as much as [`READING_WORTH`] profiles.
    fn even_water_se_c(&self) -> f64 {
        let is_even = |around: Around, bin: &Bin| {
            let slope = slope_at(|depth_m| between(around, depth_m), bin.depth_m, bin.temp_c);
            slope.abs() < EVEN_PART * self.settings.least_slope_c_per_m
        };
        let square_c2 = |(profile, around): (&Profile, Around)| {
            let even = profile.bins.iter().filter(|bin| is_even(around, bin));
            let squares: Vec<f64> =
                even.filter_map(|bin| Some((bin.temp_c - between(around, bin.depth_m)?).powi(2))).collect();
            let mean_c2 = squares.iter().sum::<f64>() / squares.len() as f64;
            (!squares.is_empty()).then(|| mean_c2 / (1.0 + of_ends(around)))
        };
        let squares_c2: Vec<f64> = self.left_out().filter_map(square_c2).collect();
        let sum_c2 = READING_WORTH * self.settings.reading_se_c.powi(2) + squares_c2.iter().sum::<f64>();
        (sum_c2 / (READING_WORTH + squares_c2.len() as f64)).sqrt()
    }

    /// Displacement that one reading under the one surface shows.
    fn of_reading(&self, time_s: f64, depth_m: f64, temp_c: f64) -> Option<Displacement> {
        let around = around(&self.under_one, time_s, |p| isotherm_depth_m(p, temp_c).is_some())?;
        let (down_m, slope) = self.off(around, depth_m, temp_c)?;
        Some(Displacement {
            time_s,
            down_m,
            variance_m2: (self.settings.reading_se_c / slope).powi(2) + self.settings.depth_se_m.powi(2),
        })
    }

    /// How much deeper a temperature lies than between two profiles, m, and the slope there, °C/m; `None` where it does not tell a depth.
    fn off(&self, around: Around, depth_m: f64, temp_c: f64) -> Option<(f64, f64)> {
        let usual_m = depth_of(around, temp_c)?;
        let slope = slope_at(|depth_m| between(around, depth_m), usual_m, temp_c).abs();
        (slope >= self.settings.least_slope_c_per_m).then_some((depth_m - usual_m, slope))
    }
}

/// The water column at a time.
pub(crate) struct Column<'f> {
    field: &'f Field,
    time_s: f64,
    scale: Option<f64>,
    displacement: Displacement,
    /// What was last looked up below a level: where levels follow one another, that is above the next.
    last: Cell<Option<(Around<'f>, f64, Option<f64>)>>,
}

/// Depths closer than this are one, m: what differs is rounding.
const SAME_DEPTH_M: f64 = 1e-9;

impl<'f> Column<'f> {
    /// See [`Field::temp_at`].
    pub fn temp(&self, depth_m: f64) -> Option<FieldTemp> {
        let Self { field, time_s, displacement, .. } = self;
        let Some(scale) = self.scale else { return field.without_shape(*time_s, depth_m) };
        let Some(around) = around(&field.under_one, *time_s, |p| temp_at(p, depth_m).is_some()) else {
            return field.without_shape(*time_s, depth_m);
        };
        let value = |depth_m: f64| between(around, depth_m);
        let (temp_c, centre_m) = match value(depth_m - displacement.down_m) {
            Some(temp_c) => (temp_c, depth_m - displacement.down_m),
            None => (value(depth_m)?, depth_m),
        };
        let slope = scale * slope_at(|depth_m| self.beside_level(around, depth_m), centre_m, temp_c);
        let variance_m2 = displacement.variance_m2 + field.settings.depth_se_m.powi(2);
        let se_c = (field.even_se_c.powi(2) + slope * slope * variance_m2).sqrt();
        let temp_c = field.deep_c + scale * (temp_c - field.deep_c);
        Some(FieldTemp { temp_c, se_c, isotherm_se_m: Some(variance_m2.sqrt()) })
    }

    /// As [`between`], above or below a level.
    fn beside_level(&self, around: Around<'f>, depth_m: f64) -> Option<f64> {
        let same = |a: Around, b: Around| std::ptr::eq(a.0, b.0) && std::ptr::eq(a.1, b.1);
        if let Some((own, last_m, temp_c)) = self.last.get()
            && (last_m - depth_m).abs() < SAME_DEPTH_M
            && same(own, around)
        {
            return temp_c;
        }
        let temp_c = between(around, depth_m);
        self.last.set(Some((around, depth_m, temp_c)));
        temp_c
    }
}

/// Temperature between two profiles at a depth, where isotherms go from one depth to the other on a straight line.
fn between((before, after, part): Around, depth_m: f64) -> Option<f64> {
    let (mut low, mut high) = (temp_at(before, depth_m)?, temp_at(after, depth_m)?);
    let linear = low + part * (high - low);
    let (coldest_c, warmest_c) = (low.min(high), low.max(high));
    let (before, after) =
        (narrowed(&before.bins, coldest_c, warmest_c), narrowed(&after.bins, coldest_c, warmest_c));
    let is_deeper = |temp_c: f64| {
        let (from_m, to_m) = (first_reach_m(before, temp_c)?, first_reach_m(after, temp_c)?);
        Some(from_m + part * (to_m - from_m) > depth_m)
    };
    // it lies between the two; where one of the profiles does not have it, it is linear
    let Some(low_is_deeper) = is_deeper(low) else { return Some(linear) };
    while (high - low).abs() > 1e-4 {
        let middle = 0.5 * (low + high);
        let Some(middle_is_deeper) = is_deeper(middle) else { return Some(linear) };
        if middle_is_deeper == low_is_deeper {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// The bins among which every temperature of a range is first reached, as far as it is.
fn narrowed(bins: &[Bin], coldest_c: f64, warmest_c: f64) -> &[Bin] {
    let crosses_all = |pair: &[Bin]| {
        let (a, b) = (pair[0].temp_c, pair[1].temp_c);
        a.min(b) < coldest_c && a.max(b) > warmest_c && pair[1].depth_m - pair[0].depth_m <= BIN_GAP_M
    };
    // down to the last bin before the range they are all on one side of it
    let is_warmer = bins.first().is_some_and(|first| first.temp_c > warmest_c);
    let is_outside = |bin: &&Bin| if is_warmer { bin.temp_c > warmest_c } else { bin.temp_c < coldest_c };
    let from = bins.iter().take_while(is_outside).count().saturating_sub(1);
    let to = bins[from..].windows(2).position(crosses_all).map_or(bins.len(), |pair| from + pair + 2);
    &bins[from..to]
}

/// Variance of what lies between two profiles, as a part of that of one.
fn of_ends((_, _, part): Around) -> f64 {
    part * part + (1.0 - part) * (1.0 - part)
}

/// Depth of a temperature between two profiles, m.
fn depth_of((before, after, part): Around, temp_c: f64) -> Option<f64> {
    let (from_m, to_m) = (isotherm_depth_m(before, temp_c)?, isotherm_depth_m(after, temp_c)?);
    Some(from_m + part * (to_m - from_m))
}

/// The profiles around a time that are good for something, in order of time.
fn around(profiles: &[Profile], time_s: f64, is_good: impl Fn(&Profile) -> bool) -> Option<Around<'_>> {
    let speaks = |p: &&Profile| (p.time_s - time_s).abs() <= PROFILE_SPEAKS_FOR_S;
    let after = profiles.partition_point(|p| p.time_s <= time_s);
    let earlier = profiles[..after].iter().rev().take_while(speaks).find(|p| is_good(p));
    let later = profiles[after..].iter().take_while(speaks).find(|p| is_good(p));
    match (earlier, later) {
        (Some(before), Some(after)) => {
            Some((before, after, (time_s - before.time_s) / (after.time_s - before.time_s)))
        }
        (one, other) => one.or(other).map(|only| (only, only, 0.0)),
    }
}

/// Slope of a temperature with depth, °C/m, over a metre, or over half of it where there is no more.
fn slope_at(value: impl Fn(f64) -> Option<f64>, depth_m: f64, temp_c: f64) -> f64 {
    match (value(depth_m - 0.5), value(depth_m + 0.5)) {
        (Some(above), Some(below)) => below - above,
        (Some(above), None) => 2.0 * (temp_c - above),
        (None, Some(below)) => 2.0 * (below - temp_c),
        (None, None) => 0.0,
    }
}

/// Temperature at the lower end of the deepest profile, °C.
fn deepest_c(profiles: &[Profile]) -> f64 {
    let ends = profiles.iter().filter_map(|p| p.bins.last());
    ends.fold((f64::NEG_INFINITY, f64::NAN), |deepest, bin| {
        if bin.depth_m > deepest.0 { (bin.depth_m, bin.temp_c) } else { deepest }
    })
    .1
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

    use super::*;

    const DEEP_C: f64 = 5.0;

    fn water_c(surface_c: f64, depth_m: f64, thermocline_m: f64) -> f64 {
        DEEP_C + (surface_c - DEEP_C) * 0.5 * (1.0 - ((depth_m - thermocline_m) / 2.0).tanh())
    }

    /// Down to a depth and up again, a reading a second, about a time.
    fn cast(middle_s: f64, to_m: f64, water_c: impl Fn(f64, f64) -> f64) -> Vec<Sample> {
        let half = (to_m / 0.25) as i32;
        (-half..=half)
            .map(|i| {
                let (time_s, depth_m) = (middle_s + f64::from(i), to_m - 0.25 * f64::from(i.abs()));
                Sample { time_s, depth_m, temp_c: water_c(time_s, depth_m) }
            })
            .collect()
    }

    fn surface(of: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        (0..5400).map(f64::from).map(|time_s| (time_s, of(time_s))).collect()
    }

    fn field(probe: &[Sample], surface: &[(f64, f64)]) -> Field {
        Field::new(probe, surface, &Settings::default(), &FieldSettings::default())
    }

    fn check(field: &Field, time_s: f64, depth_m: f64, want_c: f64, tolerance_c: f64) {
        let got = field.temp_at(time_s, depth_m).expect("someone measured");
        assert!((got.temp_c - want_c).abs() <= tolerance_c, "{time_s} s, {depth_m} m: {got:?}, not {want_c}");
        assert!(got.se_c > 0.0);
    }

    #[test]
    fn a_thermocline_on_its_way_from_one_depth_to_another_keeps_its_shape() {
        let at = |time_s: f64| 10.0 + 6.0 * (time_s - 300.0) / 3600.0;
        let probe =
            [300.0, 3900.0].map(|time_s| cast(time_s, 30.0, |_, depth_m| water_c(17.0, depth_m, at(time_s))));
        let field = field(&probe.concat(), &surface(|_| 17.0));
        // halfway it is as sharp as at either end; a mean of temperatures would be a staircase
        for depth_m in [6.0, 10.0, 13.0, 16.0, 20.0] {
            check(&field, 2100.0, depth_m, water_c(17.0, depth_m, 13.0), 0.25);
        }
    }

    #[test]
    fn a_front_warms_the_upper_water_and_not_the_deep() {
        let probe = cast(300.0, 30.0, |_, depth_m| water_c(12.0, depth_m, 12.0));
        let field = field(&probe, &surface(|time_s| if time_s < 1000.0 { 12.0 } else { 16.0 }));
        check(&field, 500.0, 2.0, 12.0, 0.15);
        check(&field, 2000.0, 2.0, 16.0, 0.15);
        check(&field, 2000.0, 12.0, water_c(16.0, 12.0, 12.0), 0.2);
        check(&field, 2000.0, 28.0, DEEP_C, 0.1);
    }

    #[test]
    fn a_cast_that_crosses_a_front_gives_the_column_of_either_side() {
        let surface_c = |time_s: f64| if time_s < 300.0 { 12.0 } else { 16.0 };
        let mut probe = cast(300.0, 30.0, |time_s, depth_m| water_c(surface_c(time_s), depth_m, 12.0));
        probe.extend(cast(3000.0, 30.0, |time_s, depth_m| water_c(surface_c(time_s), depth_m, 12.0)));
        let field = field(&probe, &surface(surface_c));
        for depth_m in [2.0, 8.0, 11.0, 13.0, 20.0] {
            check(&field, 100.0, depth_m, water_c(12.0, depth_m, 12.0), 0.3);
            check(&field, 900.0, depth_m, water_c(16.0, depth_m, 12.0), 0.3);
        }
    }

    #[test]
    fn a_probe_that_hangs_in_the_thermocline_says_how_far_it_has_moved() {
        let surface = surface(|_| 17.0);
        let mut probe = cast(300.0, 30.0, |_, depth_m| water_c(17.0, depth_m, 12.0));
        let blind = field(&probe, &surface);
        probe.extend((600..4500).map(|second| Sample {
            time_s: f64::from(second),
            depth_m: 12.0,
            temp_c: water_c(17.0, 12.0, 13.5),
        }));
        let told = field(&probe, &surface);
        for depth_m in [9.0, 12.0, 14.0, 16.0] {
            check(&told, 2400.0, depth_m, water_c(17.0, depth_m, 13.5), 0.4);
        }
        let [told, blind] = [told, blind].map(|field| field.temp_at(2400.0, 13.0).expect("measured").se_c);
        assert!(told < 0.5 * blind, "{told} {blind}");
    }

    #[test]
    fn a_short_cast_moves_what_lies_below_it() {
        let mut probe = cast(300.0, 30.0, |_, depth_m| water_c(17.0, depth_m, 12.0));
        probe.extend(cast(2000.0, 10.0, |_, depth_m| water_c(17.0, depth_m, 10.0)));
        check(&field(&probe, &surface(|_| 17.0)), 2000.0, 13.0, water_c(17.0, 13.0, 10.0), 0.8);
    }

    #[test]
    fn a_wild_reading_moves_nothing() {
        let mut probe = cast(300.0, 30.0, |_, depth_m| water_c(17.0, depth_m, 12.0));
        // a probe that was pulled up, and whose depth stands still in the log
        probe.extend((900..1500).map(|second| Sample {
            time_s: f64::from(second),
            depth_m: 20.0,
            temp_c: 11.0,
        }));
        check(&field(&probe, &surface(|_| 17.0)), 1200.0, 12.0, water_c(17.0, 12.0, 12.0), 0.2);
    }

    #[test]
    fn thermometers_that_differ_change_nothing() {
        let mut probe = cast(300.0, 30.0, |_, depth_m| water_c(17.0, depth_m, 12.0));
        probe.extend(cast(3000.0, 30.0, |_, depth_m| water_c(17.0, depth_m, 12.0)));
        let field = field(&probe, &surface(|_| 17.8));
        // below the surface it is the probe's that counts
        check(&field, 1500.0, 1.0, water_c(17.0, 1.0, 12.0), 0.15);
        check(&field, 1500.0, 20.0, water_c(17.0, 20.0, 12.0), 0.15);
    }

    #[test]
    fn water_without_a_shape_is_as_it_was_read() {
        let probe = cast(300.0, 30.0, |_, depth_m| water_c(5.4, depth_m, 12.0));
        check(&field(&probe, &surface(|_| 5.4)), 1800.0, 20.0, 5.0, 0.05);
    }

    #[test]
    fn nothing_where_nobody_measured() {
        let probe = cast(300.0, 20.0, |_, depth_m| water_c(17.0, depth_m, 12.0));
        let alone = field(&probe, &[]);
        assert_eq!(alone.temp_at(300.0, 25.0), None);
        assert_eq!(alone.temp_at(PROFILE_SPEAKS_FOR_S + 400.0, 10.0), None);
        assert!(alone.temp_at(300.0, 10.0).is_some(), "without a hull sensor the casts' own surface stands");
        assert_eq!(field(&[], &[]).temp_at(0.0, 5.0), None);
    }

    proptest! {
        #[test]
        fn any_readings_give_finite_temperatures(
            probe in prop::collection::vec((0f64..4000.0, 0f64..40.0, -1f64..30.0), 0..200),
            hull in prop::collection::vec((0f64..4000.0, -1f64..30.0), 0..60),
            time_s in 0f64..4000.0, depth_m in 0f64..40.0,
        ) {
            let mut probe: Vec<Sample> =
                probe.into_iter().map(|(time_s, depth_m, temp_c)| Sample { time_s, depth_m, temp_c }).collect();
            probe.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
            let mut hull = hull;
            hull.sort_by(|a, b| a.0.total_cmp(&b.0));
            if let Some(got) = field(&probe, &hull).temp_at(time_s, depth_m) {
                prop_assert!(got.temp_c.is_finite() && got.se_c.is_finite() && got.se_c > 0.0, "{got:?}");
            }
        }
    }
}
