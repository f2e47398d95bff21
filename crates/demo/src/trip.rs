//! What comes off the boat after a day, and what was true of it?

use waterseam_units::LatLon;

use crate::clock::Clock;
use crate::crossings;
use crate::days::{self, Day};
use crate::dice::round;
use crate::fish::{Bite, expected_bites};
use crate::lake::water_depth_m;
use crate::lines::{self, SPREAD, Spell};
use crate::notes;
use crate::plotter::{self, Log, TRANSDUCER_DEPTH_M};
use crate::probe::{self, Cast, ProbeLog};
use crate::scenario::{Knobs, Scenario};
use crate::truth::{BiteTruth, CastTruth, ColumnTruth, InstrumentTruth, SpellTruth, TripTruth};
use crate::voyage::{self, Voyage};

/// Files of one trip, and its truth.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoTrip {
    /// Files as they come off the boat: plotter log, probe log, bite notes, gear log.
    pub files: Vec<DemoFile>,
    /// What was true.
    pub truth: TripTruth,
}

/// A file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DemoFile {
    /// Name without a folder.
    pub name: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// Invents a trip. The same seed and scenario give the same bytes.
///
/// ```
/// use waterseam_demo::{Scenario, trip};
///
/// let flat = trip(1, Scenario::FlatDay);
/// assert_eq!(flat.files.len(), 4);
/// assert!(flat.truth.crossings.is_empty());
/// ```
pub fn trip(seed: u64, scenario: Scenario) -> DemoTrip {
    trip_with(seed, scenario, &Knobs::default())
}

/// Invents a trip of which a test fixes something.
pub fn trip_with(seed: u64, scenario: Scenario, knobs: &Knobs) -> DemoTrip {
    let day = days::draw(seed, scenario, knobs);
    let mut helm = crate::dice::Dice::new(seed, crate::dice::Stream::Helm);
    let voyage = voyage::sail(&day, &mut helm);
    let clock = Clock { start_us: day.lake.midnight_us + (day.plotter_on_s * 1e6) as i64 };
    let (spells, bites) = lines::fish(&day, &voyage);
    let log = plotter::write(&day, knobs, &voyage, clock);
    let probe = probe::write(&day, knobs, &voyage, &spells, clock);

    let date = day.date.to_string();
    let style = day.habits.notes;
    let (month, dom) = (day.date.month(), day.date.day());
    let phone = Clock { start_us: clock.us(knobs.notes_clock_offset_s as f64) };
    let gear_text = notes::gear(&day, &spells, phone);
    let bites_text = notes::bites(&day, &spells, &bites, phone);
    let account = Account { day: &day, voyage: &voyage, clock };
    let truth = account.truth(knobs, &log, &spells, &bites, &probe);
    let file = |name: String, text: String| DemoFile { name, bytes: text.into_bytes() };
    let files = vec![
        file(format!("LOG{:05}.TXT", day.date.day_of_year()), log.text),
        file(format!("probe_{month:02}{dom:02}.csv"), probe.text),
        file(style.file_name("bites", &date), bites_text),
        file(style.file_name("gear", &date), gear_text),
    ];
    DemoTrip { files, truth }
}

/// Seconds between looks at the column.
const COLUMN_EVERY_S: usize = 600;

struct Account<'a> {
    day: &'a Day,
    voyage: &'a Voyage,
    clock: Clock,
}

impl Account<'_> {
    fn truth(
        &self,
        knobs: &Knobs,
        log: &Log,
        spells: &[Spell],
        bites: &[Bite],
        probe: &ProbeLog,
    ) -> TripTruth {
        let (day, voyage) = (self.day, self.voyage);
        let seconds =
            |range: &std::ops::Range<usize>| (self.us(range.start), self.us(range.end.saturating_sub(1)));
        let last = voyage.states.len() - 1;
        let looks = (voyage.under_way.start..voyage.under_way.end).step_by(COLUMN_EVERY_S);
        let fished_s: usize = spells.iter().map(|spell| spell.end - spell.start).sum();
        TripTruth {
            date: day.date.to_string(),
            scenario: day.scenario,
            seed: day.seed,
            start_us: self.us(log.first_fix),
            end_us: self.us(last),
            under_way_us: seconds(&voyage.under_way),
            trolling_us: seconds(&voyage.trolling),
            distance_m: round(voyage.states[last].distance_m, 1),
            lake: day.lake.clone(),
            crossings: crossings::of_fronts(&day.lake, voyage, self.clock),
            edge_crossings: crossings::of_edge(&day.lake, voyage, self.clock),
            columns: looks.map(|second| self.column(second)).collect(),
            casts: probe.casts.iter().map(|cast| self.cast(cast)).collect(),
            probe_times: probe.times.clone(),
            instruments: InstrumentTruth {
                hull_noise_c: day.instruments.hull_noise_c,
                hull_lag_s: knobs.hull_lag_s,
                spikes_us: log.spikes.iter().map(|&second| self.us(second)).collect(),
                dropouts_us: log.dropouts.iter().map(|&(a, b)| (self.us(a), self.us(b))).collect(),
                log_scale: day.instruments.log_scale,
                heading_offset_deg: day.instruments.heading_offset_deg,
                transducer_depth_m: TRANSDUCER_DEPTH_M,
                probe_clock_s: day.instruments.probe_clock_s,
            },
            log: log.truth.clone(),
            rates: day.rates.clone(),
            spells: spells.iter().map(|spell| self.spell(spell)).collect(),
            rod_hours: round(fished_s as f64 / 3600.0, 3),
            bites: bites.iter().map(|bite| self.bite(bite, &spells[bite.spell])).collect(),
        }
    }

    fn us(&self, second: usize) -> i64 {
        self.clock.us(second as f64)
    }

    fn at(&self, second: usize) -> LatLon {
        let at = self.voyage.states[second].at;
        LatLon { lat_deg: round(at.lat_deg, 6), lon_deg: round(at.lon_deg, 6) }
    }

    fn column(&self, second: usize) -> ColumnTruth {
        let state = &self.voyage.states[second];
        let (thermocline_depth_m, pycnocline_depth_m) = self.layers(second);
        ColumnTruth {
            time_us: self.us(second),
            at: self.at(second),
            surface_temp_c: round(state.surface_temp_c, 3),
            thermocline_depth_m,
            pycnocline_depth_m,
            water_depth_m: round(water_depth_m(state.point), 1),
        }
    }

    /// Depths of the steepest temperature and density gradients, where the water is layered and deep enough for them.
    fn layers(&self, second: usize) -> (Option<f64>, Option<f64>) {
        let state = &self.voyage.states[second];
        let column = &self.day.lake.column;
        let depth_m = state.thermocline_depth_m;
        if !column.is_layered(state.surface_temp_c) || depth_m > water_depth_m(state.point) {
            return (None, None);
        }
        let pycnocline_m = column.pycnocline_depth_m(state.surface_temp_c, depth_m);
        (Some(round(depth_m, 2)), Some(round(pycnocline_m, 2)))
    }

    fn cast(&self, cast: &Cast) -> CastTruth {
        let middle = usize::midpoint(cast.start, cast.end).min(self.voyage.states.len() - 1);
        let (thermocline_depth_m, pycnocline_depth_m) = self.layers(middle);
        CastTruth {
            start_us: self.us(cast.start),
            end_us: self.us(cast.end),
            down: cast.down,
            deepest_m: round(cast.deepest_m, 2),
            thermocline_depth_m,
            pycnocline_depth_m,
        }
    }

    fn spell(&self, spell: &Spell) -> SpellTruth {
        SpellTruth {
            rod: SPREAD[spell.rod].name.to_owned(),
            start_us: self.us(spell.start),
            end_us: self.us(spell.end),
            running_depth_m: round(spell.setup.running_depth_m, 2),
            expected_bites: round(expected_bites(self.day, self.voyage, spell), 4),
        }
    }

    fn bite(&self, bite: &Bite, spell: &Spell) -> BiteTruth {
        let second = bite.second as usize;
        let rate = self.day.rates.iter().find(|rate| rate.species == bite.species);
        BiteTruth {
            time_us: self.clock.us(round(bite.second, 1)),
            at: self.at(second),
            species: bite.species.clone(),
            outcome: bite.outcome.to_owned(),
            spell: bite.spell,
            rod: SPREAD[spell.rod].name.to_owned(),
            depth_m: round(bite.depth_m, 2),
            temp_at_depth_c: round(bite.temp_c, 2),
            surface_temp_c: round(self.voyage.states[second].surface_temp_c, 2),
            break_distance_m: bite.break_distance_m.map(|m| round(m, 0)),
            rate_per_rod_hour: rate.map_or(0.0, |rate| {
                round(rate.rate_per_rod_hour(bite.temp_c, bite.depth_m, bite.break_distance_m), 4)
            }),
            weight_kg: bite.weight_kg,
        }
    }
}
