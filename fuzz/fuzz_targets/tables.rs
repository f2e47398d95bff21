//! Recognition of delimited tables, and their readers: probe logs, bite notes, gear logs.
#![no_main]

use libfuzzer_sys::fuzz_target;
use waterseam_fuzz::{boat, read_and_check};

/// Headings that make a table of what follows.
const HEADINGS: [&str; 4] = [
    "",
    "time,depth_ft,temp_f,speed_mph,lat,lon\n",
    "date;time;species;outcome;rod;depth;weight;length;line out;note\n",
    "time_in\ttime_out\trod\tmethod\tline_out\tcolors\tweight\tleader\tlure\tdepth\n",
];

fuzz_target!(|input: &[u8]| {
    let [choice, table @ ..] = input else { return };
    let headings = HEADINGS[usize::from(*choice >> 2) % HEADINGS.len()];
    let bytes = [headings.as_bytes(), table].concat();
    read_and_check("2026-06-14 notes.csv", &bytes, &boat(*choice));
});
