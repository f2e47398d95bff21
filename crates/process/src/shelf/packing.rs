//! How is a reading written so that reading it again costs next to nothing?
//!
//! A byte says what it is and which of its numbers are there; time and sender follow where they are not those of before, and
//! then the numbers as they stand in memory. Every reading of a card is written once and read two or three times: a closer
//! packing of the numbers would save a tenth of the room and take several times as long.

use waterseam_logs::{DepthReference, FixKind, NO_TALKER, North, Observation, Talker, Value, WindReference};
use waterseam_units::LatLon;

/// Bits of the first byte that say what a reading is.
const FORM: u8 = 0x3F;
/// The sender stands behind it: it is not that of the last reading of this form.
const NEW_SENDER: u8 = 0x40;
/// The time stands behind it: it is not that of the last reading.
const NEW_TIME: u8 = 0x80;

/// Forms that these bits tell apart.
const N_FORMS: usize = FORM as usize + 1;

/// Numbers of a value, at most.
const N_NUMBERS: usize = 3;

/// As many numbers as a value may have are written and read in one go, so that as many bytes stand behind the last one.
const NUMBERS_BYTES: usize = N_NUMBERS * size_of::<f64>();

/// A reading takes no more bytes than this.
const BYTES_MAX: usize = 1 + size_of::<i64>() + 2 * size_of::<u16>() + NUMBERS_BYTES;

/// The senders (talker and source) of the last readings of each form, and the time of the last of all.
struct Before {
    senders: [(Talker, u16); N_FORMS],
    time_us: i64,
}

impl Before {
    const NOTHING: Self = Self { senders: [(NO_TALKER, 0); N_FORMS], time_us: 0 };
}

/// The forms of a value, each with its number and the numbers that a value of it has. The same words take a value apart and
/// put it together.
macro_rules! forms {
    ($($form:literal: ($($number:ident)+) ($($value:tt)+))+) => {
        /// Number of the form of a value, how many numbers it has, and those.
        #[inline]
        fn apart(value: &Value) -> (u8, usize, [f64; N_NUMBERS]) {
            let mut all = [0.0; N_NUMBERS];
            let (form, n) = match *value {
                $($($value)+ => {
                    let numbers = [$($number),+];
                    all[..numbers.len()].copy_from_slice(&numbers);
                    ($form, numbers.len())
                })+
            };
            (form, n, all)
        }

        /// The value of a form and its numbers; `None` where there is no such form.
        #[inline]
        fn together(form: u8, numbers: [f64; N_NUMBERS]) -> Option<Value> {
            Some(match form {
                $($form => {
                    let [$($number,)+ ..] = numbers;
                    $($value)+
                })+
                _ => return None,
            })
        }

        /// How many numbers a value of each form has; more than any memory holds where there is no such form.
        const N_NUMBERS_OF: [usize; N_FORMS] = {
            let mut of = [usize::MAX / size_of::<f64>(); N_FORMS];
            $(of[$form] = [$(stringify!($number)),+].len();)+
            of
        };
    };
}

forms! {
    0: (a b) (Value::Fix { at: LatLon { lat_deg: a, lon_deg: b }, from: FixKind::Rmc })
    1: (a b) (Value::Fix { at: LatLon { lat_deg: a, lon_deg: b }, from: FixKind::Gga })
    2: (a b) (Value::Fix { at: LatLon { lat_deg: a, lon_deg: b }, from: FixKind::Gns })
    3: (a b) (Value::Fix { at: LatLon { lat_deg: a, lon_deg: b }, from: FixKind::Gll })
    4: (a b) (Value::Fix { at: LatLon { lat_deg: a, lon_deg: b }, from: FixKind::Row })
    5: (a) (Value::GroundVelocity { sog_mps: a, cog_deg: None })
    6: (a b) (Value::GroundVelocity { sog_mps: a, cog_deg: Some(b) })
    7: (a) (Value::WaterTemp { temp_c: a })
    8: (a) (Value::WaterDepth { depth_m: a, reference: DepthReference::Surface, offset_m: None })
    9: (a b) (Value::WaterDepth { depth_m: a, reference: DepthReference::Surface, offset_m: Some(b) })
    10: (a) (Value::WaterDepth { depth_m: a, reference: DepthReference::Transducer, offset_m: None })
    11: (a b) (Value::WaterDepth { depth_m: a, reference: DepthReference::Transducer, offset_m: Some(b) })
    12: (a) (Value::WaterDepth { depth_m: a, reference: DepthReference::Keel, offset_m: None })
    13: (a b) (Value::WaterDepth { depth_m: a, reference: DepthReference::Keel, offset_m: Some(b) })
    14: (a) (Value::WaterSpeed { stw_mps: a, across_mps: None })
    15: (a b) (Value::WaterSpeed { stw_mps: a, across_mps: Some(b) })
    16: (a) (Value::Heading { heading_deg: a, north: North::True })
    17: (a) (Value::Heading { heading_deg: a, north: North::Magnetic })
    18: (a b) (Value::ReportedCurrent { set_deg: a, north: North::True, drift_mps: b })
    19: (a b) (Value::ReportedCurrent { set_deg: a, north: North::Magnetic, drift_mps: b })
    20: (a b) (Value::Wind { speed_mps: a, from_deg: b, reference: WindReference::Apparent })
    21: (a b) (Value::Wind { speed_mps: a, from_deg: b, reference: WindReference::WaterFromBow })
    22: (a b) (Value::Wind { speed_mps: a, from_deg: b, reference: WindReference::TrueNorth })
    23: (a b) (Value::Mark { at: LatLon { lat_deg: a, lon_deg: b } })
    24: (a) (Value::Probe { depth_m: a, temp_c: None, speed_mps: None })
    25: (a b) (Value::Probe { depth_m: a, temp_c: Some(b), speed_mps: None })
    26: (a b) (Value::Probe { depth_m: a, temp_c: None, speed_mps: Some(b) })
    27: (a b c) (Value::Probe { depth_m: a, temp_c: Some(b), speed_mps: Some(c) })
}

/// Bytes of readings that are being packed.
pub(super) struct Writing {
    bytes: Vec<u8>,
    end: usize,
    before: Before,
}

impl Writing {
    /// Room for so many readings.
    pub fn of_so_many(n: usize) -> Self {
        Self { bytes: vec![0; n * BYTES_MAX], end: 0, before: Before::NOTHING }
    }

    /// Adds a reading; there must be room for it.
    #[inline]
    pub fn add(&mut self, reading: &Observation) {
        let Observation { time_us, talker, source, ref value } = *reading;
        let (form, n, numbers) = apart(value);
        let (mut head, mut at) = (form, self.end + 1);
        if time_us != self.before.time_us {
            head |= NEW_TIME;
            put(&mut self.bytes, &mut at, time_us.to_le_bytes());
            self.before.time_us = time_us;
        }
        let sender = &mut self.before.senders[usize::from(form & FORM)];
        if *sender != (talker, source) {
            head |= NEW_SENDER;
            put(&mut self.bytes, &mut at, talker);
            put(&mut self.bytes, &mut at, source.to_le_bytes());
            *sender = (talker, source);
        }
        self.bytes[self.end] = head;
        self.end = at + n * size_of::<f64>();
        for number in numbers {
            put(&mut self.bytes, &mut at, number.to_le_bytes());
        }
    }

    /// What was written, and some bytes behind it. The next reading starts anew.
    pub fn take(&mut self) -> &[u8] {
        self.before = Before::NOTHING;
        let end = std::mem::take(&mut self.end);
        &self.bytes[..(end + NUMBERS_BYTES).min(self.bytes.len())]
    }
}

#[inline]
fn put<const N: usize>(bytes: &mut [u8], at: &mut usize, what: [u8; N]) {
    bytes[*at..*at + N].copy_from_slice(&what);
    *at += N;
}

/// Which forms of readings are asked for.
pub(super) struct Asked([bool; N_FORMS]);

impl Asked {
    /// The forms of those values that are asked for whatever their numbers.
    pub fn of(asks: impl Fn(&Value) -> bool) -> Self {
        let mut forms = 0..;
        Self([(); N_FORMS].map(|()| {
            let value = forms.next().and_then(|form| together(form, [0.0; N_NUMBERS]));
            value.is_some_and(|value| asks(&value))
        }))
    }
}

/// Gives away those of `n` packed readings that are asked for, in their order; `None` where bytes are none of such.
#[inline]
pub(super) fn each(bytes: &[u8], n: usize, asked: &Asked, mut give: impl FnMut(Observation)) -> Option<()> {
    let Before { mut senders, mut time_us } = Before::NOTHING;
    let mut left = bytes;
    for _ in 0..n {
        let (&head, behind) = left.split_first()?;
        left = behind;
        if head & NEW_TIME != 0 {
            time_us = i64::from_le_bytes(take(&mut left)?);
        }
        let form = usize::from(head & FORM);
        let sender = &mut senders[form];
        if head & NEW_SENDER != 0 {
            *sender = (take(&mut left)?, u16::from_le_bytes(take(&mut left)?));
        }
        let numbers: &[u8; NUMBERS_BYTES] = left.first_chunk()?;
        left = left.get(N_NUMBERS_OF[form] * size_of::<f64>()..)?;
        if asked.0[form] {
            let (eights, _) = numbers.as_chunks();
            let value = together(head & FORM, [0, 1, 2].map(|at| f64::from_le_bytes(eights[at])))?;
            give(Observation { time_us, talker: sender.0, source: sender.1, value });
        }
    }
    Some(())
}

#[inline]
fn take<const N: usize>(left: &mut &[u8]) -> Option<[u8; N]> {
    let (taken, behind) = left.split_first_chunk()?;
    *left = behind;
    Some(*taken)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn readings_come_out_as_they_went_in(
            readings in proptest::collection::vec((0_u8..28, any::<[f64; 3]>(), 0_i64..3, 0_u16..2, 0_u8..2), 0..60),
            wanted in any::<u32>(),
        ) {
            let reading = |&(form, numbers, time_us, source, letter): &(u8, [f64; 3], i64, u16, u8)| {
                let value = together(form, numbers.map(|x: f64| if x.is_nan() { -0.0 } else { x })).unwrap();
                Observation { time_us: (time_us - 1) * i64::MAX, talker: [b'A' + letter, b'I'], source, value }
            };
            let is_wanted = |value: &Value| wanted >> apart(value).0 & 1 == 1;
            let all: Vec<Observation> = readings.iter().map(reading).collect();
            let mut writing = Writing::of_so_many(60);
            // the second time is as the first
            for _ in 0..2 {
                for reading in &all {
                    writing.add(reading);
                }
                let (mut found, mut some) = (Vec::new(), Vec::new());
                let bytes = writing.take().to_vec();
                each(&bytes, all.len(), &Asked::of(|_| true), |reading| found.push(reading)).unwrap();
                each(&bytes, all.len(), &Asked::of(is_wanted), |reading| some.push(reading)).unwrap();
                prop_assert_eq!(&found, &all);
                prop_assert_eq!(some, all.iter().copied().filter(|o| is_wanted(&o.value)).collect::<Vec<_>>());
            }
        }

        #[test]
        fn other_bytes_are_no_readings(bytes in proptest::collection::vec(any::<u8>(), 0..200), n in 0_usize..20) {
            let mut found = 0;
            let whole = each(&bytes, n, &Asked::of(|_| true), |_| found += 1);
            prop_assert!(whole.is_none() || found == n);
        }
    }

    #[test]
    fn every_form_is_that_of_its_value() {
        for (form, n) in (0..).zip(N_NUMBERS_OF) {
            let numbers = [1.0, 2.0, 3.0].map(|number| if number > n as f64 { 0.0 } else { number });
            let value = together(form, [1.0, 2.0, 3.0]);
            assert_eq!(value.map(|value| apart(&value)), (n <= N_NUMBERS).then_some((form, n, numbers)));
        }
    }
}
