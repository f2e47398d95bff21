//! How does the wind blow, and what else does a weather station say?

use waterseam_units::convert::{MPS_PER_KMH, MPS_PER_KN, MPS_PER_MPH};

use super::decode::Put;
use super::fields::{Fields, not_negative};
use super::reason::Reason;
use crate::observation::{Value, WindReference};

/// Pascals in a bar (exact).
const PA_PER_BAR: f64 = 1e5;
/// Pascals in an inch of mercury (NIST SP 811, appendix B: conventional inch of mercury).
const PA_PER_INHG: f64 = 3386.389;

/// MDA: meteorological composite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mda {
    /// Air pressure, Pa; from the bars of the sentence, else from its inches of mercury.
    pub pressure_pa: Option<f64>,
    /// Air temperature, °C.
    pub air_temp_c: Option<f64>,
    /// Water temperature, °C.
    pub water_temp_c: Option<f64>,
    /// Relative humidity, %.
    pub humidity_percent: Option<f64>,
    /// Dew point, °C.
    pub dew_point_c: Option<f64>,
    /// Wind.
    pub wind: Mwd,
}

/// MWD: wind from the compass, and the same fields in MDA.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mwd {
    /// Direction from which it blows, degrees true.
    pub from_true_deg: Option<f64>,
    /// The same, degrees magnetic.
    pub from_magnetic_deg: Option<f64>,
    /// m/s.
    pub speed_mps: Option<f64>,
}

/// MWV: wind from the bow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mwv {
    /// Angle from the bow, degrees clockwise.
    pub angle_deg: Option<f64>,
    /// `R`: as felt aboard; `T`: without the boat's own speed.
    pub reference: Option<u8>,
    /// m/s.
    pub speed_mps: Option<f64>,
    /// `A`: valid.
    pub status: Option<u8>,
}

/// VWR: apparent wind, angle to either side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vwr {
    /// Angle from the bow, degrees clockwise.
    pub angle_deg: Option<f64>,
    /// m/s.
    pub speed_mps: Option<f64>,
}

impl Mda {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let mut loose = |n_after| {
            let value = f.number_if_readable();
            f.skip(n_after);
            value
        };
        let (inches, bars, air_temp_c) = (loose(1), loose(1), loose(1));
        let water_temp_c = f.number_with(b'C')?;
        let humidity_percent = f.number_if_readable();
        f.skip(1);
        let dew_point_c = f.number_if_readable();
        f.skip(1);
        let pressure_pa = bars.map(|bar| bar * PA_PER_BAR).or(inches.map(|inch| inch * PA_PER_INHG));
        Ok(Self { pressure_pa, air_temp_c, water_temp_c, humidity_percent, dew_point_c, wind: Mwd::read(f)? })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) {
        if let Some(temp_c) = self.water_temp_c {
            put.put(Value::WaterTemp { temp_c });
        }
        self.wind.values(put);
    }
}

impl Mwd {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let (from_true_deg, from_magnetic_deg) = (f.direction_with(b'T')?, f.direction_with(b'M')?);
        let (kn, mps) = (f.number_with(b'N')?, f.number_with(b'M')?);
        let speed_mps = kn.map(|kn| kn * MPS_PER_KN).or(mps).map(not_negative).transpose()?;
        Ok(Self { from_true_deg, from_magnetic_deg, speed_mps })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) {
        put_wind(self.speed_mps, self.from_true_deg, WindReference::TrueNorth, put);
    }
}

impl Mwv {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let (angle_deg, reference, speed) = (f.direction()?, f.letter()?, f.number()?);
        let mps_per_unit = match (f.letter()?, speed) {
            (_, None) | (Some(b'M'), _) => 1.0,
            (Some(b'N'), _) => MPS_PER_KN,
            (Some(b'K'), _) => MPS_PER_KMH,
            (Some(b'S'), _) => MPS_PER_MPH,
            _ => return Err(Reason::UnitUnknown),
        };
        let speed_mps = speed.map(not_negative).transpose()?.map(|speed| speed * mps_per_unit);
        Ok(Self { angle_deg, reference, speed_mps, status: f.letter()? })
    }

    /// Whether the instrument calls its values valid.
    pub fn is_usable(&self) -> bool {
        self.status == Some(b'A')
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        if !self.is_usable() {
            return Err(Reason::StatusInvalid);
        }
        match self.reference {
            Some(b'R') => put_wind(self.speed_mps, self.angle_deg, WindReference::Apparent, put),
            Some(b'T') => put_wind(self.speed_mps, self.angle_deg, WindReference::WaterFromBow, put),
            Some(_) => return Err(Reason::FieldUnreadable),
            None => {}
        }
        Ok(())
    }
}

impl Vwr {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let angle_deg = match (f.direction()?, f.letter()?) {
            (Some(angle), Some(b'R')) if angle <= 180.0 => Some(angle),
            (Some(angle), Some(b'L')) if angle <= 180.0 => {
                Some(if angle > 0.0 { 360.0 - angle } else { 0.0 })
            }
            (Some(_), Some(b'L' | b'R')) => return Err(Reason::ValueOutOfRange),
            (Some(_), Some(_)) => return Err(Reason::FieldUnreadable),
            _ => None,
        };
        let (kn, mps, kmh) = (f.number_with(b'N')?, f.number_with(b'M')?, f.number_with(b'K')?);
        let speed_mps = kn.map(|kn| kn * MPS_PER_KN).or(mps).or(kmh.map(|kmh| kmh * MPS_PER_KMH));
        Ok(Self { angle_deg, speed_mps: speed_mps.map(not_negative).transpose()? })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) {
        put_wind(self.speed_mps, self.angle_deg, WindReference::Apparent, put);
    }
}

fn put_wind(speed: Option<f64>, from: Option<f64>, reference: WindReference, put: &mut impl Put) {
    if let (Some(speed_mps), Some(from_deg)) = (speed, from) {
        put.put(Value::Wind { speed_mps, from_deg, reference });
    }
}
