//! Writes the committed sample logs and their truth again, after the generator has changed on purpose.
//!
//! `cargo run --release -p waterseam-demo --example sample_logs`, in the workspace's folder.

use std::path::Path;

use waterseam_demo::{SAMPLE_SEED, write_samples};

fn main() -> std::io::Result<()> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let truth =
        write_samples(&root.join("sample-logs"), &root.join("tests/truth/sample-logs.json"), SAMPLE_SEED)?;
    assert_eq!(truth.trips.len(), 3);
    Ok(())
}
