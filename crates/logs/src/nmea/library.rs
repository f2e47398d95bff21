//! Which sentences does the `nmea` crate decode, and how is its outcome checked?
//!
//! Tried for each sentence type of the job against the reference sentences and real recordings: version 0.8
//! decodes VHW and MTW rightly in every form that is met, once the fields are known to be plain decimal
//! numbers (it reads `nan`, `inf` and `1e2` as numbers). Its other decoders keep speeds and headings in single
//! precision (RMC VTG HDT MWV MDA), refuse ordinary forms (RMC GGA GLL GNS DPT DBK, and ZDA with a year
//! of two digits as a real receiver sends it) or accept wrong positions (RMC GGA GLL GNS); those types have
//! decoders of our own beside this file. None of its types leaves this module.

use std::borrow::Cow;

use nmea::sentences::{parse_mtw, parse_vhw};
use nmea::{NmeaSentence, SentenceType};

use super::fields::number;
use super::reason::Reason;

/// What VHW says, in the units of the sentence.
pub(super) struct Vhw {
    pub heading_true_deg: Option<f64>,
    pub heading_magnetic_deg: Option<f64>,
    pub stw_kn: Option<f64>,
    pub stw_kmh: Option<f64>,
}

/// Water speed and heading. A value counts where the letter of its unit stands behind it.
pub(super) fn vhw(data: &[u8]) -> Result<Vhw, Reason> {
    let text = plain(data, 8)?;
    let got = parse_vhw(sentence(SentenceType::VHW, &text)).map_err(|_| Reason::FieldUnreadable)?;
    Ok(Vhw {
        heading_true_deg: got.heading_true,
        heading_magnetic_deg: got.heading_magnetic,
        stw_kn: got.relative_speed_knots,
        stw_kmh: got.relative_speed_kmph,
    })
}

/// Water temperature in °C; the unit letter must be `C`.
pub(super) fn mtw_celsius(data: &[u8]) -> Result<Option<f64>, Reason> {
    let text = plain(data, 2)?;
    let got = parse_mtw(sentence(SentenceType::MTW, &text)).map_err(|_| Reason::FieldUnreadable)?;
    Ok(got.temperature)
}

fn sentence(message_id: SentenceType, data: &str) -> NmeaSentence<'_> {
    // talker and checksum are not looked at below the crate's own front door
    NmeaSentence { talker_id: "--", message_id, data, checksum: 0 }
}

/// The fields as text, refused unless each is empty, a letter or a plain decimal number. Blanks that pad a
/// field are taken out, and fields that the sentence ends before are added empty.
fn plain(data: &[u8], n_fields: usize) -> Result<Cow<'_, str>, Reason> {
    let good = |field: &[u8]| matches!(field, [] | [b'A'..=b'Z']) || number(field).is_some();
    let n = data.split(|b| *b == b',').count();
    let padded = data.contains(&b' ');
    if !data.split(|b| *b == b',').all(|field| good(if padded { field.trim_ascii() } else { field })) {
        return Err(Reason::FieldUnreadable);
    }
    let text = std::str::from_utf8(data).map_err(|_| Reason::FieldUnreadable)?;
    if n >= n_fields && !padded {
        return Ok(Cow::Borrowed(text));
    }
    Ok(Cow::Owned(text.replace(' ', "") + &",".repeat(n_fields.saturating_sub(n))))
}
