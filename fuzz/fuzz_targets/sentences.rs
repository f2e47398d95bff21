//! Sentence decoding: whatever a line holds, each sentence on it gives the same alone, in noise, and written anew.
#![no_main]

use libfuzzer_sys::fuzz_target;
use waterseam_fuzz::{check_value, sentence};
use waterseam_logs::nmea::{candidates, decode};

fuzz_target!(|line: &[u8]| {
    let mut end = 0;
    let mut all = candidates(line);
    for candidate in all.by_ref() {
        assert!(candidate.start >= end && !candidate.bytes.is_empty());
        end = candidate.start + candidate.bytes.len();
        assert_eq!(&line[candidate.start..end], candidate.bytes);
        let Ok(frame) = candidate.frame else { continue };
        let decoded = frame.decode();
        // a frame without a checksum must have all its fields; one with it is taken as it is
        let anew = sentence(frame.start, &[frame.address, b",", frame.data].concat());
        let has_fields = line[candidate.start + 1 + frame.address.len()..].starts_with(b",");
        if frame.has_checksum && has_fields {
            assert_eq!(decode(candidate.bytes), decoded, "alone");
            assert_eq!(decode(&anew), decoded, "written anew");
            let noisy = [b"\x00 12\xFF".as_slice(), &anew, b"\r\n"].concat();
            assert_eq!(decode(&noisy), decoded, "in noise");
        } else if let Ok(good) = decoded
            && has_fields
            && !frame.data.contains(&b'$')
            && !frame.data.contains(&b'!')
        {
            assert_eq!(decode(&anew), Ok(good), "a checksum changes nothing");
        }
        let Ok(decoded) = decoded else { continue };
        if let Some(time_us) = decoded.body.said().unwrap_or_default().time_of_day_us {
            assert!((0..86_401_000_000).contains(&time_us), "{time_us}");
        }
        let _ = decoded.body.values(&mut |value| check_value(&value));
    }
    assert!(all.tags_wrong() <= line.len() as u64);
});
