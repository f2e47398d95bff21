//! How many running depths a second? `cargo bench -p waterseam-tackle`

use divan::Bencher;
use divan::counter::ItemsCount;
use waterseam_logs::LineMethod;
use waterseam_tackle::{Setup, Tow, running_depth};

fn main() {
    divan::main();
}

/// One depth with its standard error: seven shapes of the line.
#[divan::bench(args = ["downrigger", "leadcore", "weighted_wire", "clip_weight", "flat_line"])]
fn depth_with_error(bencher: Bencher, method: &str) {
    let setup = Setup {
        method: LineMethod::from_word(method),
        line_out_m: Some(60.0),
        colors: (method == "leadcore").then_some(5.0),
        weight_kg: (method != "downrigger").then_some(0.17),
        ..Setup::default()
    };
    let tow = Tow::by_log(1.0);
    bencher.counter(ItemsCount::new(1u32)).bench(|| running_depth(divan::black_box(&setup), &tow));
}
