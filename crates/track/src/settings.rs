//! Which thresholds does the track rest on?

use std::ops::RangeInclusive;

use waterseam_units::LatLon;

/// Every threshold of this crate, with its unit and the reason of its default.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// A trip ends where no position follows for this long, s. Default 3 h: longer than any lunch break with
    /// the plotter off, shorter than a night.
    pub gap_s: f64,
    /// Where the boat is kept; a stop here ends a trip. Default: not known.
    pub home_port: Option<LatLon>,
    /// Distance from `home_port` that still counts as the port, m. Default 500: a small harbour.
    pub home_port_radius_m: f64,
    /// Shortest stop in the port that ends a trip, s. Default 30 min: time to change guests.
    pub home_port_stop_s: f64,

    /// Fastest that the boat can go, m/s. Default 30 (58 kn): charter boats run at 15 to 35 kn (common practice,
    /// no source).
    pub max_speed_mps: f64,
    /// Positions farther than this from `home_port`, m, fail. Default: no limit.
    pub farthest_from_home_m: Option<f64>,
    /// Time between positions that counts as a gap, s. Default 10: the slowest receivers write every 5 s.
    pub position_gap_s: f64,
    /// How far a good fix may lie from the truth, m. Default 20: satellite positions without augmentation are
    /// good to 5–10 m (from memory), doubled.
    pub position_noise_m: f64,

    /// Speeds over ground at which lines are pulled, m/s. Default 0.5 to 2.2 (1 to 5 mph; common practice, no
    /// source). Faster is a run, slower is a drift or a stop.
    pub trolling_speed_mps: RangeInclusive<f64>,
    /// An activity lasts at least this long, s; shorter ones count to what came before. Default 60: a turn or a
    /// wave is shorter, setting a line takes longer.
    pub activity_min_s: f64,
    /// A slow boat drifts when it makes good more than this over ten minutes, m. Default 40: wider than a boat
    /// swings at her lines, and a drift of 0.07 m/s.
    pub drift_m: f64,

    /// Limits of the speed over ground, m/s.
    pub sog: Limits,
    /// Limits of the speed through the water, m/s.
    pub stw: Limits,
    /// Limits of the heading, degrees, counted on through north; it has no gross range.
    pub heading: Limits,

    /// Added to the hull temperature, °C. Default 0.
    pub surface_temp_offset_c: f64,
    /// Time constant with which the hull sensor follows the water, s. Default 0: no correction.
    pub surface_temp_lag_s: f64,
    /// Limits of the hull temperature, °C.
    pub surface_temp: Limits,
    /// Two neighbouring hull readings further apart than this, °C, are a flip when their sensor cannot have
    /// crossed so much water. Default 1.2: more than one step of the coarsest sensors (1 °C).
    pub flip_c: f64,

    /// Depth of the transducer below the surface, m; added to depths below the transducer, whatever the sounder itself
    /// says of it. Default: not known.
    pub transducer_depth_m: Option<f64>,
    /// Depth of the keel below the surface, m; added to depths below the keel. Default: not known.
    pub keel_depth_m: Option<f64>,
    /// Limits of the water depth. Range in m; spike and rate are relative, as differences of
    /// ln(depth + 5 m); flat line in the same measure.
    pub water_depth: Limits,

    /// Limits of the temperature at the probe, °C.
    pub probe_temp: Limits,
    /// Limits of the probe's depth, m.
    pub probe_depth: Limits,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            gap_s: 3.0 * 3600.0,
            home_port: None,
            home_port_radius_m: 500.0,
            home_port_stop_s: 1800.0,
            max_speed_mps: 30.0,
            farthest_from_home_m: None,
            position_gap_s: 10.0,
            position_noise_m: 20.0,
            trolling_speed_mps: 0.5..=2.2,
            activity_min_s: 60.0,
            drift_m: 40.0,
            sog: Limits::sog(),
            stw: Limits::stw(),
            heading: Limits::heading(),
            surface_temp_offset_c: 0.0,
            surface_temp_lag_s: 0.0,
            surface_temp: Limits::surface_temp(),
            flip_c: 1.2,
            transducer_depth_m: None,
            keel_depth_m: None,
            water_depth: Limits::water_depth(),
            probe_temp: Limits::probe_temp(),
            probe_depth: Limits::probe_depth(),
        }
    }
}

/// Limits of the QARTOD tests for one series, in the unit of the series.
///
/// The tests run in the order of the fields and each sees only what the tests before it left. So that a
/// front is not taken for a fault, a spike must also stand out from the median of the five samples about it,
/// and a rate counts samples that are closer than a second as one second apart: at any sampling a step that
/// stays keeps its samples, except the one at which it exceeds the rate.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// Outside is suspect.
    pub suspect: RangeInclusive<f64>,
    /// Outside fails.
    pub fail: RangeInclusive<f64>,
    /// Distance from the neighbours that is suspect.
    pub spike_suspect: f64,
    /// Distance from the neighbours that fails.
    pub spike_fail: f64,
    /// Rate of change that is suspect, per second.
    pub rate_suspect_per_s: f64,
    /// Rate of change that fails, per second.
    pub rate_fail_per_s: f64,
    /// Time without a change that is suspect, s.
    pub flat_suspect_s: f64,
    /// Time without a change that fails, s.
    pub flat_fail_s: f64,
    /// A span below this is no change.
    pub flat_tolerance: f64,
    /// Time over which the signal must be alive, s.
    pub attenuated_s: f64,
    /// A standard deviation over that time below this is suspect. Default 0, which nothing is below: water that is
    /// mixed, a bottom that is even and a boat on a straight course leave a good sensor as still as a dead one.
    pub attenuated_suspect: f64,
    /// A standard deviation over that time below this fails. Default 0, as above.
    pub attenuated_fail: f64,
    /// Time between samples that counts as a gap, s. Default 60, in which a trolling boat passes the narrowest
    /// break: it is counted and changes no flag, for behind a gap there is good water again.
    pub gap_s: f64,
}

impl Limits {
    /// What every value passes.
    fn without_limits() -> Self {
        Self {
            suspect: f64::NEG_INFINITY..=f64::INFINITY,
            fail: f64::NEG_INFINITY..=f64::INFINITY,
            spike_suspect: f64::INFINITY,
            spike_fail: f64::INFINITY,
            rate_suspect_per_s: f64::INFINITY,
            rate_fail_per_s: f64::INFINITY,
            flat_suspect_s: f64::INFINITY,
            flat_fail_s: f64::INFINITY,
            flat_tolerance: 0.0,
            attenuated_s: 600.0,
            attenuated_suspect: 0.0,
            attenuated_fail: 0.0,
            gap_s: 60.0,
        }
    }

    /// Speed over ground. Range: the fastest boat ([`Settings::max_speed_mps`]), doubled where it fails. Spike and
    /// rate: no boat gains or loses 5 m/s within a second; receivers that lose their satellites do. Flat: a boat
    /// that lies still has no speed all night.
    fn sog() -> Self {
        Self {
            suspect: 0.0..=30.0,
            fail: 0.0..=60.0,
            spike_suspect: 3.0,
            spike_fail: 6.0,
            rate_suspect_per_s: 5.0,
            rate_fail_per_s: 10.0,
            ..Self::without_limits()
        }
    }

    /// Speed through the water: as over ground, and a little astern. Flat: a paddle wheel that weed holds reads zero
    /// for the rest of the trip, but so does a boat at anchor, which is why nothing is said by default.
    fn stw() -> Self {
        Self { suspect: -3.0..=30.0, fail: -10.0..=60.0, ..Self::sog() }
    }

    /// Heading. Spike and rate: a boat at a run turns by 30° in a second at the most; a compass that is kicked, or
    /// read wrong, by any angle.
    fn heading() -> Self {
        Self {
            spike_suspect: 30.0,
            spike_fail: 60.0,
            rate_suspect_per_s: 40.0,
            rate_fail_per_s: 90.0,
            ..Self::without_limits()
        }
    }

    /// Water at the hull.
    ///
    /// Range: lakes and coasts in the fishing season have 0 to 30 °C; exactly zero is what an instrument sends
    /// that has no reading. Spike: twice the 0.5 °C step of coarse sensors, less a margin. Rate: the strongest
    /// fronts, 3 °C over a few boat lengths, crossed at a run. Flat: a sensor that shows tenths stays on one
    /// number for hours in mixed water, which the sun warms by about 0.1 °C an hour and a cloudy sky not at
    /// all; half a day's trip without any change is doubtful.
    fn surface_temp() -> Self {
        Self {
            suspect: 0.05..=30.0,
            fail: -2.0..=35.0,
            spike_suspect: 0.9,
            spike_fail: 2.0,
            rate_suspect_per_s: 1.2,
            rate_fail_per_s: 3.0,
            flat_suspect_s: 6.0 * 3600.0,
            flat_fail_s: 24.0 * 3600.0,
            flat_tolerance: 0.05,
            ..Self::without_limits()
        }
    }

    /// Water at the probe: as at the hull, but a probe that sinks at 1 to 2 m/s through a thermocline of 2 °C/m
    /// sees 4 °C in a second.
    fn probe_temp() -> Self {
        Self {
            spike_suspect: 1.5,
            spike_fail: 3.0,
            rate_suspect_per_s: 4.0,
            rate_fail_per_s: 8.0,
            gap_s: 300.0,
            ..Self::surface_temp()
        }
    }

    /// Depth of the water. Range: from a berth to the deepest lakes and shelves. Spike and rate: sounders jump by
    /// a third or more when they catch a fish school, the second echo or their own noise; a bottom that rises
    /// 15 m under a boat in one second at 30 m of depth is the steepest worth believing. Flat: a sounder that
    /// lost the bottom repeats itself, but a basin's floor or a berth is flat for a while.
    fn water_depth() -> Self {
        Self {
            suspect: 0.2..=1000.0,
            fail: 0.0..=2000.0,
            spike_suspect: 0.15,
            spike_fail: 0.4,
            rate_suspect_per_s: 0.5,
            rate_fail_per_s: 1.0,
            flat_suspect_s: 1800.0,
            flat_fail_s: 3.0 * 3600.0,
            flat_tolerance: 1e-6,
            ..Self::without_limits()
        }
    }

    /// Depth of the probe. Range: a little above the surface is a pressure sensor's zero error; 300 m is beyond
    /// any downrigger wire. Spike and rate: faster than a heavy weight falls. Flat: a weight may hang at one
    /// depth all day.
    fn probe_depth() -> Self {
        Self {
            suspect: -1.0..=300.0,
            fail: -3.0..=1000.0,
            spike_suspect: 5.0,
            spike_fail: 15.0,
            rate_suspect_per_s: 8.0,
            rate_fail_per_s: 20.0,
            // a probe logs every few seconds to a minute
            gap_s: 300.0,
            ..Self::without_limits()
        }
    }
}
