//! Which of the transducers in an XDR sentence measures the water's temperature?

use waterseam_units::convert::{c_from_f, c_from_k};

use super::decode::Put;
use super::fields::{Fields, number};
use super::reason::Reason;
use crate::observation::Value;

/// Parts of a name that make it a thermometer of the water around the hull (common practice, no source:
/// transducer names are free text).
const WATER_WORDS: [&[u8]; 3] = [b"WATER", b"WTR", b"SEA"];
/// Names that are a water temperature as a whole word.
const WATER_NAMES: [&[u8]; 3] = [b"SST", b"WTEMP", b"TWTR"];
/// Parts of a name that make it water inside the boat (common practice, no source).
const INSIDE_WORDS: [&[u8]; 9] =
    [b"ENG", b"COOL", b"TANK", b"HOT", b"EXH", b"RAW", b"WELL", b"BALLAST", b"FRESH"];

/// XDR: measurements of any number of transducers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Xdr<'a> {
    data: &'a [u8],
}

/// One measurement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transducer<'a> {
    /// What is measured: `C` temperature, `P` pressure, `A` angle …
    pub kind: &'a [u8],
    /// The number as written; `None` where it is empty or can't be read.
    pub value: Option<f64>,
    /// Unit.
    pub unit: &'a [u8],
    /// Name, free text.
    pub name: &'a [u8],
}

impl<'a> Xdr<'a> {
    /// A temperature that can't be read refuses the sentence. Other transducers are passed over whatever they
    /// say, and so is a group of type, value, unit and name that is not complete.
    #[inline(always)]
    pub(super) fn read(data: &'a [u8]) -> Result<Self, Reason> {
        let mut f = Fields::new(data);
        while !f.at_end() {
            let (kind, value) = (f.text(), f.text());
            f.skip(2);
            if kind == b"C" && !value.is_empty() && number(value).is_none() {
                return Err(Reason::FieldUnreadable);
            }
        }
        Ok(Self { data })
    }

    /// The complete groups of type, value, unit and name.
    pub fn transducers(&self) -> impl Iterator<Item = Transducer<'a>> + use<'a> {
        let mut f = Fields::new(self.data);
        std::iter::from_fn(move || {
            let (kind, value, unit) = (f.text(), f.number_if_readable(), f.text());
            (!f.at_end()).then(|| Transducer { kind, value, unit, name: f.text() })
        })
    }

    #[inline(always)]
    pub(super) fn values(&self, put: &mut impl Put) -> Result<(), Reason> {
        for transducer in self.transducers().filter(Transducer::is_water_thermometer) {
            if transducer.value.is_some() && transducer.temp_c().is_none() {
                return Err(Reason::UnitUnknown);
            }
            if let Some(temp_c) = transducer.temp_c() {
                put.put(Value::WaterTemp { temp_c });
            }
        }
        Ok(())
    }
}

impl Transducer<'_> {
    /// Temperature, °C, of a transducer of type `C` in one of its units (none given: Celsius).
    pub fn temp_c(&self) -> Option<f64> {
        match (self.kind, self.unit) {
            (b"C", b"C" | b"") => self.value,
            (b"C", b"F") => self.value.map(c_from_f),
            (b"C", b"K") => self.value.map(c_from_k),
            _ => None,
        }
    }

    /// Pressure, Pa, of a transducer of type `P` in bar or pascal.
    pub fn pressure_pa(&self) -> Option<f64> {
        match (self.kind, self.unit) {
            (b"P", b"B") => self.value.map(|bar| bar * 1e5),
            (b"P", b"P") => self.value,
            _ => None,
        }
    }

    /// Whether type and name say that it is a thermometer of the water around the hull.
    pub fn is_water_thermometer(&self) -> bool {
        let has = |word: &&[u8]| self.name.windows(word.len()).any(|part| part.eq_ignore_ascii_case(word));
        let is = |name: &&[u8]| {
            self.name.split(|b| !b.is_ascii_alphabetic()).any(|part| part.eq_ignore_ascii_case(name))
        };
        self.kind == b"C"
            && (WATER_WORDS.iter().any(has) || WATER_NAMES.iter().any(is))
            && !INSIDE_WORDS.iter().any(has)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_water_thermometers() {
        let water = |name: &str| {
            Transducer { kind: b"C", value: None, unit: b"C", name: name.as_bytes() }.is_water_thermometer()
        };
        for name in ["TempWater", "ENV_WATER_T", "SEA", "SeaTemp", "sst", "WTR_1", "HULL_WATER"] {
            assert!(water(name), "{name}");
        }
        for name in ["AIRTEMP", "ENG_WATER", "LiveWell", "ENV_OUTSIDE_T", "T1", "", "ASSTEMP"] {
            assert!(!water(name), "{name}");
        }
    }

    #[test]
    fn only_complete_groups_count() {
        let xdr = Xdr::read(b"C,6.9,C,SEA,C,5.5,C").unwrap();
        assert_eq!(xdr.transducers().count(), 1);
        assert_eq!(Xdr::read(b"C,C,10.7,C,SEA"), Err(Reason::FieldUnreadable));
    }
}
