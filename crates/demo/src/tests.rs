//! Do the files and the truth of a trip agree with each other and with the invented lake?

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use proptest::prelude::*;
use waterseam_units::{LatLon, geodesy};

use crate::lake::Point;
use crate::nmea::checksum;
use crate::voyage::{Voyage, sail};
use crate::*;

const SCENARIOS: [Scenario; 4] =
    [Scenario::SpringThermalBar, Scenario::SummerBreak, Scenario::FlatDay, Scenario::Random];

fn log_text(trip: &DemoTrip) -> &str {
    std::str::from_utf8(&trip.files[0].bytes).unwrap()
}

/// The voyage behind a trip, sailed once more.
fn voyage(seed: u64, scenario: Scenario) -> Voyage {
    let day = days::draw(seed, scenario, &Knobs::default());
    let mut helm = dice::Dice::new(seed, dice::Stream::Helm);
    sail(&day, &mut helm)
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    for scenario in SCENARIOS {
        assert!(trip(5, scenario) == trip(5, scenario), "{scenario:?}");
        assert!(trip(5, scenario).files != trip(6, scenario).files, "{scenario:?}");
    }
}

/// Pieces that begin with `$`, and lines that do not.
fn pieces(text: &str) -> Vec<&str> {
    text.split_inclusive('\n')
        .flat_map(|line| {
            let starts: Vec<usize> = line.match_indices('$').map(|(i, _)| i).collect();
            let mut cuts = if starts.first() == Some(&0) { starts } else { [vec![0], starts].concat() };
            cuts.push(line.len());
            cuts.windows(2).map(|cut| &line[cut[0]..cut[1]]).collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn every_line_is_in_the_account() {
    let knobs = Knobs { dirt_chance: 3e-3, ..Knobs::default() };
    for scenario in SCENARIOS {
        let trip = trip_with(11, scenario, &knobs);
        let (mut right, mut wrong, mut torn, mut void) = (BTreeMap::<String, u64>::new(), 0, 0, 0);
        for piece in pieces(log_text(&trip)) {
            let whole = piece.strip_suffix("\r\n").and_then(|piece| {
                let (body, sum) = piece.strip_prefix('$')?.split_once('*')?;
                Some((body, u8::from_str_radix(sum, 16).ok()?))
            });
            match whole {
                Some((body, sum)) if checksum(body.as_bytes()) == sum => {
                    let address = body.split(',').next().unwrap();
                    void += u64::from(body.contains(",V,,,,") || body.contains(",,,,,0,00,"));
                    *right.entry(address[address.len() - 3..].to_owned()).or_default() += 1;
                }
                Some(_) => wrong += 1,
                None => torn += 1,
            }
        }
        let account = &trip.truth.log;
        assert_eq!((&right, wrong, torn), (&account.sentences, account.checksum_wrong, account.torn));
        assert!(wrong > 5 && torn > 5, "the dirt of the test is too thin: {wrong} wrong, {torn} torn");
        assert_eq!(void, account.void_rmc + account.void_gga);
    }
}

/// Temperature before and after each crossing, from the lake itself, on the course of the boat.
#[test]
fn crossings_agree_with_the_field() {
    let mut checked = 0;
    for seed in 0..20 {
        let truth = trip(seed, Scenario::Random).truth;
        for crossing in &truth.crossings {
            let at = Point::at(crossing.at);
            let time_s = truth.lake.time_s(crossing.time_us);
            let temp_c =
                |ahead_m: f64| truth.lake.surface_temp_c(at.moved(crossing.course_deg, ahead_m), time_s);
            // tanh(2 atanh 0.8) = 0.9756 of the step within one width to either side
            let seen_c = temp_c(crossing.width_m) - temp_c(-crossing.width_m);
            // slope, patches and the edges of other fronts may add a little; a bend and a fading end take some away
            let allowed_c = 0.12 + 0.08 * crossing.step_c.abs();
            assert!(
                (seen_c - 0.976 * crossing.step_c).abs() < allowed_c,
                "seed {seed}: {seen_c} {crossing:?}"
            );
            // half the step lies on either side of the middle
            let halves_c = (temp_c(crossing.width_m) - temp_c(0.0), temp_c(0.0) - temp_c(-crossing.width_m));
            assert!(
                (halves_c.0 - halves_c.1).abs() < 2.0 * allowed_c,
                "seed {seed}: {halves_c:?} {crossing:?}"
            );
            checked += 1;
        }
    }
    assert!(checked > 60, "{checked}");
}

#[test]
fn named_days_are_what_they_say() {
    for seed in 0..10 {
        let spring = trip(seed, Scenario::SpringThermalBar).truth;
        let trolled: Vec<_> = spring.columns.iter().map(|column| column.surface_temp_c).collect();
        assert!(trolled.iter().any(|&c| c < 3.4) && trolled.iter().any(|&c| c > 4.8), "{trolled:?}");
        assert!(spring.crossings.len() >= 6 && spring.edge_crossings.is_empty());

        let summer = trip(seed, Scenario::SummerBreak).truth;
        assert!(summer.crossings.iter().filter(|c| c.step_c.abs() >= 2.0).count() >= 6);
        assert_eq!(summer.crossings.len(), summer.edge_crossings.len());
    }
}

/// No stretch of 400 m of a flat day's track changes by 0.3 °C, and there is nothing to cross.
#[test]
fn a_flat_day_has_no_break() {
    for seed in 0..10 {
        let truth = trip(seed, Scenario::FlatDay).truth;
        assert!(truth.crossings.is_empty() && truth.edge_crossings.is_empty());
        let sailed = voyage(seed, Scenario::FlatDay);
        let under_way = &sailed.states[sailed.under_way.clone()];
        let mut after = 0;
        for state in under_way {
            while after + 1 < under_way.len() && under_way[after].distance_m < state.distance_m + 400.0 {
                after += 1;
            }
            let change_c = under_way[after].surface_temp_c - state.surface_temp_c;
            assert!(change_c.abs() < 0.3, "seed {seed}: {change_c} °C in 400 m");
        }
    }
}

/// The log's own positions, read back here, lead over the crossings at their times.
#[test]
fn the_log_passes_where_the_truth_says() {
    let trip = trip(4, Scenario::SummerBreak);
    let fixes: BTreeMap<i64, LatLon> = log_text(&trip).lines().filter_map(fix).collect();
    let midnight_utc_s = trip.truth.lake.midnight_us / 1_000_000 + days::ZONE_OFFSET_S;
    for crossing in &trip.truth.crossings {
        let second = crossing.time_us / 1_000_000 - midnight_utc_s;
        // a torn sentence may be missing
        let (_, at) = fixes.range(second - 2..).next().unwrap();
        let off_m = geodesy::distance_m(*at, crossing.at);
        assert!(off_m < 10.0, "{off_m} m off at {crossing:?}");
    }
}

/// Second of the UTC day and position of a whole RMC sentence.
fn fix(line: &str) -> Option<(i64, LatLon)> {
    let fields: Vec<&str> = line.strip_prefix("$GPRMC,")?.split(',').collect();
    if fields.len() < 12 || fields[1] != "A" {
        return None;
    }
    let number = |text: &str| text.parse::<f64>().ok();
    let degrees = |text: &str, n: usize| Some(number(&text[..n])? + number(&text[n..])? / 60.0);
    let hms = fields[0].parse::<i64>().ok()?;
    let second = hms / 10_000 * 3600 + hms / 100 % 100 * 60 + hms % 100;
    Some((second, LatLon { lat_deg: degrees(fields[2], 2)?, lon_deg: -degrees(fields[4], 3)? }))
}

/// As many bites as the rates promise: the difference of a Poisson process from its compensator has the variance of the
/// compensator.
#[test]
fn bites_come_at_the_true_rate() {
    let (mut promised, mut counted) = (0.0, 0.0);
    for seed in 100..120 {
        let day = days::draw(seed, Scenario::SummerBreak, &Knobs::default());
        let sailed = voyage(seed, Scenario::SummerBreak);
        let (spells, bites) = lines::fish(&day, &sailed);
        counted += bites.len() as f64;
        for spell in &spells {
            for second in spell.start + lines::SETTLE_S..spell.end {
                let state = &sailed.states[second];
                let depth_m = spell.setup.running_depth_m;
                let temp_c = day.lake.column.temp_c(state.surface_temp_c, depth_m, state.thermocline_depth_m);
                let distance_m = day.lake.front_distance_m(state.point, day.plotter_on_s + second as f64);
                let rate: f64 =
                    day.rates.iter().map(|rate| rate.rate_per_rod_hour(temp_c, depth_m, distance_m)).sum();
                promised += rate / 3600.0;
            }
        }
    }
    assert!(promised > 150.0);
    let z = (counted - promised) / f64::sqrt(promised);
    assert!(z.abs() < 4.0, "{counted} bites, {promised} promised");
}

#[test]
fn knobs_are_obeyed() {
    let knobs = Knobs {
        steps_c: Some(vec![1.5]),
        width_m: Some(80.0),
        hull_noise_c: Some(0.02),
        spikes_per_hour: 0.0,
        dropouts_per_hour: 0.0,
        dirt_chance: 0.0,
        edge_change_mps: Some(0.2),
        thermocline_m: Some(11.0),
        ..Knobs::default()
    };
    let truth = trip_with(2, Scenario::Random, &knobs).truth;
    let [front] = truth.lake.fronts[..] else { panic!("{:?}", truth.lake.fronts) };
    assert_eq!((front.step_c, front.width_m), (1.5, 80.0));
    assert_eq!(truth.lake.column.thermocline_m, 11.0);
    assert_eq!((truth.log.torn, truth.log.checksum_wrong), (0, 0));
    assert!(truth.instruments.spikes_us.is_empty() && truth.instruments.dropouts_us.is_empty());
    let (east, north) = truth.lake.current.edge.unwrap().change_mps();
    assert!((0.19..0.25).contains(&east.hypot(north)));
}

#[test]
fn a_logbook_is_written_with_its_truth() {
    let dir = tempfile::tempdir().unwrap();
    let truth = write(dir.path(), 3, 2, 8, &Knobs::default()).unwrap();
    let read = std::fs::read_to_string(dir.path().join("truth.json")).unwrap();
    let again: Truth = serde_json::from_str(&read).unwrap();
    assert_eq!(again.trips.len(), 3);
    for (trip, again) in truth.trips.iter().zip(&again.trips) {
        assert_eq!(std::fs::read_dir(dir.path().join(&trip.date)).unwrap().count(), 4);
        // the truth that was read back still knows the water
        for column in &again.columns {
            let temp_c = again.lake.temp_at_c(column.at, 0.0, column.time_us);
            assert!((temp_c - column.surface_temp_c).abs() < 0.01, "{temp_c} {column:?}");
        }
    }
}

fn files_below(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            let name = PathBuf::from(path.file_name().unwrap());
            found.extend(files_below(&path).into_iter().map(|(file, bytes)| (name.join(file), bytes)));
        } else {
            found.insert(path.file_name().unwrap().into(), std::fs::read(&path).unwrap());
        }
    }
    found
}

/// The committed sample logs are what the generator writes. After a change on purpose:
/// `cargo run --release -p waterseam-demo --example sample_logs`.
#[test]
fn committed_sample_logs_are_up_to_date() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let dir = tempfile::tempdir().unwrap();
    let truth_file = dir.path().join("truth.json");
    write_samples(&dir.path().join("logs"), &truth_file, SAMPLE_SEED).unwrap();

    let wanted = files_below(&dir.path().join("logs"));
    let mut committed = files_below(&root.join("sample-logs"));
    assert!(committed.remove(Path::new("README.md")).is_some());
    let names = |files: &BTreeMap<PathBuf, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(&committed), names(&wanted));
    for (name, bytes) in &wanted {
        assert!(committed[name] == *bytes, "{} differs", name.display());
    }
    let committed_truth = std::fs::read(root.join("tests/truth/sample-logs.json")).unwrap();
    assert!(committed_truth == std::fs::read(&truth_file).unwrap(), "the truth differs");
    let total: usize = wanted.values().map(Vec::len).sum();
    assert!(total < 6_000_000, "{total} bytes");
}

fn check_any(seed: u64, scenario: Scenario) {
    let trip = trip(seed, scenario);
    let truth = &trip.truth;
    let hours = |from: i64, to: i64| (to - from) as f64 / 3.6e9;

    let trip_h = hours(truth.start_us, truth.end_us);
    assert!((3.5..9.0).contains(&trip_h), "{trip_h} h");
    let troll_h = hours(truth.trolling_us.0, truth.trolling_us.1);
    assert!(truth.rod_hours > 0.5 * troll_h * 6.0 && truth.rod_hours < troll_h * 6.0, "{}", truth.rod_hours);

    for spell in &truth.spells {
        assert!(spell.start_us < spell.end_us);
        assert!(truth.trolling_us.0 <= spell.start_us && spell.end_us <= truth.trolling_us.1, "{spell:?}");
        let same = truth.spells.iter().filter(|other| other.rod == spell.rod);
        let overlaps = same.filter(|other| other.start_us < spell.end_us && spell.start_us < other.end_us);
        assert_eq!(overlaps.count(), 1, "{spell:?} and itself");
    }
    for bite in &truth.bites {
        let spell = &truth.spells[bite.spell];
        assert!(spell.rod == bite.rod && (spell.start_us..=spell.end_us).contains(&bite.time_us), "{bite:?}");
        let temp_c = truth.lake.temp_at_c(bite.at, bite.depth_m, bite.time_us);
        assert!((temp_c - bite.temp_at_depth_c).abs() < 0.15, "{temp_c} {bite:?}");
    }
    for crossing in &truth.crossings {
        assert!(!crossing.trolling || crossing.angle_deg >= 30.0, "{crossing:?}");
    }
    for column in &truth.columns {
        assert!((1.0..30.0).contains(&column.surface_temp_c), "{column:?}");
        if let Some((warm, dense)) = column.thermocline_depth_m.zip(column.pycnocline_depth_m) {
            assert!(dense <= warm && warm < column.water_depth_m, "{column:?}");
        }
    }
    assert!(truth.casts.len() >= 6 && truth.casts.iter().all(|cast| cast.start_us < cast.end_us));
    assert!(trip.files.iter().all(|file| !file.bytes.is_empty() && std::str::from_utf8(&file.bytes).is_ok()));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_seed_makes_a_sound_trip(seed in any::<u64>(), which in 0..SCENARIOS.len()) {
        check_any(seed, SCENARIOS[which]);
    }
}

#[test]
fn her_screw_mixes_the_water_that_she_stops_in() {
    let handling =
        Handling { stops_per_hour: 3.0, circles_per_hour: 2.0, wash_c: 1.0, ..Handling::default() };
    let knobs = Knobs { handling: Some(handling), ..Knobs::default() };
    let day = days::draw(3, Scenario::FlatDay, &knobs);
    let mut helm = dice::Dice::new(3, dice::Stream::Helm);
    let voyage = sail(&day, &mut helm);
    let troll = &voyage.states[voyage.trolling.clone()];
    let mixed_c = |state: &crate::voyage::State| state.surface_temp_c - state.at_hull_c;
    assert!(troll.iter().any(|state| state.stw_mps < -0.5), "she goes astern");
    assert!(troll.iter().all(|state| (0.0..=1.0).contains(&mixed_c(state))));
    let share = |is: &dyn Fn(f64) -> bool| {
        troll.iter().filter(|state| is(mixed_c(state))).count() as f64 / troll.len() as f64
    };
    let (much, none) = (share(&|mixed_c| mixed_c > 0.5), share(&|mixed_c| mixed_c < 0.01));
    assert!((0.02..0.25).contains(&much) && none > 0.5, "{much} {none}");
    let quiet = self::voyage(3, Scenario::FlatDay);
    assert!(quiet.states.iter().all(|state| state.at_hull_c == state.surface_temp_c));
}

#[test]
fn a_plotter_that_leaves_nothing_out_writes_every_kind_every_second() {
    let knobs = Knobs { troll_hours: Some(1.0), every_second: true, dirt_chance: 0.0, ..Knobs::default() };
    let trip = trip_with(4, Scenario::Random, &knobs);
    let log = String::from_utf8_lossy(&trip.files[0].bytes);
    let n = |address: &str| log.lines().filter(|line| line.starts_with(address)).count();
    let seconds = n("$GPRMC");
    assert!(seconds > 3600);
    for address in ["$GPGGA", "$SDDPT", "$VWVHW", "$HCHDG", "$WIMWV"] {
        assert!(n(address).abs_diff(seconds) <= 2, "{address}: {} of {seconds}", n(address));
    }
    // these wait for the first fix
    for address in ["$GPGLL", "$GPVTG"] {
        assert!(n(address) + 60 > seconds, "{address}: {} of {seconds}", n(address));
    }
}
