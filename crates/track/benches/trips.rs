//! How long does a day's track take, and does the time grow with the day? `cargo bench -p waterseam-track`

use divan::Bencher;
use divan::counter::ItemsCount;
use waterseam_logs::{DepthReference, FixKind, North, Observation, Value, WindReference};
use waterseam_track::{Settings, trips};
use waterseam_units::LatLon;

fn main() {
    divan::main();
}

/// Ten observations in each second of trolling: two kinds of position, and every instrument.
fn observations(hours: i64) -> Vec<Observation> {
    let of_second = |second: i64| {
        let s = second as f64;
        let at =
            LatLon { lat_deg: 46.2 + 0.03 * (s / 3000.0).sin(), lon_deg: -29.4 + 0.04 * (s / 1700.0).cos() };
        let wave = (s / 100.0).sin();
        [
            Value::Fix { at, from: FixKind::Rmc },
            Value::Fix { at, from: FixKind::Gga },
            Value::GroundVelocity { sog_mps: 1.5, cog_deg: Some(20.0) },
            Value::WaterTemp { temp_c: 12.0 + wave },
            Value::WaterDepth {
                depth_m: 40.0 + 5.0 * wave,
                reference: DepthReference::Transducer,
                offset_m: None,
            },
            Value::WaterSpeed { stw_mps: 1.2, across_mps: None },
            Value::Heading { heading_deg: 20.0, north: North::Magnetic },
            Value::Heading { heading_deg: 21.0, north: North::Magnetic },
            Value::Wind { speed_mps: 4.0, from_deg: 30.0, reference: WindReference::Apparent },
            Value::Probe { depth_m: 20.0 + wave, temp_c: Some(9.0), speed_mps: None },
        ]
        .map(|value| Observation {
            time_us: (1_781_409_600 + second) * 1_000_000,
            talker: *b"GP",
            source: 0,
            value,
        })
    };
    (0..hours * 3600).flat_map(of_second).collect()
}

#[divan::bench(args = [5, 10, 20, 40], sample_count = 20)]
fn day_of_hours(bencher: Bencher, hours: i64) {
    let observations = observations(hours);
    bencher
        .counter(ItemsCount::new(observations.len()))
        .with_inputs(|| observations.clone())
        .bench_values(|observations| trips(observations, &Settings::default()));
}
