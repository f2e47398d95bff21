//! How many running depths a second? `cargo bench -p waterseam-tackle`

use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use waterseam_logs::LineMethod;
use waterseam_logs::boat::DiverTable;
use waterseam_tackle::{Setup, Tackle, Tow};

const KINDS: [&str; 7] =
    ["downrigger", "diver", "leadcore", "weighted_wire", "clip_weight", "keel_weight", "flat_line"];

fn main() {
    divan::main();
}

fn setup(kind: &str) -> Setup<'static> {
    Setup {
        method: LineMethod::from_word(kind),
        line_out_m: Some(60.0),
        colors: (kind == "leadcore").then_some(5.0),
        weight_kg: (kind != "downrigger").then_some(0.17),
        ..Setup::default()
    }
}

fn tackle() -> Tackle {
    let rows = vec![(10.0, 4.0), (40.0, 15.0), (80.0, 27.0)];
    let table = DiverTable { name: "diver".to_owned(), rods: Vec::new(), speed_mps: 1.0, rows };
    Tackle::new(&[table], &[], 1000.0)
}

/// One depth with its standard error: up to eight shapes of the line.
#[divan::bench(args = KINDS)]
fn depth_with_error(bencher: Bencher, kind: &str) {
    let (tackle, setup, tow) = (tackle(), setup(kind), Tow::by_log(1.0));
    bencher.counter(ItemsCount::new(1u32)).bench(|| tackle.depth(black_box(&setup), &tow));
}

/// One shape of the line: depth, layback, blow-back angle.
#[divan::bench(args = KINDS)]
fn shape(bencher: Bencher, kind: &str) {
    let (tackle, setup, tow) = (tackle(), setup(kind), Tow::by_log(1.0));
    bencher.counter(ItemsCount::new(1u32)).bench(|| tackle.shape(black_box(&setup), &tow));
}

/// Line out that reaches a depth.
#[divan::bench(args = KINDS)]
fn line_out_for_a_depth(bencher: Bencher, kind: &str) {
    let (tackle, setup, tow) = (tackle(), setup(kind), Tow::by_log(1.0));
    bencher.counter(ItemsCount::new(1u32)).bench(|| tackle.reach(black_box(&setup), &tow, 5.0));
}

/// One depth with its standard error where the water is slower below.
#[divan::bench(args = KINDS)]
fn depth_with_error_in_a_sheared_stream(bencher: Bencher, kind: &str) {
    let (tackle, setup) = (tackle(), setup(kind));
    let tow = Tow { below: &[(5.0, 0.9), (15.0, 0.7)], ..Tow::by_log(1.0) };
    bencher.counter(ItemsCount::new(1u32)).bench(|| tackle.depth(black_box(&setup), &tow));
}
