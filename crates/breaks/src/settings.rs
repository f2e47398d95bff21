//! Which changes of temperature count as a thermal break, and which crossings belong to one line?

use crate::wanted::{ISOTHERM_DEPTH, TEMPERATURE, Wanted};

/// Thresholds of [`find`](crate::find) and [`lines`](crate::lines).
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Least absolute step, °C.
    ///
    /// Default 0.5 °C: about 1 °F, the least change that a captain steers by (common practice, no source), and
    /// five readings of a sensor that shows tenths. A sensor with coarser readings raises it by itself to one
    /// and a half of them: a change by one reading says nothing about the water.
    pub least_step_c: f64,
    /// Greatest width along the track, 10 % to 90 % of the step, m.
    ///
    /// Default 1,000 m: what is broader is a slope that no line of lures can be laid along (common practice, no
    /// source). Where samples lie so far apart that such a width cannot be seen, five sample spacings.
    pub greatest_width_m: f64,
    /// Greatest part of false ones among the breaks of a trip; for a lone break, the chance of it from noise anywhere
    /// along the track.
    ///
    /// Default 0.001: one break invented by noise in a thousand trips without any. A captain steers by a break for hours,
    /// and real ones of half a degree pass by orders of magnitude where samples are dense.
    pub greatest_p_value: f64,
    /// Size of the distance cells that samples are averaged in, m.
    ///
    /// Default 5 m: about four samples at trolling speed and 1 Hz, a sixth of the smallest scale searched.
    pub cell_m: f64,
    /// Longest piece of track without data that a break may lie across, m.
    ///
    /// Default 500 m: what lies in a shorter gap is no broader than half the greatest width. Where samples lie further apart,
    /// four sample spacings.
    pub greatest_gap_m: f64,
    /// Lag that was taken out of the readings, s: readings within half of it from a gap are not used.
    ///
    /// Default 0: none was.
    pub lag_s: f64,
    /// How fast the sun may warm the surface, or a night cool it, °C an hour.
    ///
    /// Default 0.5 °C/h (common practice, no source): a change that a stop of the boat can explain is no break.
    pub warming_c_per_h: f64,
    /// Whether the water is fresh, so that it is densest near 4 °C and a thermal bar can stand.
    ///
    /// Default true: the big lakes.
    pub fresh: bool,
    /// Greatest change of depth over a stretch in which a towed probe is searched for breaks, m.
    ///
    /// Default 2 m: what swell, turns and the boat's speed do to a weight on a cable (common practice, no source).
    pub greatest_depth_change_m: f64,
    /// Least absolute step in the depth of an isotherm, m.
    ///
    /// Default 2 m: about 6 ft, the least for which lines are set anew (common practice, no source), and the whole height of
    /// a common internal wave of 1 m.
    pub least_depth_step_m: f64,
    /// Longest time between two passes of the probe through an isotherm that a step may lie between, s.
    ///
    /// Default 900 s: in that time lines come in and go out again (common practice, no source), and a basin's slow rise and
    /// fall is still far below the least step.
    pub greatest_between_passes_s: f64,
    /// Fewest passes through an isotherm in which steps are sought.
    ///
    /// Default 30: from fewer, how much its depth wanders without any front is not known.
    pub least_passes: usize,
    /// How fast an isotherm may rise or sink in one place, m an hour.
    ///
    /// Default 1 m/h: a basin's internal seiche and the wind (common practice, no source).
    pub rising_m_per_h: f64,
    /// Greatest distance between neighbouring crossings on a line, m.
    ///
    /// Default 2,500 m: half an hour of trolling, and below the distance over which eddies bend a lake front
    /// (common practice, no source).
    pub greatest_join_m: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            least_step_c: 0.5,
            greatest_width_m: 1_000.0,
            greatest_p_value: 0.001,
            cell_m: 5.0,
            greatest_gap_m: 500.0,
            lag_s: 0.0,
            warming_c_per_h: 0.5,
            fresh: true,
            greatest_depth_change_m: 2.0,
            least_depth_step_m: 2.0,
            greatest_between_passes_s: 900.0,
            least_passes: 30,
            rising_m_per_h: 1.0,
            greatest_join_m: 2_500.0,
        }
    }
}

impl Settings {
    /// What is sought in surface temperatures, °C.
    pub(crate) fn at_the_surface(&self) -> Wanted {
        Wanted {
            least_step: self.least_step_c,
            greatest_width_m: self.greatest_width_m,
            greatest_p_value: self.greatest_p_value,
            cell_m: self.cell_m,
            greatest_gap_m: self.greatest_gap_m,
            greatest_gap_s: f64::INFINITY,
            lag_s: self.lag_s,
            in_place_per_s: self.warming_c_per_h / 3_600.0,
            ordinary: &TEMPERATURE,
        }
    }

    /// What is sought in depths of an isotherm, m.
    pub(crate) fn of_isotherms(&self) -> Wanted {
        Wanted {
            least_step: self.least_depth_step_m,
            greatest_gap_s: self.greatest_between_passes_s,
            // across a longer one no step is seen to be narrow enough
            greatest_gap_m: self.greatest_width_m,
            lag_s: 0.0,
            in_place_per_s: self.rising_m_per_h / 3_600.0,
            ordinary: &ISOTHERM_DEPTH,
            ..self.at_the_surface()
        }
    }
}
