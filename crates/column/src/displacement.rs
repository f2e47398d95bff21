//! How far are isotherms from where profiles have them, at any time between?
//!
//! At a profile that goes through the whole column they are where it found them; from there on they stray, the longer the
//! farther, until the next one tells. Whatever is read in between says how far they have strayed so far.

/// How much deeper isotherms are than profiles have them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Displacement {
    pub time_s: f64,
    pub down_m: f64,
    pub variance_m2: f64,
}

/// How far and how fast isotherms stray: an Ornstein–Uhlenbeck process.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Strays {
    /// Variance once all is forgotten, m².
    pub variance_m2: f64,
    /// Time over which a displacement is forgotten (to 1/e), s.
    pub forgets_s: f64,
}

impl Strays {
    /// What is left of a displacement after a time.
    fn kept(self, apart_s: f64) -> f64 {
        (-apart_s.abs() / self.forgets_s).exp()
    }

    /// Variance between two times at which the displacement is known, as a part of [`Self::variance_m2`]; without a second
    /// time, after one.
    pub fn between(self, before_s: f64, after_s: Option<f64>) -> f64 {
        let (a, Some(after_s)) = (self.kept(before_s), after_s) else {
            return 1.0 - self.kept(before_s).powi(2);
        };
        let (b, both) = (self.kept(after_s), self.kept(before_s + after_s));
        1.0 - (a * a + b * b - 2.0 * a * b * both) / (1.0 - both * both).max(f64::MIN_POSITIVE)
    }
}

/// Displacements at the times of readings, in order of time.
#[derive(Clone, Debug)]
pub(crate) struct Displacements {
    strays: Strays,
    known: Vec<Displacement>,
    /// Covariance of each with the next.
    with_next_m2: Vec<f64>,
}

/// Readings this many standard deviations off what is expected are not used.
const GATE: f64 = 3.0;

impl Displacements {
    /// Filter forward, smoother backward (R. E. Kalman's filter and the backward pass of H. E. Rauch, F. Tung & C. T. Striebel, AIAA
    /// Journal 3 (1965) 1445–1450; from memory). Readings are in order of time.
    pub fn new(strays: Strays, readings: &[Displacement]) -> Self {
        let mut forecasts = Vec::with_capacity(readings.len());
        let mut known: Vec<Displacement> = Vec::with_capacity(readings.len());
        for seen in readings {
            let (forecast_m, variance_m2) = known.last().map_or((0.0, strays.variance_m2), |last| {
                let kept = strays.kept(seen.time_s - last.time_s);
                let strayed_m2 = (1.0 - kept * kept) * strays.variance_m2;
                (kept * last.down_m, kept * kept * last.variance_m2 + strayed_m2)
            });
            // a reading that far off speaks of something else, a front below the surface or a line that was pulled up
            let is_off = (seen.down_m - forecast_m).powi(2) > GATE * GATE * (variance_m2 + seen.variance_m2);
            let gain = if is_off { 0.0 } else { variance_m2 / (variance_m2 + seen.variance_m2) };
            forecasts.push((forecast_m, variance_m2));
            known.push(Displacement {
                time_s: seen.time_s,
                down_m: forecast_m + gain * (seen.down_m - forecast_m),
                variance_m2: (1.0 - gain) * variance_m2,
            });
        }
        let mut with_next_m2 = vec![0.0; known.len()];
        for row in (1..known.len()).rev() {
            let (next, (forecast_m, forecast_m2)) = (known[row], forecasts[row]);
            let here = &mut known[row - 1];
            let gain = if forecast_m2 > 0.0 {
                strays.kept(next.time_s - here.time_s) * here.variance_m2 / forecast_m2
            } else {
                0.0
            };
            here.down_m += gain * (next.down_m - forecast_m);
            here.variance_m2 += gain * gain * (next.variance_m2 - forecast_m2);
            with_next_m2[row - 1] = gain * next.variance_m2;
        }
        Self { strays, known, with_next_m2 }
    }

    /// Displacement at any time: between two readings it leans toward both, beyond them it is forgotten.
    pub fn at(&self, time_s: f64) -> Displacement {
        let Strays { variance_m2: still_m2, .. } = self.strays;
        let after = self.known.partition_point(|d| d.time_s <= time_s);
        let (before, next) = (after.checked_sub(1).map(|row| self.known[row]), self.known.get(after));
        match (before, next) {
            (Some(before), Some(next)) => {
                let (since_s, until_s) = (time_s - before.time_s, next.time_s - time_s);
                let (a, b) = (self.strays.kept(since_s), self.strays.kept(until_s));
                let both = a * b;
                let free = 1.0 - both * both;
                // weights of the two ends; at one of them that end alone
                let (of_before, of_next) = (a * (1.0 - b * b) / free, b * (1.0 - a * a) / free);
                let ends_m2 = of_before * of_before * before.variance_m2
                    + of_next * of_next * next.variance_m2
                    + 2.0 * of_before * of_next * self.with_next_m2[after - 1];
                Displacement {
                    time_s,
                    down_m: of_before * before.down_m + of_next * next.down_m,
                    variance_m2: ends_m2 + still_m2 * self.strays.between(since_s, Some(until_s)),
                }
            }
            (Some(end), None) | (None, Some(&end)) => {
                let kept = self.strays.kept(time_s - end.time_s);
                Displacement {
                    time_s,
                    down_m: kept * end.down_m,
                    variance_m2: kept * kept * end.variance_m2 + (1.0 - kept * kept) * still_m2,
                }
            }
            (None, None) => Displacement { time_s, down_m: 0.0, variance_m2: still_m2 },
        }
    }
}

/// What one profile between two others says of how far isotherms stray.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LeftOut {
    /// How far its isotherms lie from where the others have them, m.
    pub down_m: f64,
    /// Part of the variance that [`Strays::between`] gives there.
    pub part: f64,
    /// Variance of the readings themselves, m².
    pub readings_m2: f64,
}

/// Standard deviations that are thought possible: times this much from one to the next, so many either way.
const STEP: f64 = 1.4;
const STEPS: i32 = 9;

/// Variance of the displacement after what profiles say that were left out, m²: the mean of a posterior over standard deviations, whose
/// logarithms are normal beforehand about `usual_m` with the spread of a `factor`.
pub(crate) fn variance_m2(left_out: &[LeftOut], usual_m: f64, factor: f64) -> f64 {
    let (mut sum, mut weighed_m2) = (0.0, 0.0);
    let logs: Vec<(f64, f64)> = (-STEPS..=STEPS)
        .map(|step| {
            let sd_m = usual_m * STEP.powi(step);
            let prior = -0.5 * (f64::from(step) * STEP.ln() / factor.ln()).powi(2);
            let likelihood = left_out.iter().map(|seen| {
                let m2 = sd_m * sd_m * seen.part + seen.readings_m2;
                -0.5 * (m2.ln() + seen.down_m * seen.down_m / m2)
            });
            (sd_m * sd_m, prior + likelihood.sum::<f64>())
        })
        .collect();
    let top = logs.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
    for (m2, log) in logs {
        let weight = (log - top).exp();
        sum += weight;
        weighed_m2 += weight * m2;
    }
    weighed_m2 / sum
}

#[cfg(test)]
mod tests {
    use super::*;

    const STRAYS: Strays = Strays { variance_m2: 1.0, forgets_s: 3600.0 };

    fn known(time_s: f64, down_m: f64, variance_m2: f64) -> Displacement {
        Displacement { time_s, down_m, variance_m2 }
    }

    #[test]
    fn at_a_reading_it_is_what_was_read_and_far_off_it_is_forgotten() {
        let found = Displacements::new(STRAYS, &[known(0.0, 1.0, 1e-6), known(3600.0, -0.5, 1e-6)]);
        assert!((found.at(0.0).down_m - 1.0).abs() < 1e-4 && found.at(0.0).variance_m2 < 1e-5);
        assert!((found.at(3600.0).down_m + 0.5).abs() < 1e-4);
        assert!((found.at(7200.0).down_m + 0.5 / std::f64::consts::E).abs() < 1e-4);
        assert!((found.at(90_000.0).variance_m2 - 1.0).abs() < 1e-9);
        assert_eq!(Displacements::new(STRAYS, &[]).at(5.0).variance_m2, 1.0);
    }

    #[test]
    fn between_two_readings_it_is_what_a_third_without_weight_would_find() {
        let ends = [known(0.0, 1.0, 0.1), known(3000.0, -0.5, 0.2), known(5000.0, 0.3, 0.1)];
        let found = Displacements::new(STRAYS, &ends);
        for time_s in [400.0, 1500.0, 2900.0, 4000.0] {
            let mut with = ends.to_vec();
            with.push(known(time_s, 0.0, 1e12));
            with.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
            let want = Displacements::new(STRAYS, &with).at(time_s);
            let got = found.at(time_s);
            assert!((got.down_m - want.down_m).abs() < 1e-6, "{time_s}: {got:?} {want:?}");
            assert!((got.variance_m2 - want.variance_m2).abs() < 1e-6, "{time_s}: {got:?} {want:?}");
        }
    }

    #[test]
    fn quiet_water_is_told_from_water_that_rises_and_falls() {
        let seen = |down_m: f64| LeftOut { down_m, part: 0.5, readings_m2: 0.04 };
        let quiet = variance_m2(&[0.1, -0.2, 0.1, 0.2, -0.1, 0.0].map(seen), 0.5, 2.0);
        let usual = variance_m2(&[], 0.5, 2.0);
        let rough = variance_m2(&[2.0, -1.5, 3.0, -2.0, 1.0, -2.5].map(seen), 0.5, 2.0);
        assert!(quiet < 0.5 * usual && usual < 0.3 * rough, "{quiet} {usual} {rough}");
        // 4.5 m² are seen, of which half a variance is strayed
        assert!((4.0..12.0).contains(&rough), "{rough}");
    }
}
