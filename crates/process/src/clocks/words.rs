//! What does a captain read about a clock?

use waterseam_clocks::{Aligned, Evidence, Grade};

use super::is_unclear;

/// Sentences about the segments of a probe log: what was moved, and what could not be settled.
pub fn remarks(segments: &[Aligned], file_name: &str) -> Vec<String> {
    let many = segments.len() > 1;
    let mut remarks: Vec<String> = segments
        .iter()
        .filter(|segment| segment.is_off())
        .map(|segment| {
            let part = if many {
                format!("Samples {} to {}: the", segment.samples.start + 1, segment.samples.end)
            } else {
                "The".to_owned()
            };
            moved(segment, &part)
        })
        .collect();
    let unclear: Vec<&Aligned> = segments.iter().filter(|segment| is_unclear(segment)).collect();
    if !unclear.is_empty() {
        let part = match unclear[..] {
            [_] if !many => "Its clock".to_owned(),
            _ => {
                let n: usize = unclear.iter().map(|segment| segment.samples.len()).sum();
                format!("The clock of {n} of its samples")
            }
        };
        remarks.push(format!(
            "{part} could not be checked against the boat's: nothing singles out one offset. It is taken as it stands; if \
             you know what to add, say it in the boat file: [clocks.files] \"{file_name}\" = \"+1 h\" (\"0 s\": it was right)."
        ));
    }
    remarks
}

fn moved(segment: &Aligned, part: &str) -> String {
    let Aligned { offset_s, se_s, grade, evidence, .. } = segment;
    let way = if *offset_s > 0.0 { "behind" } else { "ahead of" };
    let about = if *grade == Grade::Certain { "" } else { "about " };
    let by = match evidence {
        Some(Evidence::Positions) => "its positions",
        Some(Evidence::Speed) => "its speed",
        Some(Evidence::Temperature) => "its temperature against the hull's",
        Some(Evidence::Lines) => "its ups and downs against the gear log",
        Some(Evidence::Continuity) | None => "the samples before and after",
    };
    format!(
        "{part} clock was {about}{} {way} GPS time, by {by} (give or take {}); it was moved.",
        span(offset_s.abs()),
        span(2.0 * se_s)
    )
}

/// `1 h 0 min 3 s`, `12.4 s`, `2310 days`.
pub fn span(seconds: f64) -> String {
    if seconds < 60.0 {
        return format!("{seconds:.1} s");
    }
    let whole = seconds.round() as i64;
    let (days, h, min, s) = (whole / 86_400, whole / 3600 % 24, whole / 60 % 60, whole % 60);
    let parts = [(days, "d"), (h, "h"), (min, "min"), (s, "s")];
    let parts: Vec<String> =
        parts.iter().skip_while(|(n, _)| *n == 0).map(|(n, unit)| format!("{n} {unit}")).collect();
    parts.join(" ")
}
