//! What does the plotter write on its card?
//!
//! One pass over the voyage, each instrument with its own noise, each kind of sentence at its own interval.

use std::fmt;

use waterseam_units::angle::{east_north, length_direction, wrap_deg};
use waterseam_units::convert::{MPS_PER_KMH, MPS_PER_KN};
use waterseam_units::time::US_PER_S;
use waterseam_units::{LatLon, LocalFrame};

use crate::card::Card;
use crate::clock::Clock;
use crate::days::Day;
use crate::dice::{Dice, Stream, Wander};
use crate::faults::WaterFaults;
use crate::hull::HullSensor;
use crate::lake::water_depth_m;
use crate::nmea::Fields;
use crate::scenario::Knobs;
use crate::truth::LogTruth;
use crate::voyage::{State, Voyage};

/// Depth of the transducer below the surface, m.
pub(crate) const TRANSDUCER_DEPTH_M: f64 = 0.6;
/// Magnetic variation at the harbour in 2026, degrees, east positive: WMM2025 rounded to the plotter's tenth.
pub(crate) const VARIATION_DEG: f64 = -9.0;

/// A log with its account.
pub(crate) struct Log {
    pub text: String,
    pub truth: LogTruth,
    /// First second with a usable position.
    pub first_fix: usize,
    pub spikes: Vec<usize>,
    pub dropouts: Vec<(usize, usize)>,
}

/// Writes the log of a voyage.
pub(crate) fn write(day: &Day, knobs: &Knobs, voyage: &Voyage, clock: Clock) -> Log {
    let mut plotter = Plotter::new(day, knobs);
    let mut card = Card::new(day.seed, knobs.dirt_chance);
    card.begin_torn(clock);
    let mut stamp = Stamp::new();
    let first_fix = plotter.dice.whole(20, 50) as usize;
    for (second, state) in voyage.states.iter().enumerate() {
        stamp.show(clock, second);
        let late = knobs.water_faults.late(&voyage.states, second);
        plotter.second(second, (state, late), &stamp, second >= first_fix, &mut card);
    }
    card.end_torn(clock, voyage.states.len());
    let (spikes, dropouts) = plotter.hull.account();
    Log { truth: card.account(), text: card.text, first_fix, spikes, dropouts }
}

/// The day's mean wind: speed, m/s, and direction from which it blows, degrees.
pub(crate) fn mean_wind(seed: u64) -> (f64, f64) {
    draw_wind(&mut Dice::new(seed, Stream::Position))
}

fn draw_wind(dice: &mut Dice) -> (f64, f64) {
    (dice.uniform(1.5, 5.0), dice.uniform(0.0, 360.0))
}

/// UTC as a sentence has it.
struct Stamp {
    /// The number 235959 at the last second of a day.
    hms: i64,
    /// Day, month, year.
    dmy: String,
    /// The day of `dmy`, since 1970.
    day: i64,
}

impl Stamp {
    fn new() -> Self {
        Self { hms: 0, dmy: String::new(), day: i64::MIN }
    }

    fn show(&mut self, clock: Clock, second: usize) {
        let unix_s = clock.us(second as f64).div_euclid(US_PER_S);
        let (day, s) = (unix_s.div_euclid(86_400), unix_s.rem_euclid(86_400));
        self.hms = s / 3600 * 10_000 + s / 60 % 60 * 100 + s % 60;
        if day != self.day {
            self.day = day;
            self.dmy = clock.utc(second as f64, "%d%m%y");
        }
    }
}

struct Plotter<'a> {
    day: &'a Day,
    dice: Dice,
    hull: HullSensor,
    gps_east: Wander,
    gps_north: Wander,
    wind_mps: f64,
    wind_from_deg: f64,
    gust: Wander,
    faults: WaterFaults,
}

impl<'a> Plotter<'a> {
    fn new(day: &'a Day, knobs: &Knobs) -> Self {
        let mut dice = Dice::new(day.seed, Stream::Position);
        let (wind_mps, wind_from_deg) = draw_wind(&mut dice);
        Self {
            day,
            hull: HullSensor::new(day, knobs),
            // a receiver's error wanders slowly, by a metre or so
            gps_east: Wander::new(1.2, 200.0),
            gps_north: Wander::new(1.2, 200.0),
            wind_mps,
            wind_from_deg,
            faults: knobs.water_faults,
            gust: Wander::new(0.6, 20.0),
            dice,
        }
    }

    /// One second of a state, with heading and speed through the water as the instruments have them by then.
    fn second(
        &mut self,
        second: usize,
        (state, late): (&State, (f64, f64)),
        stamp: &Stamp,
        fixed: bool,
        card: &mut Card,
    ) {
        let every = self.day.habits.intervals;
        let due = |interval: usize| interval > 0 && second.is_multiple_of(interval);
        let error = (self.gps_east.step(&mut self.dice), self.gps_north.step(&mut self.dice));
        let at = LocalFrame::new(state.at).to_position(error.0, error.1);
        let velocity = self.measured_velocity(state);
        if due(every.rmc) {
            write_rmc(card, stamp, fixed.then_some((at, velocity)), self.faults.sog_decimals);
        }
        if due(every.gga) {
            write_gga(card, stamp, fixed.then_some(at));
        }
        if due(every.gll) && fixed {
            card.write("GLL", format_args!("GPGLL,{},{:06},A,A", Fields(at), stamp.hms));
        }
        if due(every.vtg) && fixed {
            write_vtg(card, velocity, self.faults.sog_decimals);
        }
        if let Some(text) = self.hull.second(second, state.at_hull_c, due(every.mtw)) {
            card.write("MTW", format_args!("YXMTW,{text},C"));
        }
        if due(every.dpt) {
            let below_m = water_depth_m(state.point) - TRANSDUCER_DEPTH_M + 0.08 * self.dice.normal();
            card.write("DPT", format_args!("SDDPT,{:.1},{TRANSDUCER_DEPTH_M:.1}", below_m.max(0.4)));
        }
        if due(every.vhw) && self.faults.log {
            self.write_vhw(card, late.1);
        }
        if due(every.hdg) && self.faults.compass {
            self.write_hdg(card, late.0);
        }
        if due(every.mwv) {
            self.write_mwv(card, state);
        }
        if due(every.gsv) {
            write_unneeded(card);
        }
    }

    /// Velocity over ground as the receiver has it, east and north, m/s.
    fn measured_velocity(&mut self, state: &State) -> (f64, f64) {
        const NOISE_MPS: f64 = 0.03;
        (state.east_mps + NOISE_MPS * self.dice.normal(), state.north_mps + NOISE_MPS * self.dice.normal())
    }

    fn write_vhw(&mut self, card: &mut Card, stw_mps: f64) {
        const NOISE_MPS: f64 = 0.02;
        // the wheel turns whichever way the water comes
        let shown_mps = if stw_mps.abs() > 0.0 {
            let reading_mps = (stw_mps.abs() - self.faults.log_offset_mps) / self.day.instruments.log_scale;
            (reading_mps + NOISE_MPS * self.dice.normal()).max(0.0)
        } else {
            0.0
        };
        let (kn, kmh) = (shown_mps / MPS_PER_KN, shown_mps / MPS_PER_KMH);
        card.write("VHW", format_args!("VWVHW,,T,,M,{kn:.2},N,{kmh:.2},K"));
    }

    /// Magnetic heading with the deviation that the compass knows of, and the place's variation.
    fn write_hdg(&mut self, card: &mut Card, heading_deg: f64) {
        const NOISE_DEG: f64 = 0.7;
        let deviation_deg = tenth(0.8 * heading_deg.to_radians().sin());
        let read_deg = self.faults.read_deg(heading_deg, self.day.instruments.heading_offset_deg);
        let shown_deg = read_deg - VARIATION_DEG - deviation_deg + NOISE_DEG * self.dice.normal();
        let shown_deg = wrap_deg(tenth(wrap_deg(shown_deg)));
        let (deviation, variation) = (Easterly(deviation_deg), Easterly(VARIATION_DEG));
        card.write("HDG", format_args!("HCHDG,{shown_deg:.1},{deviation},{variation}"));
    }

    fn write_mwv(&mut self, card: &mut Card, state: &State) {
        let blows = (self.wind_mps + self.gust.step(&mut self.dice)).max(0.0);
        let (east, north) = east_north(blows, self.wind_from_deg + 180.0);
        let (speed_mps, toward) = length_direction(east - state.east_mps, north - state.north_mps);
        let from_bow_deg = wrap_deg(tenth(wrap_deg(toward.unwrap_or(0.0) + 180.0 - state.heading_deg)));
        card.write("MWV", format_args!("WIMWV,{from_bow_deg:.1},R,{:.1},N,A", speed_mps / MPS_PER_KN));
    }
}

fn write_rmc(card: &mut Card, stamp: &Stamp, fix: Option<(LatLon, (f64, f64))>, decimals: usize) {
    let Stamp { hms, dmy, .. } = stamp;
    let Some((at, velocity)) = fix else {
        let arrived = card.write("RMC", format_args!("GPRMC,{hms:06},V,,,,,,,{dmy},,,N"));
        card.truth.void_rmc += u64::from(arrived);
        return;
    };
    let (sog_kn, course) = shown_velocity(velocity);
    card.write_tearable(
        "RMC",
        format_args!("GPRMC,{hms:06},A,{},{sog_kn:.decimals$},{course},{dmy},,,A", Fields(at)),
    );
}

fn write_gga(card: &mut Card, stamp: &Stamp, at: Option<LatLon>) {
    let hms = stamp.hms;
    if let Some(at) = at {
        card.write("GGA", format_args!("GPGGA,{hms:06},{},1,09,0.9,41.0,M,52.0,M,,", Fields(at)));
    } else {
        let arrived = card.write("GGA", format_args!("GPGGA,{hms:06},,,,,0,00,,,M,,M,,"));
        card.truth.void_gga += u64::from(arrived);
    }
}

fn write_vtg(card: &mut Card, velocity: (f64, f64), decimals: usize) {
    let (sog_kn, course) = shown_velocity(velocity);
    let kmh = sog_kn * MPS_PER_KN / MPS_PER_KMH;
    card.write("VTG", format_args!("GPVTG,{course},T,,M,{sog_kn:.decimals$},N,{kmh:.decimals$},K,A"));
}

/// Satellites in view and a maker's own sentence: nothing that this job needs.
fn write_unneeded(card: &mut Card) {
    card.write("GSV", format_args!("GPGSV,2,1,07,04,62,081,44,09,41,275,40,11,24,150,37,16,55,309,45"));
    card.write("GSV", format_args!("GPGSV,2,2,07,22,18,048,33,26,71,205,46,31,12,328,30"));
    card.write("ZZZ", format_args!("PZZZ,1,OK,13.4"));
}

/// Speed in knots and the course field, which stays empty while the boat lies still.
fn shown_velocity((east_mps, north_mps): (f64, f64)) -> (f64, Course) {
    const STILL_MPS: f64 = 0.15;
    let (sog_mps, course_deg) = length_direction(east_mps, north_mps);
    (sog_mps / MPS_PER_KN, Course(course_deg.filter(|_| sog_mps > STILL_MPS)))
}

struct Course(Option<f64>);

impl fmt::Display for Course {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.map_or(Ok(()), |deg| write!(f, "{:.1}", wrap_deg(tenth(deg))))
    }
}

/// An angle as a number and the letter E or W.
struct Easterly(f64);

impl fmt::Display for Easterly {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1},{}", self.0.abs(), if self.0 < 0.0 { 'W' } else { 'E' })
    }
}

fn tenth(value: f64) -> f64 {
    crate::dice::round(value, 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lake::HARBOUR;
    use world_magnetic_model::GeomagneticField;
    use world_magnetic_model::time::Date;
    use world_magnetic_model::uom::si::angle::degree;
    use world_magnetic_model::uom::si::f32::{Angle, Length};
    use world_magnetic_model::uom::si::length::meter;

    /// Source: WMM2025 (NOAA/NCEI), as the `world_magnetic_model` crate computes it.
    #[test]
    fn variation_is_that_of_the_harbour() {
        let field = GeomagneticField::new(
            Length::new::<meter>(0.0),
            Angle::new::<degree>(HARBOUR.lat_deg as f32),
            Angle::new::<degree>(HARBOUR.lon_deg as f32),
            Date::from_ordinal_date(2026, 180).unwrap(),
        )
        .unwrap();
        let declination = f64::from(field.declination().get::<degree>());
        assert!((declination - VARIATION_DEG).abs() <= 0.05, "{declination}");
    }
}
