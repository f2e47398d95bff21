use waterseam_units::UnitSystem;

use super::*;

fn boat(text: &str) -> BoatFile {
    BoatFile::from_toml(text, "kittiwake.toml").unwrap_or_else(|error| panic!("{error}"))
}

fn check_error(text: &str, want: &str) {
    let error = BoatFile::from_toml(text, "kittiwake.toml").expect_err(text);
    assert_eq!(error.to_string(), format!("kittiwake.toml, {want}"));
}

#[test]
fn nothing_said_is_the_default() {
    assert_eq!(format!("{:?}", boat("")), format!("{:?}", BoatFile::default()));
}

#[test]
fn the_example_says_every_key() {
    let boat = boat(example_boat_file());
    assert_eq!((boat.boat.as_str(), boat.units), ("Kittiwake", UnitSystem::Imperial));
    assert!(boat.time_zone_stated && boat.marks_are_bites);
    assert_eq!(boat.day_first, Some(false));
    // exact by definition of °F, ft, mph and lb (NIST SP 811)
    let coho = boat.species["coho"];
    assert!((coho.low_c - 10.0).abs() < 1e-12 && (coho.high_c - 25.0 * 5.0 / 9.0).abs() < 1e-12);
    assert_eq!(boat.species["lake trout"], PreferredRange { low_c: 8.0, high_c: 12.0 });
    assert!((boat.surface_temp_offset_c.unwrap() + 0.4 / 1.8).abs() < 1e-12, "a difference carries no 32");
    assert!((boat.transducer_depth_m.unwrap() - 0.4572).abs() < 1e-12);
    assert!((boat.keel_depth_m.unwrap() - 0.762).abs() < 1e-12);
    assert_eq!(boat.quality.position.gap_s, Some(10.0));
    assert!((boat.quality.position.fastest_mps.unwrap() - 67.0 * 0.44704).abs() < 1e-12);
    let hull = boat.quality.streams["surface_temp"];
    let (low_c, high_c) = hull.fail.unwrap();
    assert!((low_c - (28.4 - 32.0) / 1.8).abs() < 1e-12 && (high_c - 35.0).abs() < 1e-12);
    assert!((hull.spike.unwrap().0 - 0.9).abs() < 1e-12);
    assert_eq!(hull.flat_s, Some((21_600.0, 86_400.0)));
    assert_eq!(boat.quality.streams["water_depth"].spike, Some((0.15, 0.4)));
    assert_eq!(boat.trip_gap_s, 10_800.0);
    let (low, high) = boat.trolling_speed_mps.unwrap();
    assert!((low - 1.5 * 0.44704).abs() < 1e-12 && (high - 3.8 * 0.44704).abs() < 1e-12);
    assert!((boat.break_least_step_c.unwrap() - 1.0 / 1.8).abs() < 1e-12);
    assert!((boat.break_least_depth_step_m.unwrap() - 7.0 * 0.3048).abs() < 1e-12);
    assert!((boat.break_greatest_width_m.unwrap() - 457.2).abs() < 1e-9);
    assert_eq!(boat.break_confidence_percent, Some(99.9));
    assert_eq!(boat.columns["Wasser °C"], "temp_c");
    let [rigger, core] = &boat.spread[..] else { panic!("{:?}", boat.spread) };
    assert_eq!((rigger.method, core.method), (LineMethod::Downrigger, LineMethod::Leadcore));
    assert!((rigger.weight_kg.unwrap() - 12.0 * 0.453_592_37).abs() < 1e-12);
    assert!((core.leader_m.unwrap() - 9.144).abs() < 1e-12);
    assert!((core.longest_m.unwrap() - 400.0 * 0.3048).abs() < 1e-12);
    assert_eq!(core.colors, Some(7.0));
    let [keel] = &boat.tackle[..] else { panic!("{:?}", boat.tackle) };
    assert_eq!((keel.rod.as_str(), keel.method), ("keel weight, long", LineMethod::KeelWeight));
    assert!((keel.longest_m.unwrap() - 200.0 * 0.3048).abs() < 1e-12);
    let [diver] = &boat.divers[..] else { panic!("{:?}", boat.divers) };
    assert_eq!((diver.rods.as_slice(), diver.rows.len()), (&["port diver".to_owned()][..], 3));
    assert!(
        (diver.rows[2].0 - 160.0 * 0.3048).abs() < 1e-12 && (diver.speed_mps - 2.2 * 0.44704).abs() < 1e-12
    );
    let [seen] = &boat.observed_depths[..] else { panic!("{:?}", boat.observed_depths) };
    assert_eq!((seen.how, seen.setup.colors, seen.setup.depth_m), (HowSeen::Bottom, Some(7.0), None));
    assert!(
        (seen.depth_m - 36.0 * 0.3048).abs() < 1e-12 && (seen.give_or_take_m.unwrap() - 0.6096).abs() < 1e-12
    );
}

#[test]
fn mistakes_in_tables_of_divers_and_depths_seen_are_named() {
    let right = "two rows or more of [line out, depth], both rising, like [[100, 40], [150, 58]]";
    let diver = |table: &str| format!("[[divers]]\nname = \"d\"\nspeed = 2\ntable = {table}\n");
    check_error(
        &diver("[[80, 30], [120, 25]]"),
        &format!(
            "line 4: `divers.table`: found [120, 25]; write {right}; no depth is greater than its line out"
        ),
    );
    check_error(&diver("[[80, 30]]"), &format!("line 4: `divers.table`: found [[80, 30]]; write {right}"));
    check_error(&diver("80"), &format!("line 4: `divers.table`: found 80; write {right}"));
    let seen =
        |more: &str| format!("[[observed_depths]]\nmethod = \"keel_weight\"\nspeed = 2\ndepth = 30\n{more}");
    check_error(
        &seen("how = \"felt\"\nline_out = 90\nweight = 1\n"),
        "line 5: `observed_depths.how`: found \"felt\"; write \"bottom\" (the lure ticked it), \"probe\" (one on the \
         line) or \"known\" (a depth that you know)",
    );
    for (more, want) in [
        ("", "how = \"bottom\", \"probe\" or \"known\""),
        ("how = \"probe\"\n", "line_out (or the colors of a cored line)"),
        ("how = \"probe\"\nline_out = 90\n", "weight, with a clip-on or keel weight,"),
    ] {
        let error = BoatFile::from_toml(&seen(more), "k.toml").unwrap_err().to_string();
        assert!(error.contains(&format!("write {want} in every [[observed_depths]] table")), "{error}");
    }
}

#[test]
fn plain_numbers_follow_the_units() {
    let boat = boat(
        "units = \"marine\"\n[trips]\ntrolling_speed = [1, 3]\n[breaks]\nleast_step = 1\nconfidence = 99\n",
    );
    let (low, _) = boat.trolling_speed_mps.unwrap();
    assert!((low - 1852.0 / 3600.0).abs() < 1e-12);
    assert_eq!((boat.break_least_step_c, boat.break_confidence_percent), (Some(1.0), Some(99.0)));
}

#[test]
fn mistakes_are_named_with_their_line() {
    check_error(
        "boat = \"Kittiwake\"\ntimezone = \"UTC\"\n",
        "line 2: there is no key `timezone`; did you mean `time_zone`?",
    );
    check_error(
        "[sensors]\n\nsurface_temp_lag = 8\n",
        "line 3: there is no key `sensors.surface_temp_lag`; did you mean `surface_temp_lag_s`?",
    );
    check_error(
        "[breaks]\nconfidence = 100\n",
        "line 2: `breaks.confidence`: found 100; write percent, from 50 to 99.9999",
    );
    check_error(
        "[trips]\nx = 1\n",
        "line 2: there is no key `trips.x`; known here: gap_hours, trolling_speed, earliest",
    );
    check_error(
        "time_zone = \"Lake time\"\n",
        "line 1: `time_zone`: found \"Lake time\"; write a name of the IANA time zone list, like \"America/Toronto\" \
         or \"UTC\"",
    );
    check_error(
        "home_port = [146.2, -29.4]\n",
        "line 1: `home_port`: found 146.2; write a latitude, from -90 to 90",
    );
    check_error(
        "\n[sensors]\ntransducer_depth = \"2 kg\"\n",
        "line 3: `sensors.transducer_depth`: found \"2 kg\"; write a number or \"40 ft\", \"12 m\"",
    );
    check_error(
        "[species.coho]\npreferred = [57, 50]\n",
        "line 2: `species.coho.preferred`: found [57, 50]; write [lowest, highest] temperature, like [50, 57] or \
         [\"10 °C\", \"14 °C\"]; plain numbers are °F here",
    );
    check_error(
        "water = \"salt\"\n",
        "line 1: `water`: found \"salt\"; write \"fresh\", or leave it out and write \
                                      salinity = 32.5",
    );
}

#[test]
fn mistakes_of_the_quality_limits_are_named_too() {
    check_error(
        "[quality.hull]\nspike = [1, 2]\n",
        "line 1: there is no key `quality.hull`; known here: position, surface_temp, water_depth, probe_temp, \
         probe_depth, sog, stw, heading",
    );
    check_error(
        "[quality.surface_temp]\nspikes = [1, 2]\n",
        "line 2: there is no key `quality.surface_temp.spikes`; did you mean `spike`?",
    );
    check_error(
        "[quality.surface_temp]\nspike = [2, 1]\n",
        "line 2: `quality.surface_temp.spike`: found [2, 1]; write [suspect from, fail from], the second not smaller",
    );
    check_error(
        "[quality.stw]\nsuspect = [9]\n",
        "line 2: `quality.stw.suspect`: found [9]; write [lowest, highest] that passes",
    );
    check_error(
        "[quality.sog]\nflat_minutes = [0, 5]\n",
        "line 2: `quality.sog.flat_minutes`: found 0; write minutes, from 0.01 to 100000",
    );
}

#[test]
fn a_rod_without_its_method_is_no_rod() {
    let error = BoatFile::from_toml("[[spread]]\nrod = \"port\"\n", "k.toml").unwrap_err().to_string();
    assert!(error.contains("method = \"downrigger\""), "{error}");
}

#[test]
fn an_unknown_meaning_of_a_column_suggests_one() {
    let error = BoatFile::from_toml("[columns]\n\"T\" = \"tempc\"\n", "k.toml").unwrap_err().to_string();
    assert!(error.contains("line 2") && error.contains("(perhaps \"temp_c\")"), "{error}");
}

#[test]
fn broken_toml_names_its_line() {
    let error = BoatFile::from_toml("boat = \"K\"\nunits = imperial\n", "k.toml").unwrap_err().to_string();
    assert!(error.starts_with("k.toml, line 2: not valid TOML: "), "{error}");
}

proptest::proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "(\\[|\\]|=|\"|[a-z_]{1,8}|[0-9.]{1,4}|\n|,| ){0,60}") {
        let _ = BoatFile::from_toml(&text, "k.toml");
    }
}
