//! Where does the bow point?

use waterseam_units::angle::wrap_deg;

use super::decode::Put;
use super::fields::Fields;
use super::reason::Reason;
use crate::observation::{North, Value};

/// HDG: reading of a magnetic sensor with its corrections.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hdg {
    /// What the sensor shows, degrees.
    pub sensor_deg: Option<f64>,
    /// Deviation, degrees, positive east.
    pub deviation_deg: Option<f64>,
    /// Variation, degrees, positive east.
    pub variation_deg: Option<f64>,
}

/// HDT, THS or HDM: a heading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heading {
    /// Degrees.
    pub heading_deg: Option<f64>,
    /// North that it counts from.
    pub north: North,
    /// Mode of THS: `A` is measured, others are estimated, entered, simulated or not valid.
    pub mode: Option<u8>,
}

impl Hdg {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let sensor_deg = f.direction()?;
        Ok(Self { sensor_deg, deviation_deg: f.east_or_west()?, variation_deg: f.east_or_west()? })
    }

    /// Heading from magnetic north: the sensor's reading plus the deviation (none given: 0), degrees.
    pub fn magnetic_deg(&self) -> Option<f64> {
        Some(wrap_deg(self.sensor_deg? + self.deviation_deg.unwrap_or(0.0)))
    }

    /// Heading from true north: magnetic heading plus variation, degrees; `None` without a variation.
    pub fn true_deg(&self) -> Option<f64> {
        Some(wrap_deg(self.magnetic_deg()? + self.variation_deg?))
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) {
        if let Some(heading_deg) = self.true_deg() {
            put.put(Value::Heading { heading_deg, north: North::True });
        } else if let Some(heading_deg) = self.magnetic_deg() {
            put.put(Value::Heading { heading_deg, north: North::Magnetic });
        }
    }
}

impl Heading {
    /// HDT or HDM.
    #[inline(always)]
    pub(super) fn read(north: North, f: &mut Fields) -> Result<Self, Reason> {
        let letter = if north == North::True { b'T' } else { b'M' };
        Ok(Self { heading_deg: f.direction_with(letter)?, north, mode: None })
    }

    /// THS.
    #[inline(always)]
    pub(super) fn read_with_mode(f: &mut Fields) -> Result<Self, Reason> {
        Ok(Self { heading_deg: f.direction()?, north: North::True, mode: f.letter()? })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        match self.mode {
            None | Some(b'A') => {}
            Some(b'S') => return Err(Reason::Simulated),
            Some(_) => return Err(Reason::StatusInvalid),
        }
        if let Some(heading_deg) = self.heading_deg {
            put.put(Value::Heading { heading_deg, north: self.north });
        }
        Ok(())
    }
}
