//! Which thresholds does the alignment rest on?

/// Every threshold of this crate, with its unit and the reason of its default.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Largest offset that is believed of a clock whose date is right, s. Default 14 h and 10 min: no two time zones that
    /// a boat's devices are set to lie further apart than UTC and UTC+14, and minutes are set by hand.
    pub offset_max_s: f64,
    /// First-order lag of the hull sensor, s. Default 5: sensors in the hull lag by 2 to 10 s (common practice, no
    /// source).
    pub hull_lag_s: f64,
    /// What that may be wrong by, s. Default 3.
    pub hull_lag_error_s: f64,
    /// First-order lag of the probe, s. Default 1: small thermistors in water (from memory).
    pub probe_lag_s: f64,
    /// What that may be wrong by, s. Default 0.5.
    pub probe_lag_error_s: f64,
    /// What a log or a receiver may delay a speed by, s. Default 0.5: both average over about a second.
    pub speed_lag_error_s: f64,
    /// Drift of a clock, parts per million (standard deviation). Default 30: a watch crystal is good to 20 ppm and a
    /// few more in the cold (from memory).
    pub drift_sd_ppm: f64,
    /// An offset is certain when it is known to this, s. Default 2.
    pub certain_s: f64,
    /// Standard errors that fit within `certain_s`. Default 3: one error of 370 in Gaussian noise.
    pub certain_sigmas: f64,
    /// An offset is applied when its standard error is not larger, s. Default 60.
    pub about_s: f64,
    /// How much more likely (as a difference of log-likelihoods) the best lag must be than any other further than
    /// `rival_s` from it. Default 12: odds of 160,000 to 1.
    pub rival_margin: f64,
    /// Lags further apart are different answers, s. Default 40.
    pub rival_s: f64,
    /// Least share of a segment's samples that must fall on positions of the boat. Default 0.8: the plotter may be
    /// switched on late.
    pub covered_share: f64,
    /// A line in the water is not run faster than this over ground, m/s. Default 4.5 (10 mph).
    pub run_mps: f64,
    /// Largest share of a segment's samples that may fall on a faster run. Default 0.1.
    pub run_share: f64,
    /// A longer silence may hide that the clock was set, s. Default 600: lines are reset in a few minutes.
    pub long_gap_s: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            offset_max_s: 14.0 * 3600.0 + 600.0,
            hull_lag_s: 5.0,
            hull_lag_error_s: 3.0,
            probe_lag_s: 1.0,
            probe_lag_error_s: 0.5,
            speed_lag_error_s: 0.5,
            drift_sd_ppm: 30.0,
            certain_s: 2.0,
            certain_sigmas: 3.0,
            about_s: 60.0,
            rival_margin: 12.0,
            rival_s: 40.0,
            covered_share: 0.8,
            run_mps: 4.5,
            run_share: 0.1,
            long_gap_s: 600.0,
        }
    }
}
