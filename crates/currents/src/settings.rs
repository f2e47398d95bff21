//! Which thresholds decide what is steady water, a window and an edge?

/// Thresholds of the current estimate.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Below this reading the speed log is not trusted, m/s. Default 0.5: paddle wheels stick (common practice, no
    /// source).
    pub least_stw_mps: f64,
    /// Heading may change by this much between the quarter minute before and after a row, degrees. Default 15: more is
    /// a turn, in which log, compass and receiver lag behind one another and the hull skids.
    pub turn_deg: f64,
    /// The same for the speed through the water, m/s. Default 0.3.
    pub speed_change_mps: f64,
    /// A reading that stays the same for this long while the speed over ground changes by more than
    /// [`Settings::stuck_sog_change_mps`] is a stuck log, s. Default 600.
    pub stuck_s: f64,
    /// Change of speed over ground that no current explains on its own, m/s. Default 2: reciprocal courses in a
    /// current of 1 m/s.
    pub stuck_sog_change_mps: f64,
    /// Length of the means from which log and compass are calibrated, s.
    ///
    /// Default 120: shorter means follow one another's errors (a log that lags, gusts, leeway), so that speed changes
    /// within a course drown what the courses say.
    pub mean_s: f64,
    /// A window of the result ends after this long, s. Default 300.
    pub window_s: f64,
    /// or after this distance along the track, m. Default 500.
    pub window_m: f64,
    /// The calibration is used where its scale has a standard error below this part. Default 0.03.
    pub calibration_se_max: f64,
    /// Length of the mean unit vector of the headings above which there is only one course. Default 0.92: two courses
    /// 46° apart.
    pub one_course: f64,
    /// Standard error of the scale of a log that nobody calibrated. Default 0.05 (common practice, no source).
    pub raw_scale_se: f64,
    /// Standard error of a compass that nobody calibrated, degrees. Default 3 (common practice, no source).
    pub raw_heading_se_deg: f64,
    /// Log and compass errors that change with speed and course stay in a calibrated pair, as a part of the speed. What
    /// they make of a turn is no edge. Default 0.02: leeway and deviation of about a degree (common practice, no source).
    pub left_over_part: f64,
    /// The same where the boat turned between two courses. Default 0.06: leeway of three or four degrees changes sides, and a
    /// log that reads well at one speed does not at another (common practice, no source).
    pub turn_part: f64,
    /// An edge changes the current by at least this much, m/s. Default 0.15.
    pub least_change_mps: f64,
    /// An edge is no wider than this along the track, m. Default 400: more is a gradient.
    pub widest_m: f64,
    /// Chance of a false edge in a trip. Default 0.01.
    pub p_max: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            least_stw_mps: 0.5,
            turn_deg: 15.0,
            speed_change_mps: 0.3,
            stuck_s: 600.0,
            stuck_sog_change_mps: 2.0,
            mean_s: 120.0,
            window_s: 300.0,
            window_m: 500.0,
            calibration_se_max: 0.03,
            one_course: 0.92,
            raw_scale_se: 0.05,
            raw_heading_se_deg: 3.0,
            left_over_part: 0.02,
            turn_part: 0.06,
            least_change_mps: 0.15,
            widest_m: 400.0,
            p_max: 0.01,
        }
    }
}
