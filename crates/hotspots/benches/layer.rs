//! How long does the layer of ten years take, and a plan from it? `cargo bench -p waterseam-hotspots`
//!
//! Ten years are four hundred trips on an invented lake.

use divan::Bencher;
use jiff::civil::Date;
use waterseam_demo::years::{YearsKnobs, years};
use waterseam_hotspots::{Bite, Model, Near, SeasonPart, Settings, Visit, layer, places};

fn main() {
    divan::main();
}

/// What a logbook of so many years gives the layer.
fn logbook(n_years: usize) -> (Vec<Visit>, Vec<Bite>) {
    let years = years(1, &YearsKnobs { years: n_years, ..YearsKnobs::default() });
    let day = |trip: usize| years.trips[trip].day;
    let visits = years.visits.iter().map(|visit| Visit {
        trip: visit.trip,
        day: day(visit.trip),
        cell: visit.cell,
        rod_hours: visit.rod_hours,
        run_m: visit.run_m,
        breaks: visit.breaks,
        surface_temp_c: visit.surface_temp_c,
    });
    let bites = years.bites.iter().map(|bite| Bite {
        trip: bite.trip,
        day: day(bite.trip),
        cell: bite.cell,
        species: Some(bite.species.to_owned()),
        depth_m: Some(bite.depth_m),
        temp_at_depth_c: Some(bite.temp_at_depth_c),
        surface_temp_c: Some(bite.surface_temp_c),
    });
    (visits.collect(), bites.collect())
}

fn settings() -> Settings {
    Settings { resolution: 7, division: SeasonPart::Month, ..Settings::default() }
}

#[divan::bench(args = [5, 10], sample_count = 5)]
fn layer_of_years(bencher: Bencher, n_years: usize) {
    let (visits, bites) = logbook(n_years);
    assert!(layer(&visits, &bites, &settings()).iter().any(|row| row.hot), "no place is hot");
    bencher.bench_local(|| layer(&visits, &bites, &settings()));
}

/// Where to start on a day: the model of all trips, and its first places.
#[divan::bench(args = [5, 10], sample_count = 5)]
fn plan_from_years(bencher: Bencher, n_years: usize) {
    let (visits, bites) = logbook(n_years);
    let part = SeasonPart::Month.number(Date::constant(2027, 7, 18));
    bencher.bench_local(|| {
        let model = Model::new(&visits, &bites, &settings());
        places(&model.expected(part, None), &Near::default(), 3)
    });
}
