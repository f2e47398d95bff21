//! Where is the boat, how does she move over ground, and what time is it?

use waterseam_units::convert::{MPS_PER_KMH, MPS_PER_KN};

use super::decode::Put;
use super::fields::{Fields, Position, SaidTime, not_negative, number, year_of};
use super::reason::Reason;
use crate::observation::{FixKind, Value};
use crate::stamp::midnight_us;

/// RMC: recommended minimum navigation information.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rmc {
    /// Date and time.
    pub said: SaidTime,
    /// `A`: valid.
    pub status: Option<u8>,
    /// Position.
    pub position: Position,
    /// Speed over ground, m/s.
    pub sog_mps: Option<f64>,
    /// Course over ground, degrees true.
    pub cog_deg: Option<f64>,
    /// Magnetic variation, degrees, positive east.
    pub variation_deg: Option<f64>,
    /// How the receiver came to its position (A, D, E, F, M, N, P, R, S).
    pub mode: Option<u8>,
    /// Navigational status; `V` is a receiver that does not provide it, and no warning.
    pub nav_status: Option<u8>,
}

/// GGA: fix with its quality.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gga<'a> {
    /// Time without date.
    pub said: SaidTime,
    /// Position.
    pub position: Position,
    /// Quality: 0 none, 1 to 5 and 9 satellites, 6 dead reckoning, 7 entered by hand, 8 simulator.
    pub quality: Option<u8>,
    /// The fields behind the quality, which a trip does not need: they are read when they are asked for.
    more: &'a [u8],
}

/// GLL: position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gll {
    /// Position.
    pub position: Position,
    /// Time without date.
    pub said: SaidTime,
    /// `A`: valid.
    pub status: Option<u8>,
    /// How the receiver came to its position.
    pub mode: Option<u8>,
}

/// GNS: fix of several satellite systems.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gns<'a> {
    /// Time without date.
    pub said: SaidTime,
    /// Position.
    pub position: Position,
    /// How the receiver came to its position, a letter for each satellite system.
    pub modes: &'a [u8],
    /// The fields behind the modes, which a trip does not need: they are read when they are asked for.
    more: &'a [u8],
}

/// VTG: velocity over ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vtg {
    /// Course, degrees true.
    pub cog_deg: Option<f64>,
    /// Course, degrees magnetic.
    pub cog_magnetic_deg: Option<f64>,
    /// Speed, m/s.
    pub sog_mps: Option<f64>,
    /// How the receiver came to its velocity.
    pub mode: Option<u8>,
}

/// ZDA: date and time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zda {
    /// Date and time, UTC.
    pub said: SaidTime,
    /// Local zone as written, minutes. Makers differ in the sign; it is not used.
    pub zone_minutes: Option<f64>,
}

/// WPL: a waypoint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wpl<'a> {
    /// Position.
    pub position: Position,
    /// Its name.
    pub name: &'a [u8],
}

impl Rmc {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let time_of_day_us = f.time_of_day_us()?;
        let status = f.letter()?;
        let position = f.position();
        let sog_mps = f.number()?.map(not_negative).transpose()?.map(|kn| kn * MPS_PER_KN);
        let cog_deg = f.direction()?;
        let date_us = f.date_us()?;
        // some receivers leave the letter of the variation out, and the mode stands in its place
        let mut ahead = *f;
        ahead.skip(1);
        let is_shifted = matches!(ahead.text(), [b'A' | b'D' | b'F' | b'M' | b'N' | b'P' | b'R' | b'S']);
        let variation_deg = if is_shifted { f.number().map(|_| None)? } else { f.east_or_west()? };
        let (mode, nav_status) = (f.letter()?, f.letter()?);
        let sure = judge(status, mode).is_ok();
        let position = if sure { position? } else { position.unwrap_or_default() };
        let said = SaidTime { date_us, time_of_day_us, sure };
        Ok(Self { said, status, position, sog_mps, cog_deg, variation_deg, mode, nav_status })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        judge(self.status, self.mode)?;
        put_fix(self.position, FixKind::Rmc, put);
        put_velocity(self.sog_mps, self.cog_deg, put);
        Ok(())
    }

    /// Whether position and velocity are those of a satellite fix.
    pub fn is_usable(&self) -> bool {
        judge(self.status, self.mode).is_ok() && self.position.at().is_some()
    }
}

impl<'a> Gga<'a> {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields<'a>) -> Result<Self, Reason> {
        let time_of_day_us = f.time_of_day_us()?;
        let position = f.position();
        let quality = match f.letter()? {
            None => None,
            Some(digit @ b'0'..=b'9') => Some(digit - b'0'),
            Some(_) => return Err(Reason::FieldUnreadable),
        };
        let position = if quality == Some(0) { position.unwrap_or_default() } else { position? };
        let said = SaidTime { date_us: None, time_of_day_us, sure: false };
        Ok(Self { said, position, quality, more: f.rest() })
    }

    /// Satellites in use.
    pub fn satellites(&self) -> Option<f64> {
        number_in(self.more, 0)
    }

    /// Horizontal dilution of precision.
    pub fn hdop(&self) -> Option<f64> {
        number_in(self.more, 1)
    }

    /// Antenna above mean sea level, m.
    pub fn altitude_m(&self) -> Option<f64> {
        number_in(self.more, 2)
    }

    /// Geoid above the ellipsoid, m.
    pub fn geoid_m(&self) -> Option<f64> {
        number_in(self.more, 4)
    }

    /// Age of differential corrections, s.
    pub fn differential_age_s(&self) -> Option<f64> {
        number_in(self.more, 6)
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        self.judge()?;
        put_fix(self.position, FixKind::Gga, put);
        Ok(())
    }

    /// Whether the position is that of a satellite fix.
    pub fn is_usable(&self) -> bool {
        self.judge().is_ok() && self.position.at().is_some()
    }

    fn judge(&self) -> Result<(), Reason> {
        match self.quality {
            Some(0 | 6 | 7) => Err(Reason::VoidFix),
            Some(8) => Err(Reason::Simulated),
            _ => Ok(()),
        }
    }
}

impl Gll {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let position = f.position();
        let said = SaidTime { date_us: None, time_of_day_us: f.time_of_day_us()?, sure: false };
        let (status, mode) = (f.letter()?, f.letter()?);
        // where there is no fix, some receivers write a place that is none
        let position = if judge(status, mode).is_ok() { position? } else { position.unwrap_or_default() };
        Ok(Self { position, said, status, mode })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        judge(self.status, self.mode)?;
        put_fix(self.position, FixKind::Gll, put);
        Ok(())
    }

    /// Whether the position is that of a satellite fix.
    pub fn is_usable(&self) -> bool {
        judge(self.status, self.mode).is_ok() && self.position.at().is_some()
    }
}

impl<'a> Gns<'a> {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields<'a>) -> Result<Self, Reason> {
        let said = SaidTime { date_us: None, time_of_day_us: f.time_of_day_us()?, sure: false };
        Ok(Self { said, position: f.position()?, modes: f.text(), more: f.rest() })
    }

    /// Satellites in use.
    pub fn satellites(&self) -> Option<f64> {
        number_in(self.more, 0)
    }

    /// Horizontal dilution of precision.
    pub fn hdop(&self) -> Option<f64> {
        number_in(self.more, 1)
    }

    /// Antenna above mean sea level, m.
    pub fn altitude_m(&self) -> Option<f64> {
        number_in(self.more, 2)
    }

    /// Geoid above the ellipsoid, m.
    pub fn geoid_m(&self) -> Option<f64> {
        number_in(self.more, 3)
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        self.judge()?;
        put_fix(self.position, FixKind::Gns, put);
        Ok(())
    }

    /// Whether the position is that of a satellite fix.
    pub fn is_usable(&self) -> bool {
        self.judge().is_ok() && self.position.at().is_some()
    }

    fn judge(&self) -> Result<(), Reason> {
        if self.modes.contains(&b'S') {
            return Err(Reason::Simulated);
        }
        if self.modes.iter().any(|mode| judge_mode(Some(*mode)).is_ok()) {
            Ok(())
        } else {
            Err(Reason::VoidFix)
        }
    }
}

impl Vtg {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let course = f.direction()?;
        // before NMEA 2.0 there were four numbers and no letters
        let mut ahead = *f;
        if ahead.text() != b"T" && f.n_left() == 3 {
            let cog_magnetic_deg = f.direction()?;
            let sog_mps = speed(f.number()?, f.number()?)?;
            return Ok(Self { cog_deg: course, cog_magnetic_deg, sog_mps, mode: None });
        }
        f.skip(1);
        let cog_magnetic_deg = f.direction_with(b'M')?;
        let sog_mps = speed(f.number_with(b'N')?, f.number_with(b'K')?)?;
        Ok(Self { cog_deg: course, cog_magnetic_deg, sog_mps, mode: f.letter()? })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        judge_mode(self.mode)?;
        put_velocity(self.sog_mps, self.cog_deg, put);
        Ok(())
    }
}

impl Zda {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let time_of_day_us = f.time_of_day_us()?;
        let date_us = match (f.whole()?, f.whole()?, f.whole()?) {
            (Some(0), Some(0), Some(0)) => None,
            (Some(day), Some(month), Some(year)) => {
                let year = year_of(year).ok_or(Reason::DateOutOfRange)?;
                Some(midnight_us(year, month, day).ok_or(Reason::DateOutOfRange)?)
            }
            _ => None,
        };
        // the minutes have the sign of the hours
        let hours = f.text();
        let minutes = f.number_if_readable().unwrap_or(0.0);
        let zone_minutes =
            number(hours).map(|h| h * 60.0 + if hours[0] == b'-' { -minutes } else { minutes });
        // telling the date is its purpose, so it is believed although no status stands in it
        Ok(Self { said: SaidTime { date_us, time_of_day_us, sure: true }, zone_minutes })
    }
}

impl<'a> Wpl<'a> {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields<'a>) -> Result<Self, Reason> {
        Ok(Self { position: f.position()?, name: f.text() })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) {
        if let Some(at) = self.position.at() {
            put.put(Value::Mark { at });
        }
    }
}

/// The number in a field, counted from 0; what can't be read is missing.
fn number_in(fields: &[u8], n_before: usize) -> Option<f64> {
    let mut f = Fields::new(fields);
    f.skip(n_before);
    f.number_if_readable()
}

/// Whether status and mode say that there is a satellite fix.
fn judge(status: Option<u8>, mode: Option<u8>) -> Result<(), Reason> {
    judge_mode(mode).and(if status == Some(b'A') { Ok(()) } else { Err(Reason::VoidFix) })
}

/// Whether the mode says that there is a satellite fix. Dead reckoning (E) and positions entered by hand (M)
/// are none: a break or a bite can't be placed by them. Without a mode (before NMEA 2.3) the status decides.
fn judge_mode(mode: Option<u8>) -> Result<(), Reason> {
    match mode {
        Some(b'N' | b'E' | b'M') => Err(Reason::VoidFix),
        Some(b'S') => Err(Reason::Simulated),
        _ => Ok(()),
    }
}

/// Speed in m/s from knots, or from km/h where there are no knots.
fn speed(kn: Option<f64>, kmh: Option<f64>) -> Result<Option<f64>, Reason> {
    let mps = kn.map(|kn| kn * MPS_PER_KN).or(kmh.map(|kmh| kmh * MPS_PER_KMH));
    mps.map(not_negative).transpose()
}

#[inline]
fn put_fix(position: Position, from: FixKind, put: &mut impl Put) {
    if let Some(at) = position.at() {
        put.put(Value::Fix { at, from });
    }
}

fn put_velocity(sog_mps: Option<f64>, cog_deg: Option<f64>, put: &mut impl Put) {
    if let Some(sog_mps) = sog_mps {
        put.put(Value::GroundVelocity { sog_mps, cog_deg });
    }
}
