//! What all scores on invented days need: chance that is the same each time, and the files read as the program does.

#[path = "scored_seeds.rs"]
mod scored_seeds;

use waterseam_demo::DemoFile;
use waterseam_logs::Collected;
use waterseam_logs::boat::BoatFile;
use waterseam_track::{Settings, Trip};

pub use scored_seeds::over_seeds;

/// The one trip that these files of a demo day make.
pub fn read(files: &[DemoFile], settings: &Settings) -> Trip {
    let dir = tempfile::tempdir().unwrap();
    let boat = BoatFile::from_toml(&waterseam_demo::boat_file(), "waterseam.toml").unwrap();
    let mut collected = Collected::default();
    for file in files {
        let path = dir.path().join(&file.name);
        std::fs::write(&path, &file.bytes).unwrap();
        waterseam_logs::read_file(&path, &boat, &mut collected).unwrap();
    }
    let trips = waterseam_track::trips(collected.observations, settings).trips;
    let [trip] = <[Trip; 1]>::try_from(trips).unwrap();
    trip
}

/// Numbers that look random and are the same each time (SplitMix64).
pub struct Chance(pub u64);

impl Chance {
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
}
