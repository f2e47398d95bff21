//! The boat file: read, or refused with the line at which it is wrong.
#![no_main]

use libfuzzer_sys::fuzz_target;
use waterseam_logs::boat::BoatFile;

fuzz_target!(|text: &str| {
    let read = |text: &str| BoatFile::from_toml(text, "waterseam.toml");
    let shown = |text: &str| read(text).map(|boat| format!("{boat:?}")).map_err(|error| error.to_string());
    let once = shown(text);
    assert_eq!(once, shown(text), "the same text says the same");
    match read(text) {
        Ok(boat) => {
            assert!(boat.home_port.is_none_or(|at| at.lat_deg.abs() <= 90.0 && at.lon_deg.abs() <= 180.0));
            assert!((0.0..=42.0).contains(&boat.salinity_psu));
            assert!(boat.species.values().all(|range| -2.0 <= range.low_c && range.low_c < range.high_c));
            assert!((900.0..=72.0 * 3600.0).contains(&boat.trip_gap_s));
            assert!(boat.surface_temp_lag_s.is_none_or(|lag_s| (0.0..=600.0).contains(&lag_s)));
            let sensors = [boat.surface_temp_offset_c, boat.transducer_depth_m, boat.keel_depth_m];
            assert!(sensors.into_iter().flatten().all(f64::is_finite));
            assert!(
                boat.trolling_speed_mps
                    .is_none_or(|(low, high)| 0.0 <= low && low < high && high.is_finite())
            );
            let spread = boat.spread.iter().flat_map(|rod| {
                [rod.line_out_m, rod.colors, rod.weight_kg, rod.leader_m, rod.depth_m].into_iter().flatten()
            });
            assert!(spread.into_iter().all(|amount| amount.is_finite() && amount >= 0.0));
            // what Windows writes says the same
            if !text.contains('\r') && !text.contains("\"\"\"") && !text.contains("'''") {
                assert_eq!(shown(&text.replace('\n', "\r\n")), once, "with the line ends of Windows");
            }
            if !text.starts_with('\u{feff}') {
                assert_eq!(shown(&format!("\u{feff}{text}")), once, "behind a byte order mark");
            }
        }
        Err(error) => {
            let message = error.to_string();
            assert!(message.contains("waterseam.toml"), "{message}");
        }
    }
});
