//! What is drawn for a day: its water, its route, its fish, the state of its instruments?

mod flat;
mod placing;
mod random;
mod spring;
mod summer;

use std::f64::consts::TAU;

use jiff::civil::Date;
use waterseam_units::angle::{east_north, wrap_deg};

use crate::dice::{Dice, Stream, round};
use crate::fish::SpeciesRate;
use crate::handling::{self, Order};
use crate::lake::{Cloud, Column, Current, Edge, Front, InternalWave, Lake, Patch, Point};
use crate::route::{Leg, ZigZag};
use crate::scenario::{Knobs, Scenario};
use crate::voyage::Speeds;

/// Offset of the boat's time zone, `Etc/GMT+2`, s.
pub(crate) const ZONE_OFFSET_S: i64 = -2 * 3600;

/// Everything about a day that is decided before the boat leaves.
pub(crate) struct Day {
    pub seed: u64,
    pub scenario: Scenario,
    pub date: Date,
    pub lake: Lake,
    pub legs: Vec<Leg>,
    pub speeds: Speeds,
    /// Plotter on, seconds since local midnight.
    pub plotter_on_s: f64,
    pub rates: Vec<SpeciesRate>,
    /// Depths between which lures are set, m.
    pub fished_m: (f64, f64),
    pub instruments: Instruments,
    pub habits: Habits,
    /// What the helm does beside the plan, with the seconds since the first line went out.
    pub orders: Vec<(usize, Order)>,
    /// By how much the water that the screw brings up is colder than the surface, °C.
    pub wash_c: f64,
    /// Sideways drift through the water as a part of the wind across the boat.
    pub leeway: f64,
}

/// How the instruments of the day err.
pub(crate) struct Instruments {
    pub hull_noise_c: f64,
    pub log_scale: f64,
    pub heading_offset_deg: f64,
    /// Added to true time by the probe's clock, s.
    pub probe_clock_s: i64,
}

/// How things are written down that day.
pub(crate) struct Habits {
    pub intervals: Intervals,
    pub probe: ProbeStyle,
    pub probe_interval_s: usize,
    pub notes: NoteStyle,
}

/// Seconds between sentences of a kind; 0: never written.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Intervals {
    pub rmc: usize,
    pub gga: usize,
    pub vtg: usize,
    pub mtw: usize,
    pub dpt: usize,
    pub vhw: usize,
    pub hdg: usize,
    pub mwv: usize,
    pub gsv: usize,
    pub gll: usize,
}

impl Intervals {
    /// A plotter that leaves nothing out.
    const EVERY_SECOND: Self =
        Self { rmc: 1, gga: 1, vtg: 1, mtw: 1, dpt: 1, vhw: 1, hdg: 1, mwv: 1, gsv: 1, gll: 1 };
}

/// Look of the probe's file.
#[derive(Clone, Copy, Debug)]
pub(crate) enum ProbeStyle {
    /// ISO 8601 in UTC, metric, position of the clock stated.
    IsoMetric,
    /// Local date and time in one column, feet, Fahrenheit, miles an hour.
    LocalImperial,
    /// A preamble, semicolons, month-first date and time in two columns, no speed.
    TwoColumns,
}

/// Look of bite notes and gear log.
#[derive(Clone, Copy, Debug)]
pub(crate) enum NoteStyle {
    /// Date and time in every row, numbers with their units.
    FullDate,
    /// Clock time alone; the file's name says the day. The gear log has one row for each event.
    ClockOnly,
    /// Month-first dates, twelve-hour clock.
    MonthFirst,
}

/// What a scenario decides; the rest is the same for all.
struct Sketch {
    date: Date,
    zigzag: ZigZag,
    troll_mps: f64,
    base_c: f64,
    east_c_per_km: f64,
    diurnal_c: f64,
    fronts: Vec<Front>,
    edge: Option<Edge>,
    current_mps: f64,
    deep_c: f64,
    thermocline_m: f64,
    thickness_m: f64,
    swing_m: f64,
    hull_noise_c: f64,
    rates: Vec<SpeciesRate>,
    fished_m: (f64, f64),
    habits: Habits,
}

/// Draws a day.
pub(crate) fn draw(seed: u64, scenario: Scenario, knobs: &Knobs) -> Day {
    let mut dice = Dice::new(seed, Stream::Day);
    let sketch = match scenario {
        Scenario::SpringThermalBar => spring::sketch(knobs, &mut dice),
        Scenario::SummerBreak => summer::sketch(knobs, &mut dice),
        Scenario::FlatDay => flat::sketch(knobs, &mut dice),
        Scenario::Random => random::sketch(seed, knobs, &mut dice),
    };
    let instruments = Instruments {
        hull_noise_c: sketch.hull_noise_c,
        log_scale: knobs.log_scale.unwrap_or(dice.rounded(0.95, 1.08, 3)),
        heading_offset_deg: knobs.heading_offset_deg.unwrap_or(dice.rounded(-2.5, 2.5, 1)),
        probe_clock_s: dice.whole(0, 4) as i64 - 2,
    };
    let mut rates = sketch.rates.clone();
    for rate in &mut rates {
        rate.per_rod_hour *= knobs.bite_factor;
    }
    let planned_s = sketch.zigzag.length_m / sketch.troll_mps;
    let mut helm = Dice::new(seed, Stream::Handling);
    let orders = knobs.handling.map(|handling| handling::orders(&handling, planned_s, &mut helm));
    Day {
        orders: orders.unwrap_or_default(),
        wash_c: knobs.handling.map_or(0.0, |handling| handling.wash_c),
        leeway: knobs.water_faults.leeway,
        seed,
        scenario,
        date: sketch.date,
        legs: sketch.zigzag.legs(),
        speeds: Speeds { run_mps: dice.rounded(9.2, 10.8, 1), troll_mps: sketch.troll_mps },
        plotter_on_s: (dice.rounded(5.3, 6.4, 2) * 3600.0).round(),
        rates,
        fished_m: knobs.fished_m.unwrap_or(sketch.fished_m),
        lake: lake(seed, &sketch, knobs, &mut dice),
        instruments,
        habits: if knobs.every_second {
            Habits { intervals: Intervals::EVERY_SECOND, ..sketch.habits }
        } else {
            sketch.habits
        },
    }
}

fn lake(seed: u64, sketch: &Sketch, knobs: &Knobs, dice: &mut Dice) -> Lake {
    // what only tests ask for has dice of its own, so that it moves nothing else
    let mut weather = Dice::new(seed, Stream::Weather);
    let slope = knobs.slope_c_per_km.map(|slope| east_north(slope, weather.uniform(0.0, 360.0)));
    let drift_mps = knobs.front_drift_mps.map_or(0.0, |most| weather.rounded(-most, most, 3));
    let clouds = knobs.cloud_c.map_or_else(Vec::new, |cools_c| clouds(cools_c, &mut weather));
    let mut below = Dice::new(seed, Stream::Below);
    let deepens_m: Vec<f64> = sketch
        .fronts
        .iter()
        .map(|_| knobs.thermocline_step_m.map_or(0.0, |step_m| below.sign() * step_m))
        .collect();
    let internal_waves =
        knobs.internal_wave_m.map_or_else(Vec::new, |height_m| internal_waves(height_m, &mut below));
    let current_toward_deg = dice.rounded(0.0, 360.0, 0);
    let (east_mps, north_mps) = east_north(sketch.current_mps, current_toward_deg);
    Lake {
        midnight_us: midnight_us(sketch.date),
        base_c: sketch.base_c,
        ground: sketch.zigzag.ground,
        east_c_per_km: slope.map_or(sketch.east_c_per_km, |(east, _)| round(east, 3)),
        north_c_per_km: {
            let drawn = dice.rounded(-0.02, 0.02, 3);
            slope.map_or(drawn, |(_, north)| round(north, 3))
        },
        diurnal_c: sketch.diurnal_c,
        patches: patches(knobs.patchiness_c, dice),
        fronts: sketch
            .fronts
            .iter()
            .zip(deepens_m)
            .map(|(front, deepens_m)| Front { drift_mps, deepens_m, ..*front })
            .collect(),
        internal_waves,
        clouds,
        column: Column {
            deep_c: sketch.deep_c,
            thermocline_m: sketch.thermocline_m,
            thickness_m: sketch.thickness_m,
            swing_m: sketch.swing_m,
            wavelength_m: dice.rounded(9_000.0, 16_000.0, -2),
            toward_deg: dice.rounded(0.0, 360.0, 0),
            period_s: dice.rounded(8.0, 14.0, 1) * 3600.0,
        },
        current: Current {
            east_mps: round(east_mps, 3),
            north_mps: round(north_mps, 3),
            deep_share: knobs.deep_share.unwrap_or(dice.rounded(0.2, 0.6, 2)),
            edge: sketch.edge,
        },
    }
}

/// Two trains of internal waves of 5 to 20 minutes that together lift the thermocline by so much at most. They travel at
/// some tenths of a metre a second (common practice, no source).
fn internal_waves(most_m: f64, dice: &mut Dice) -> Vec<InternalWave> {
    let share = dice.rounded(0.3, 0.7, 2);
    [share, 1.0 - share]
        .map(|share| {
            let period_s = dice.rounded(300.0, 1_200.0, 0);
            InternalWave {
                amplitude_m: round(share * most_m, 3),
                wavelength_m: round(dice.uniform(0.25, 0.5) * period_s, 0),
                toward_deg: dice.rounded(0.0, 360.0, 0),
                period_s,
                phase: dice.rounded(0.0, TAU, 3),
            }
        })
        .to_vec()
}

/// Three shadows between morning and afternoon.
fn clouds(cools_c: f64, dice: &mut Dice) -> Vec<Cloud> {
    [8.0, 9.5, 11.0]
        .map(|from_h| Cloud {
            from_s: (from_h + dice.rounded(0.0, 0.4, 2)) * 3600.0,
            falls_s: dice.rounded(600.0, 1_800.0, 0),
            stays_s: dice.rounded(300.0, 1_200.0, 0),
            rises_s: dice.rounded(1_200.0, 2_400.0, 0),
            cools_c,
        })
        .to_vec()
}

/// Plane waves of 400 m to 3 km in all directions, longer ones higher, with the given standard deviation in sum.
fn patches(sd_c: f64, dice: &mut Dice) -> Vec<Patch> {
    const WAVES: usize = 8;
    let mut waves: Vec<Patch> = (0..WAVES)
        .map(|i| {
            let wavelength_m = 400.0 * 7.5_f64.powf(i as f64 / (WAVES - 1) as f64);
            let (east_per_m, north_per_m) = east_north(TAU / wavelength_m, dice.uniform(0.0, 360.0));
            let phase = dice.rounded(0.0, TAU, 3);
            Patch {
                amplitude_c: wavelength_m.sqrt(),
                east_per_m: round(east_per_m, 6),
                north_per_m: round(north_per_m, 6),
                phase,
            }
        })
        .collect();
    // a sine of amplitude a has the variance a²/2
    let sum_sd = waves.iter().map(|w| 0.5 * w.amplitude_c.powi(2)).sum::<f64>().sqrt();
    for wave in &mut waves {
        wave.amplitude_c = round(wave.amplitude_c * sd_c / sum_sd, 5);
    }
    waves
}

/// Local midnight of a date in the boat's zone, µs since 1970 UTC.
fn midnight_us(date: Date) -> i64 {
    let utc_midnight = date.at(0, 0, 0, 0).to_zoned_datetime(jiff::tz::TimeZone::UTC);
    // UTC has every civil time once; the year range of a date is within that of a timestamp but for its very ends
    let utc_midnight_us = utc_midnight.map_or(0, |zoned| zoned.timestamp().as_microsecond());
    utc_midnight_us - ZONE_OFFSET_S * 1_000_000
}

/// The zig-zag of a day: a ground off the harbour and legs for so many hours at trolling speed.
fn zigzag(bearing_deg: f64, away_m: f64, axis_deg: f64, half_angle_deg: f64, hours: f64, mps: f64) -> ZigZag {
    /// Shorter trips make fewer, not shorter, legs.
    const LONG_DAY_H: f64 = 3.9;
    let ground = Point::default().moved(bearing_deg, away_m);
    ZigZag {
        ground: Point { east_m: ground.east_m.round(), north_m: ground.north_m.round() },
        axis_deg: wrap_deg(axis_deg),
        half_angle_deg,
        legs_each_way: if hours > LONG_DAY_H { 6 } else { 4 },
        length_m: hours * 3600.0 * mps,
    }
}

/// A gentle bend to either side: a radius of 16 km to 33 km.
fn bend_per_m(dice: &mut Dice) -> f64 {
    dice.sign() * dice.rounded(3e-5, 6e-5, 6)
}

/// First step that a test fixes, else as drawn.
fn first_step_c(knobs: &Knobs, drawn: f64) -> f64 {
    knobs.steps_c.as_ref().and_then(|steps| steps.first().copied()).unwrap_or(drawn)
}
