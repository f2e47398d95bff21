//! Is this file a log of NMEA 0183 sentences?

use super::sentence::candidates;

/// Bytes of a file that are enough to tell.
const HEAD_BYTES: usize = 64 * 1024;

/// Lines of plain text without a sentence that a log may have for each line with one. Other instruments
/// write between the sentences; a text about NMEA has far more lines without than with an example.
const TEXT_LINES_MAX: usize = 4;

/// Whether the first bytes of a file (64 KiB are looked at) are those of a log.
///
/// Sentences count whatever stands before and behind them on the line. Lines that are not plain text are noise
/// and count neither way.
pub fn looks_like(head: &[u8]) -> bool {
    let head = &head[..head.len().min(HEAD_BYTES)];
    let (mut lines_with, mut lines_without, mut checked) = (0, 0, 0);
    for line in head.split(|b| matches!(b, b'\n' | b'\r')).filter(|line| !line.trim_ascii().is_empty()) {
        let (mut good, mut torn) = (0, false);
        for candidate in candidates(line) {
            match candidate.frame {
                Ok(frame) if frame.has_checksum => {
                    good += 1;
                    checked += 1;
                }
                // without a checksum only a sentence that can be decoded is evidence
                Ok(frame) => good += usize::from(frame.address.len() == 5 && frame.decode().is_ok()),
                Err(_) => torn = true,
            }
        }
        lines_with += usize::from(good > 0);
        lines_without += usize::from(good == 0 && !torn && is_text(line));
    }
    let evidence = checked > 0 || lines_with > 1;
    evidence && lines_without <= TEXT_LINES_MAX * lines_with
}

fn is_text(line: &[u8]) -> bool {
    std::str::from_utf8(line).is_ok_and(|text| !text.contains(|c: char| c.is_control() && c != '\t'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logs() {
        for log in [
            "$YXMTW,17.1,C*15",
            "\u{feff}$YXMTW,17.1,C*15\r\n$YXMTW,17.1,C*15\r\n$YX",
            "2026-05-14T06:01:02.5Z $YXMTW,17.1,C*15\n",
            "sounder\t$YXMTW,17.1,C*15\n",
            "\\c:1780751005*67\\$YXMTW,17.1,C*15\n",
            "# started\n\n$YXMTW,17.1,C\n$YXMTW,17.2,C\n",
            ",C*22\n$YXMTW,17.1,C*15$YXMTW,17.1,C*15",
        ] {
            assert!(looks_like(log.as_bytes()), "{log}");
        }
        let mut noisy = (0..4000_u32).map(|n| ((n * n * 31) >> 3) as u8).collect::<Vec<_>>();
        assert!(!looks_like(&noisy));
        noisy.extend(b"\n$YXMTW,17.1,C*15\n");
        assert!(looks_like(&noisy));
    }

    #[test]
    fn other_files() {
        let text = "A sentence looks like this:\n".repeat(9) + "$YXMTW,17.1,C*15\n";
        for other in [
            "",
            "\n\n",
            "time,depth,temperature\n2026-05-14 06:01:02,10,9.5\n",
            "time,species,note\n06:10,lake trout,cost $5, fought well!\n",
            "\u{fffd}\u{fffd}JFIF\0\u{1}",
            "<?xml version=\"1.0\"?><gpx></gpx>",
            "2018-12-06T00:00:00.9947Z 9.1127\n2018-12-06T00:00:01.9998Z 9.1131\n",
            "$YXMTW,17",
            &text,
        ] {
            assert!(!looks_like(other.as_bytes()), "{other}");
        }
    }
}
