//! What does the probe on the downrigger's cable write?
//!
//! It goes down and up with the line of the first rod and logs while it is wet. After each set of the lines the mate
//! lets it look below the thermocline before it is raised to where the lure fishes.

use std::fmt::Write;

use waterseam_units::convert::{M_PER_FT, MPS_PER_KN, MPS_PER_MPH, f_from_c};

use crate::clock::Clock;
use crate::days::{Day, ProbeStyle};
use crate::dice::{Dice, Stream, Wander};
use crate::lake::water_depth_m;
use crate::lines::{PROBE_ROD, Spell};
use crate::scenario::Knobs;
use crate::voyage::Voyage;

/// The probe's file, and when it went down and up.
pub(crate) struct ProbeLog {
    pub text: String,
    pub casts: Vec<Cast>,
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
        lower_and_raise(day, voyage, spell, &mut depths_m, &mut casts);
    }
    let text = text(day, knobs, voyage, &depths_m, clock);
    ProbeLog { text, casts }
}

/// Fills in the depth of the cable's end for one spell.
fn lower_and_raise(
    day: &Day,
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
    cable.stay(spell.end);
    casts.push(cable.go(WET_M, UP_MPS));
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

fn text(day: &Day, knobs: &Knobs, voyage: &Voyage, depths_m: &[Option<f64>], clock: Clock) -> String {
    let mut dice = Dice::new(day.seed, Stream::Probe);
    // swell and the boat's speed move the cable's end a little
    let mut heave = Wander::new(0.15, 25.0);
    let response = if knobs.probe_lag_s > 0.0 { 1.0 - (-1.0 / knobs.probe_lag_s).exp() } else { 1.0 };
    let mut felt_c: Option<f64> = None;
    let mut out = String::from(day.habits.probe.head());
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
        let row = Row {
            second: second as f64 + day.instruments.probe_clock_s as f64,
            depth_m: (depth_m + DEPTH_NOISE_M * dice.normal()).max(0.0),
            temp_c: temp_c + TEMP_NOISE_C * dice.normal(),
            speed_mps: (state.east_mps - current.0).hypot(state.north_mps - current.1),
        };
        day.habits.probe.push_row(&mut out, clock, &row);
    }
    out
}

struct Row {
    second: f64,
    depth_m: f64,
    temp_c: f64,
    speed_mps: f64,
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
                writeln!(out, "{time},{depth_m:.2},{temp_c:.2},{:.1}", speed_mps / MPS_PER_KN)
            }
            Self::LocalImperial => {
                let time = clock.local(second, "%Y-%m-%d %H:%M:%S");
                writeln!(out, "{time},{depth_ft:.1},{temp_f:.1},{:.1}", speed_mps / MPS_PER_MPH)
            }
            Self::TwoColumns => {
                let time = clock.local(second, "%m/%d/%Y;%H:%M:%S");
                writeln!(out, "{time};{depth_ft:.1};{temp_f:.1}")
            }
        };
    }
}
