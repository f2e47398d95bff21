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
    /// The calibration is told and edges are looked for where the speed that log and compass give has a standard error
    /// below this part, along and across. Default 0.03.
    pub calibration_se_max: f64,
    /// The offset of the log is fitted and told where its standard error is below this, m/s; else it is held at what it was
    /// before. Default 0.01: below, it changes what a scale alone says by less than that is worth.
    pub clear_offset_se_mps: f64,
    /// The same for the cycles of the deviation, degrees. Default 0.25: a cycle looks half like a current, at trolling speed
    /// of this many hundredths of a metre a second.
    pub clear_cycle_se_deg: f64,
    /// The same for the leeway, as a part of the wind across. Default 0.003.
    pub clear_leeway_se: f64,
    /// Length of the mean unit vector of the headings above which there is only one course. Default 0.92: two courses
    /// 46° apart.
    pub one_course: f64,
    /// Standard error of the scale of a log that nobody calibrated. Default 0.1 (common practice, no source).
    pub raw_scale_se: f64,
    /// Standard error of what such a log adds, m/s. Default 0.05: a tenth of a knot (common practice, no source).
    pub raw_offset_se_mps: f64,
    /// Standard error of the constant deviation (A) of a compass that nobody calibrated, degrees. Default 5: most of it is
    /// how straight the sensor was mounted (common practice, no source).
    pub raw_heading_se_deg: f64,
    /// The same of the single cycle (B and C), degrees. Default 1: more is adjusted away when the compass is put in (common
    /// practice, no source).
    pub raw_cycle_se_deg: f64,
    /// The same of the double cycle (D and E), degrees. Default 0.5 (common practice, no source).
    pub raw_double_cycle_se_deg: f64,
    /// Standard error of the sideways drift as a part of the wind across the boat. Default 0.01: boats that drift freely
    /// make a few hundredths of the wind, and a hull under way resists more (from memory).
    pub raw_leeway_se: f64,
    /// What an earlier trip said has changed since by this part of the standard errors of raw instruments. Default 0.1: a
    /// log fouls by a hundredth, a compass moves by half a degree (common practice, no source).
    pub changed_part: f64,
    /// An earlier calibration is dropped where this trip differs from it by more than this many standard errors, all
    /// terms together. Default 3.1: a chance of one in a thousand.
    pub earlier_sd_max: f64,
    /// A window of a boat without a compass is given where both components have a standard error below this, m/s.
    /// Default 0.12.
    pub window_se_max_mps: f64,
    /// The same without a log. Default 0.06: nothing but the throttle holds such a current, and its errors are hidden.
    pub window_se_max_no_log_mps: f64,
    /// A lag of log and compass longer than this is none, s. Default 8.
    pub lag_max_s: f64,
    /// A lag is used where its standard error is below this, s. Default 1.
    pub lag_se_max_s: f64,
    /// Minutes with turns that it takes to tell the lag, counted as if all turned alike. Default 5.
    pub least_turns: f64,
    /// Speeds over ground further apart than this are too coarse for a current, m/s, and the positions are taken.
    /// Default 0.15: three tenths of a knot.
    pub coarse_sog_mps: f64,
    /// The same for courses over ground, degrees. Default 5.
    pub coarse_cog_deg: f64,
    /// Positions give a velocity by their slope over this long to either side, s. Default 10.
    pub slope_side_s: f64,
    /// They are taken where speed and course over ground scatter by this many times as much. Default 3: what
    /// positions say of their own error is too little, because their errors wander.
    pub noisier_than_positions: f64,
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
            clear_offset_se_mps: 0.01,
            clear_cycle_se_deg: 0.25,
            clear_leeway_se: 0.003,
            one_course: 0.92,
            raw_scale_se: 0.1,
            raw_offset_se_mps: 0.05,
            raw_heading_se_deg: 5.0,
            raw_cycle_se_deg: 1.0,
            raw_double_cycle_se_deg: 0.5,
            raw_leeway_se: 0.01,
            changed_part: 0.1,
            earlier_sd_max: 3.1,
            window_se_max_mps: 0.12,
            window_se_max_no_log_mps: 0.06,
            lag_max_s: 8.0,
            lag_se_max_s: 1.0,
            least_turns: 5.0,
            coarse_sog_mps: 0.15,
            coarse_cog_deg: 5.0,
            slope_side_s: 10.0,
            noisier_than_positions: 3.0,
            left_over_part: 0.02,
            turn_part: 0.06,
            least_change_mps: 0.15,
            widest_m: 400.0,
            p_max: 0.01,
        }
    }
}
