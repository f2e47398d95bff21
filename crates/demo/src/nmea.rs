//! How is a sentence written?
//!
//! NMEA 0183: `$`, address and fields, `*`, the exclusive or of all bytes between the two as two hex digits, CR LF.

use std::fmt::{self, Write};

use waterseam_units::LatLon;

/// Appends a sentence made of `body`, which starts with the address and has no `$`.
pub(crate) fn push_sentence(out: &mut String, body: fmt::Arguments<'_>) {
    out.push('$');
    let start = out.len();
    // writing to a string cannot fail
    let _ = out.write_fmt(body);
    let checksum = checksum(&out.as_bytes()[start..]);
    let _ = write!(out, "*{checksum:02X}\r\n");
}

/// Exclusive or of bytes.
pub(crate) fn checksum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum ^ byte)
}

/// A position as four fields: `4612.3456,N,02924.5678,W`.
pub(crate) struct Fields(pub LatLon);

impl fmt::Display for Fields {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (lat, lon) = (ten_thousandths(self.0.lat_deg), ten_thousandths(self.0.lon_deg));
        let (lat_letter, lon_letter) = (if lat < 0 { 'S' } else { 'N' }, if lon < 0 { 'W' } else { 'E' });
        let (lat, lon) = (lat.unsigned_abs(), lon.unsigned_abs());
        write!(f, "{:02}{},{lat_letter},", lat / PER_DEGREE, Minutes(lat % PER_DEGREE))?;
        write!(f, "{:03}{},{lon_letter}", lon / PER_DEGREE, Minutes(lon % PER_DEGREE))
    }
}

/// Ten-thousandths of a minute in a degree.
const PER_DEGREE: u64 = 600_000;

/// Ten-thousandths of a minute. Rounding comes first, so that no field ever shows 60.0000 minutes.
fn ten_thousandths(angle_deg: f64) -> i64 {
    (angle_deg * PER_DEGREE as f64).round() as i64
}

struct Minutes(u64);

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}.{:04}", self.0 / 10_000, self.0 % 10_000)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_has_its_checksum() {
        let mut out = String::new();
        push_sentence(&mut out, format_args!("YXMTW,12.3,C"));
        // 12: computed apart, in Python, as the exclusive or of the bytes between $ and *
        assert_eq!(out, "$YXMTW,12.3,C*12\r\n");
    }

    #[test]
    fn minutes_never_reach_sixty() {
        let at = LatLon { lat_deg: 46.999_999_99, lon_deg: -29.400_000_1 };
        assert_eq!(Fields(at).to_string(), "4700.0000,N,02924.0000,W");
    }
}
