//! How warm and how deep is the water, and how does it move past the hull and over ground?

use waterseam_units::convert::{M_PER_FATHOM, M_PER_FT, MPS_PER_KMH, MPS_PER_KN, c_from_f, c_from_k};

use super::decode::Put;
use super::fields::{Fields, in_circle, is_plain, not_negative};
use super::reason::Reason;
use crate::observation::{DepthReference, North, Value};

/// MTW: water temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mtw {
    /// °C.
    pub temp_c: Option<f64>,
}

/// DPT: depth below the transducer and where that sits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dpt {
    /// Depth below the transducer, m.
    pub depth_m: Option<f64>,
    /// Distance from the transducer up to the water line (positive) or down to the keel (negative), m.
    pub offset_m: Option<f64>,
    /// Range of the sounder, m.
    pub range_m: Option<f64>,
}

/// DBT, DBS or DBK: depth below the transducer, the surface or the keel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DepthBelow {
    /// What the depth is measured from.
    pub reference: DepthReference,
    /// m; from the metres of the sentence, else from its feet, else from its fathoms.
    pub depth_m: Option<f64>,
}

/// VHW: water speed and heading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vhw {
    /// Heading, degrees true.
    pub heading_true_deg: Option<f64>,
    /// Heading, degrees magnetic.
    pub heading_magnetic_deg: Option<f64>,
    /// Speed through the water, m/s.
    pub stw_mps: Option<f64>,
}

/// VBW: speeds through the water and over ground along and across the hull.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vbw {
    /// Through the water.
    pub water: HullSpeeds,
    /// Over ground.
    pub ground: HullSpeeds,
    /// Through the water, across at the stern, m/s to starboard.
    pub stern_water_across_mps: Option<f64>,
}

/// Speeds along and across the hull.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HullSpeeds {
    /// Ahead, m/s.
    pub along_mps: Option<f64>,
    /// To starboard, m/s.
    pub across_mps: Option<f64>,
    /// `A`: valid.
    pub status: Option<u8>,
}

/// VDR: set and drift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vdr {
    /// Direction toward which the water moves, degrees true.
    pub set_deg: Option<f64>,
    /// The same, degrees magnetic.
    pub set_magnetic_deg: Option<f64>,
    /// Speed of the water, m/s.
    pub drift_mps: Option<f64>,
}

impl Mtw {
    /// Celsius is the only unit of the standard and is meant where the unit is missing; Fahrenheit and kelvin
    /// are converted.
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let temp = f.number()?;
        let temp_c = match f.letter()? {
            Some(b'C') if !f.are_plain() => return Err(Reason::FieldUnreadable),
            Some(b'C') | None => temp,
            Some(b'F') => temp.map(c_from_f),
            Some(b'K') => temp.map(c_from_k),
            Some(_) => return Err(Reason::UnitUnknown),
        };
        Ok(Self { temp_c })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) {
        if let Some(temp_c) = self.temp_c {
            put.put(Value::WaterTemp { temp_c });
        }
    }
}

impl Dpt {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let depth_m = f.number()?.map(not_negative).transpose()?;
        Ok(Self { depth_m, offset_m: f.number()?, range_m: f.number_if_readable() })
    }

    /// What the sentence gives a depth below: the surface where the offset says how far up it is, the keel
    /// where it says how far down that is, else the transducer.
    pub fn depth_below(&self, reference: DepthReference) -> Option<f64> {
        let (depth_m, offset_m) = (self.depth_m?, self.offset_m.unwrap_or(0.0));
        match reference {
            DepthReference::Transducer => Some(depth_m),
            DepthReference::Surface => (offset_m > 0.0).then_some(depth_m + offset_m),
            DepthReference::Keel => (offset_m < 0.0).then_some(depth_m + offset_m),
        }
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        let Some(below_transducer_m) = self.depth_m else { return Ok(()) };
        if below_transducer_m == 0.0 {
            return Err(Reason::DepthZero);
        }
        let [surface, keel] = [DepthReference::Surface, DepthReference::Keel]
            .map(|reference| Some((self.depth_below(reference)?, reference)));
        let (depth_m, reference) =
            surface.or(keel).unwrap_or((below_transducer_m, DepthReference::Transducer));
        let offset_m = self.offset_m.filter(|offset_m| *offset_m != 0.0);
        put.put(Value::WaterDepth { depth_m: not_negative(depth_m)?, reference, offset_m });
        Ok(())
    }
}

impl DepthBelow {
    #[inline(always)]
    pub(super) fn read(reference: DepthReference, f: &mut Fields) -> Result<Self, Reason> {
        let (ft, m, fathoms) = (f.number_with(b'f')?, f.number_with(b'M')?, f.number_with(b'F')?);
        let depth_m = m.or(ft.map(|ft| ft * M_PER_FT)).or(fathoms.map(|n| n * M_PER_FATHOM));
        Ok(Self { reference, depth_m: depth_m.map(not_negative).transpose()? })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        match self.depth_m {
            Some(0.0) => Err(Reason::DepthZero),
            Some(depth_m) => {
                put.put(Value::WaterDepth { depth_m, reference: self.reference, offset_m: None });
                Ok(())
            }
            None => Ok(()),
        }
    }
}

impl Vhw {
    /// A value counts where the letter of its unit stands behind it.
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let [heading_true, heading_magnetic, kn] =
            [with_letter(b'T', f)?, with_letter(b'M', f)?, with_letter(b'N', f)?];
        let (kmh, letter) = (f.number()?, f.text());
        if !(is_plain(letter) && f.are_plain()) {
            return Err(Reason::FieldUnreadable);
        }
        let kmh = kmh.filter(|_| letter == b"K");
        Ok(Self {
            heading_true_deg: heading_true.map(in_circle).transpose()?,
            heading_magnetic_deg: heading_magnetic.map(in_circle).transpose()?,
            stw_mps: kn.map(|kn| kn * MPS_PER_KN).or(kmh.map(|kmh| kmh * MPS_PER_KMH)),
        })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) {
        if let Some(stw_mps) = self.stw_mps {
            put.put(Value::WaterSpeed { stw_mps, across_mps: None });
        }
        if let Some(heading_deg) = self.heading_true_deg {
            put.put(Value::Heading { heading_deg, north: North::True });
        } else if let Some(heading_deg) = self.heading_magnetic_deg {
            put.put(Value::Heading { heading_deg, north: North::Magnetic });
        }
    }
}

/// A number that is missing where the letter behind it is.
#[inline(always)]
fn with_letter(letter: u8, f: &mut Fields) -> Result<Option<f64>, Reason> {
    let value = f.number()?;
    match f.letter()? {
        None => Ok(None),
        Some(found) if found == letter => Ok(value),
        Some(_) => Err(Reason::FieldUnreadable),
    }
}

impl Vbw {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        let (water, ground) = (HullSpeeds::read(f)?, HullSpeeds::read(f)?);
        let stern_water_across_mps = f.number_if_readable().map(|kn| kn * MPS_PER_KN);
        Ok(Self { water, ground, stern_water_across_mps })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        if !self.water.is_usable() {
            return Err(Reason::StatusInvalid);
        }
        if let Some(stw_mps) = self.water.along_mps {
            put.put(Value::WaterSpeed { stw_mps, across_mps: self.water.across_mps });
        }
        Ok(())
    }
}

impl HullSpeeds {
    #[inline(always)]
    fn read(f: &mut Fields) -> Result<Self, Reason> {
        let mut mps = || Ok(f.number()?.map(|kn| kn * MPS_PER_KN));
        Ok(Self { along_mps: mps()?, across_mps: mps()?, status: f.letter()? })
    }

    /// Whether the instrument calls its values valid.
    pub fn is_usable(&self) -> bool {
        self.status == Some(b'A')
    }
}

impl Vdr {
    #[inline(always)]
    pub(super) fn read(f: &mut Fields) -> Result<Self, Reason> {
        Ok(Self {
            set_deg: f.direction_with(b'T')?,
            set_magnetic_deg: f.direction_with(b'M')?,
            drift_mps: f.number_with(b'N')?.map(not_negative).transpose()?.map(|kn| kn * MPS_PER_KN),
        })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) {
        let magnetic = self.set_magnetic_deg.map(|set_deg| (set_deg, North::Magnetic));
        let set = self.set_deg.map(|set_deg| (set_deg, North::True)).or(magnetic);
        if let (Some((set_deg, north)), Some(drift_mps)) = (set, self.drift_mps) {
            put.put(Value::ReportedCurrent { set_deg, north, drift_mps });
        }
    }
}
