//! What does the probe on the downrigger's cable write?
//!
//! It goes down and up with the line of the first rod and logs while it is wet. After each set of the lines the mate
//! lets it look below the thermocline before it is raised to where the lure fishes. On some days he lets it go down and up
//! through the thermocline all along.

use std::fmt::Write;

use waterseam_units::convert::{M_PER_FT, MPS_PER_KN, MPS_PER_MPH, f_from_c};
use waterseam_units::time::US_PER_S;

use crate::clock::Clock;
use crate::days::{Day, ProbeStyle};
use crate::dice::{Dice, Stream, Wander};
use crate::lake::water_depth_m;
use crate::lines::{PROBE_ROD, Spell};
use crate::scenario::{Knobs, ResetTo};
use crate::truth::ProbeTimeTruth;
use crate::voyage::Voyage;

/// The probe's file, and when it went down and up.
pub(crate) struct ProbeLog {
    pub text: String,
    pub casts: Vec<Cast>,
    pub times: Vec<ProbeTimeTruth>,
}

/// A way down or up, in seconds of the voyage.
pub(crate) struct Cast {
    pub start: usize,
    pub end: usize,
    pub down: bool,
    pub deepest_m: f64,
}

/// Speeds of the cable, m/s.
const DOWN_MPS: f64 = 0.35;
const LIFT_MPS: f64 = 0.40;
const UP_MPS: f64 = 0.60;
/// The first look goes this far below the lower end of the thermocline, m.
const LOOK_BELOW_M: f64 = 5.0;
/// Time at the lowest point of a look, s.
const LOOK_S: usize = 15;
/// Depth at which the probe hangs before it goes down, m; above it, it is dry.
const WET_M: f64 = 0.4;
/// Clear water kept below the probe, m.
const OFF_BOTTOM_M: f64 = 3.0;
/// Noise of depth, m, and temperature, °C.
const DEPTH_NOISE_M: f64 = 0.05;
const TEMP_NOISE_C: f64 = 0.03;

/// Writes the probe's file.
pub(crate) fn write(day: &Day, knobs: &Knobs, voyage: &Voyage, spells: &[Spell], clock: Clock) -> ProbeLog {
    let mut depths_m: Vec<Option<f64>> = vec![None; voyage.states.len()];
    let mut casts = Vec::new();
    for spell in spells.iter().filter(|spell| spell.rod == PROBE_ROD) {
        lower_and_raise(day, knobs, voyage, spell, &mut depths_m, &mut casts);
    }
    let (text, times) = text(day, knobs, voyage, &depths_m, clock);
    ProbeLog { text, casts, times }
}

/// What the probe's clock shows at a second of the voyage, as a second of the voyage.
fn shown_second(day: &Day, knobs: &Knobs, voyage: &Voyage, clock: Clock, second: usize) -> f64 {
    let running = |second: usize| {
        let second = second as f64;
        let offset_s = day.instruments.probe_clock_s + knobs.probe_clock_offset_s;
        second * (1.0 + 1e-6 * knobs.probe_clock_drift_ppm) + offset_s as f64
    };
    let Some(reset) = knobs.probe_clock_reset else { return running(second) };
    let at = voyage.trolling.start + (reset.after * voyage.trolling.len() as f64) as usize;
    if second < at {
        return running(second);
    }
    let jump_s = match reset.to {
        ResetTo::By(seconds) => seconds as f64,
        ResetTo::At(time_us) => (time_us - clock.us(running(at))) as f64 / US_PER_S as f64,
    };
    running(second) + jump_s
}

/// Fills in the depth of the cable's end for one spell.
fn lower_and_raise(
    day: &Day,
    knobs: &Knobs,
    voyage: &Voyage,
    spell: &Spell,
    depths_m: &mut [Option<f64>],
    casts: &mut Vec<Cast>,
) {
    let state = &voyage.states[spell.start];
    let fishing_m = spell.setup.running_depth_m;
    let below_m = state.thermocline_depth_m + 0.5 * day.lake.column.thickness_m + LOOK_BELOW_M;
    let look_m = if spell.is_new_set { fishing_m.max(below_m) } else { fishing_m };
    let look_m = look_m.min(water_depth_m(state.point) - OFF_BOTTOM_M);
    let mut cable = Cable { depths_m, second: spell.start, depth_m: WET_M };

    casts.push(cable.go(look_m, DOWN_MPS));
    if spell.is_new_set {
        cable.stay(cable.second + LOOK_S);
    }
    cable.go(fishing_m.min(look_m), LIFT_MPS);
    if let Some(cycle_s) = knobs.probe_cycle_s {
        cable.undulate(&turns_m(day, knobs), cycle_s, voyage, spell.end);
    }
    cable.stay(spell.end);
    casts.push(cable.go(WET_M, UP_MPS));
}

/// The probe turns this far beyond all depths at which the thermocline may lie, m.
const BEYOND_M: f64 = 2.0;
/// Shallowest turn, m.
const SHALLOWEST_M: f64 = 1.0;

/// Upper and lower turn of a probe that goes through the thermocline all along, m.
fn turns_m(day: &Day, knobs: &Knobs) -> [f64; 2] {
    let column = &day.lake.column;
    let fronts_m: f64 = day.lake.fronts.iter().map(|front| 0.5 * front.deepens_m.abs()).sum();
    let reach_m = BEYOND_M + column.swing_m + fronts_m + knobs.internal_wave_m.unwrap_or(0.0);
    [-reach_m, reach_m].map(|off_m| (column.thermocline_m + off_m).max(SHALLOWEST_M))
}

struct Cable<'a> {
    depths_m: &'a mut [Option<f64>],
    second: usize,
    depth_m: f64,
}

impl Cable<'_> {
    fn go(&mut self, to_m: f64, speed_mps: f64) -> Cast {
        let (start, from_m) = (self.second, self.depth_m);
        let seconds = ((to_m - from_m).abs() / speed_mps).ceil() as usize;
        for i in 0..seconds {
            let moved_m = (i as f64 * speed_mps).min((to_m - from_m).abs());
            self.put(from_m + moved_m * (to_m - from_m).signum());
        }
        self.depth_m = to_m;
        Cast { start, end: self.second, down: to_m > from_m, deepest_m: from_m.max(to_m) }
    }

    /// Goes down and up between two depths, as deep as the water allows, as long as a whole leg is left.
    fn undulate(&mut self, [upper_m, lower_m]: &[f64; 2], cycle_s: f64, voyage: &Voyage, until: usize) {
        let speed_mps = 2.0 * (lower_m - upper_m) / cycle_s;
        let mut down = true;
        while self.second + (0.5 * cycle_s) as usize + 1 < until {
            let bottom_m = voyage.states.get(self.second).map_or(f64::INFINITY, |s| water_depth_m(s.point));
            let to_m = if down { lower_m.min(bottom_m - OFF_BOTTOM_M) } else { *upper_m };
            self.go(to_m, speed_mps);
            // in water too shallow for it the cable waits
            self.stay(self.second + 1);
            down = !down;
        }
    }

    fn stay(&mut self, until: usize) {
        while self.second < until {
            self.put(self.depth_m);
        }
    }

    fn put(&mut self, depth_m: f64) {
        if let Some(place) = self.depths_m.get_mut(self.second) {
            *place = Some(depth_m);
        }
        self.second += 1;
    }
}

fn text(
    day: &Day,
    knobs: &Knobs,
    voyage: &Voyage,
    depths_m: &[Option<f64>],
    clock: Clock,
) -> (String, Vec<ProbeTimeTruth>) {
    let mut dice = Dice::new(day.seed, Stream::Probe);
    // swell and the boat's speed move the cable's end a little
    let mut heave = Wander::new(0.15, 25.0);
    let mut speed_dice = Dice::new(day.seed, Stream::ProbeSpeed);
    let noise_mps = knobs.probe_speed_noise_mps;
    let response = if knobs.probe_lag_s > 0.0 { 1.0 - (-1.0 / knobs.probe_lag_s).exp() } else { 1.0 };
    let mut felt_c: Option<f64> = None;
    let style = day.habits.probe;
    let mut times = Vec::new();
    let mut out = String::from(style.head());
    if !knobs.probe_speed {
        out = out.replace(",Speed (kn)", "").replace(",Speed (mph)", "");
    }
    for (second, depth_m) in depths_m.iter().enumerate() {
        let Some(cable_m) = *depth_m else {
            felt_c = None;
            continue;
        };
        let state = &voyage.states[second];
        let depth_m = (cable_m + heave.step(&mut dice)).max(0.0);
        let water_c = day.lake.column.temp_c(state.surface_temp_c, depth_m, state.thermocline_depth_m);
        let temp_c = felt_c.map_or(water_c, |felt_c| felt_c + response * (water_c - felt_c));
        felt_c = Some(temp_c);
        if second % day.habits.probe_interval_s != 0 {
            continue;
        }
        let current = day.lake.current.at_depth_mps(state.point, depth_m, state.thermocline_depth_m);
        let shown = shown_second(day, knobs, voyage, clock, second);
        let shown_us = clock.us(shown).div_euclid(US_PER_S) * US_PER_S;
        times.push(ProbeTimeTruth { shown_us, true_us: clock.us(second as f64) });
        let through_mps = (state.east_mps - current.0).hypot(state.north_mps - current.1);
        let speed_mps = through_mps / knobs.probe_speed_scale + noise_mps * speed_dice.normal();
        let row = Row {
            second: shown,
            depth_m: (depth_m + DEPTH_NOISE_M * dice.normal()).max(0.0),
            temp_c: temp_c + TEMP_NOISE_C * dice.normal(),
            speed_mps: knobs.probe_speed.then_some(speed_mps.max(0.0)),
        };
        style.push_row(&mut out, clock, &row);
    }
    (out, times)
}

struct Row {
    second: f64,
    depth_m: f64,
    temp_c: f64,
    speed_mps: Option<f64>,
}

impl ProbeStyle {
    fn head(self) -> &'static str {
        match self {
            Self::IsoMetric => "Time (UTC),Depth (m),Temperature (°C),Speed (kn)\n",
            Self::LocalImperial => "Time,Depth (ft),Temp (F),Speed (mph)\n",
            Self::TwoColumns => {
                "Downrigger probe log\nBoat: Kittiwake\nClock: boat's time\n\nDate;Time;Depth ft;Temp F\n"
            }
        }
    }

    fn push_row(self, out: &mut String, clock: Clock, row: &Row) {
        let Row { second, depth_m, temp_c, speed_mps } = *row;
        let (depth_ft, temp_f) = (depth_m / M_PER_FT, f_from_c(temp_c));
        // writing to a string cannot fail
        let _ = match self {
            Self::IsoMetric => {
                let time = clock.utc(second, "%Y-%m-%dT%H:%M:%SZ");
                let speed = speed_mps.map(|mps| format!(",{:.1}", mps / MPS_PER_KN)).unwrap_or_default();
                writeln!(out, "{time},{depth_m:.2},{temp_c:.2}{speed}")
            }
            Self::LocalImperial => {
                let time = clock.local(second, "%Y-%m-%d %H:%M:%S");
                let speed = speed_mps.map(|mps| format!(",{:.1}", mps / MPS_PER_MPH)).unwrap_or_default();
                writeln!(out, "{time},{depth_ft:.1},{temp_f:.1}{speed}")
            }
            Self::TwoColumns => {
                let time = clock.local(second, "%m/%d/%Y;%H:%M:%S");
                writeln!(out, "{time};{depth_ft:.1};{temp_f:.1}")
            }
        };
    }
}
