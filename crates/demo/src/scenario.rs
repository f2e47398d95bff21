//! What kind of day is it, and what may a test fix about it?

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::faults::WaterFaults;

/// Kind of day on Lake Corvane.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scenario {
    /// May: a thermal bar, warm inshore water above 4 °C beside the winter's below it; hardly any layers.
    SpringThermalBar,
    /// July: one strong break with a current edge along it, a clear thermocline.
    SummerBreak,
    /// August: no break anywhere, an even current, few bites.
    FlatDay,
    /// May to September, drawn from the seed: none to four breaks, perhaps a current edge.
    Random,
}

/// What a test may fix. `None`: as the scenario draws it.
#[derive(Clone, Debug, PartialEq)]
pub struct Knobs {
    /// Day of the trip.
    pub date: Option<Date>,
    /// Time with lines in the water, h.
    pub troll_hours: Option<f64>,
    /// Steps of the breaks, °C, absolute. In [`Scenario::Random`] also their number.
    pub steps_c: Option<Vec<f64>>,
    /// Width of every break from 10 % to 90 %, m.
    pub width_m: Option<f64>,
    /// Least angle at which the planned track crosses a front, degrees ([`Scenario::Random`]).
    pub least_crossing_deg: Option<f64>,
    /// Greatest speed at which the fronts move toward their warm or their cold side, all alike, m/s. `None`: they lie
    /// still.
    pub front_drift_mps: Option<f64>,
    /// Slope of the surface temperature, in any direction, °C/km.
    pub slope_c_per_km: Option<f64>,
    /// By how much the shadows of three clouds cool the surface, °C. `None`: no cloud.
    pub cloud_c: Option<f64>,
    /// Warming from morning to afternoon, °C.
    pub diurnal_c: Option<f64>,
    /// Standard deviation of the small unevenness of the surface, °C.
    pub patchiness_c: f64,
    /// Standard deviation of the hull sensor's noise, °C.
    pub hull_noise_c: Option<f64>,
    /// Lag of the hull sensor, s (first order). A property of the boat, stated in the boat file.
    pub hull_lag_s: f64,
    /// Added to what the hull sensor shows, °C.
    pub hull_bias_c: f64,
    /// Smallest difference that the hull sensor writes, °C; never finer than 0.01.
    pub hull_quantum_c: f64,
    /// Single wrong readings of the hull sensor, a hour.
    pub spikes_per_hour: f64,
    /// Times at which the hull sensor is silent for 10 s to 90 s, a hour.
    pub dropouts_per_hour: f64,
    /// Chance of a sentence to be torn or garbled on its way to the card.
    pub dirt_chance: f64,
    /// Mean depth of the thermocline, m.
    pub thermocline_m: Option<f64>,
    /// By how much the thermocline lies deeper or shallower on the warm side of each front, m. `None`: not at all.
    pub thermocline_step_m: Option<f64>,
    /// Greatest rise and fall of the thermocline by internal waves of 5 to 20 minutes, m. `None`: none.
    pub internal_wave_m: Option<f64>,
    /// Time in which the probe goes down and up through the thermocline while its line fishes, s. `None`: it hangs at
    /// the depth of the lure.
    pub probe_cycle_s: Option<f64>,
    /// Speed of the even current, m/s.
    pub current_mps: Option<f64>,
    /// Share of the current that is left below the thermocline: less than 1 is a shear between the lures and the hull,
    /// below 0 the water down there runs the other way.
    pub deep_share: Option<f64>,
    /// Change of the current across its edge, m/s; 0 takes the edge away. Spring and flat days have none.
    pub edge_change_mps: Option<f64>,
    /// True speed through the water over the log's reading.
    pub log_scale: Option<f64>,
    /// Added to the compass's heading to reach the true heading, after variation and the known deviation, degrees.
    pub heading_offset_deg: Option<f64>,
    /// How log, compass and receiver err beside that.
    pub water_faults: WaterFaults,
    /// Lag of the probe, s (first order).
    pub probe_lag_s: f64,
    /// Factor on every bite rate.
    pub bite_factor: f64,
    /// Depths between which lures are set, m.
    pub fished_m: Option<(f64, f64)>,
    /// Whether the probe writes the speed through the water.
    pub probe_speed: bool,
    /// True speed through the water at the probe over what it shows.
    pub probe_speed_scale: f64,
    /// Standard deviation of the noise of that speed, m/s.
    pub probe_speed_noise_mps: f64,
    /// Added to the probe's clock beside the second or two that it is always off, s.
    pub probe_clock_offset_s: i64,
    /// Drift of the probe's clock since the plotter was switched on, parts per million; positive: it runs fast.
    pub probe_clock_drift_ppm: f64,
    /// A reset of the probe's clock in the middle of its log.
    pub probe_clock_reset: Option<ClockReset>,
    /// Added to the clock that notes and gear log are written by, s.
    pub notes_clock_offset_s: i64,
    /// What the helm does beside the plan. `None`: nothing.
    pub handling: Option<Handling>,
    /// Every instrument writes every second, as plotters do that leave nothing out.
    pub every_second: bool,
}

/// What the helm does beside trolling along the plan.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Handling {
    /// Stops for a fish, with sternway and a burst of throttle after it, an hour.
    pub stops_per_hour: f64,
    /// Tight circles, an hour.
    pub circles_per_hour: f64,
    /// Changes of the trolling speed, to 0.6 to 2 of the usual one, an hour.
    pub speed_changes_per_hour: f64,
    /// Time at anchor in the middle of the trolling, h.
    pub anchored_h: f64,
    /// By how much the water that the screw brings up is colder than the surface, °C.
    pub wash_c: f64,
}

/// A clock that loses its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockReset {
    /// Share of the time at trolling speed after which it happens, 0 to 1.
    pub after: f64,
    /// What the clock shows then.
    pub to: ResetTo,
}

/// What a clock shows after its reset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ResetTo {
    /// So many seconds later than before the reset (earlier where negative).
    By(i64),
    /// This instant, µs since 1970.
    At(i64),
}

impl Default for Knobs {
    fn default() -> Self {
        Self {
            date: None,
            troll_hours: None,
            steps_c: None,
            width_m: None,
            least_crossing_deg: None,
            front_drift_mps: None,
            slope_c_per_km: None,
            cloud_c: None,
            diurnal_c: None,
            patchiness_c: 0.03,
            hull_noise_c: None,
            hull_lag_s: HULL_LAG_S,
            hull_bias_c: 0.0,
            hull_quantum_c: 0.1,
            spikes_per_hour: 2.0,
            dropouts_per_hour: 0.5,
            dirt_chance: 1e-4,
            thermocline_m: None,
            thermocline_step_m: None,
            internal_wave_m: None,
            probe_cycle_s: None,
            current_mps: None,
            deep_share: None,
            edge_change_mps: None,
            log_scale: None,
            heading_offset_deg: None,
            water_faults: WaterFaults::default(),
            probe_lag_s: 1.0,
            bite_factor: 1.0,
            fished_m: None,
            probe_speed: true,
            probe_speed_scale: 1.0,
            probe_speed_noise_mps: 0.0,
            probe_clock_offset_s: 0,
            probe_clock_drift_ppm: 0.0,
            probe_clock_reset: None,
            notes_clock_offset_s: 0,
            handling: None,
            every_second: false,
        }
    }
}

/// Lag of *Kittiwake*'s hull sensor, s.
pub(crate) const HULL_LAG_S: f64 = 3.0;
