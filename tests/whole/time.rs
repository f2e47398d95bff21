//! Clocks that are wrong: the trip says the same as with a right one, where that can be known, and what was done is said.

use waterseam_logs::boat::BoatFile;
use waterseam_process::{Kept, Request};

use super::cards::{
    Boat, DAY, LOG, changed, date_moved, expect_same, gpx, lines, log, remarks, set_aside, undisturbed,
};

/// Days of 1024 weeks.
const ROLLOVER_DAYS: i64 = 1024 * 7;

/// The log with all its dates too early.
fn rolled_over(log: &[u8]) -> Vec<u8> {
    changed(log, "RMC", |_, fields| fields[9] = date_moved(&fields[9], -ROLLOVER_DAYS))
}

#[test]
fn dates_of_a_rolled_over_receiver_are_corrected_by_the_files_beside_it() {
    let boat = Boat::new();
    boat.put(LOG, &rolled_over(&log())).put_notes();
    boat.process();
    let trip = boat.only_trip();
    expect_same(&trip, undisturbed());
    let said = remarks(&trip);
    assert!(
        said.contains("1024 weeks too early") && said.contains("2006-12-02 was read as 2026-07-18"),
        "{said}"
    );
}

#[test]
fn a_rolled_over_track_in_gpx_is_corrected_by_the_notes_beside_it() {
    let boat = Boat::new();
    boat.put("track.gpx", gpx(&rolled_over(&log())).as_bytes()).put_notes();
    boat.process();
    let (trip, expected) = (boat.only_trip(), undisturbed());
    for key in ["trip_id", "bites", "time_end"] {
        assert_eq!(trip["trip"][key], expected["trip"][key], "{key}");
    }
    let source = trip["sources"].as_array().unwrap().iter().find(|row| row["kind"] == "gpx").unwrap();
    assert_eq!(source["clock_offset_method"], "gps_week_rollover");
    assert_eq!(source["clock_offset_s"], 1024.0 * 7.0 * 86_400.0);
}

#[test]
fn the_receiver_itself_shows_that_its_first_dates_were_wrong() {
    let boat = Boat::new();
    // it learns the right week after a third of the trip
    let log = log();
    boat.put(LOG, &[rolled_over(&lines(&log, 0.0, 0.3)), lines(&log, 0.3, 1.0)].concat()).put_notes();
    boat.process();
    let trip = boat.only_trip();
    expect_same(&trip, undisturbed());
    assert!(remarks(&trip).contains("its own sentences before or after say"), "{}", remarks(&trip));
}

#[test]
fn an_old_date_alone_is_asked_and_the_boat_file_settles_it() {
    let boat = Boat::new();
    boat.put(LOG, &rolled_over(&log()));
    boat.process();
    let alone = boat.only_trip();
    assert!(alone["trip"]["trip_id"].as_str().unwrap().starts_with("20061202"));
    assert!(remarks(&alone).contains("[trips] earliest"), "{}", remarks(&alone));
    // the captain answers, and the trip is where it belongs, once
    let mut answer = std::fs::read_to_string(boat.card().join("waterseam.toml")).unwrap();
    answer.push_str("\n[trips]\nearliest = \"2015-01-01\"\n");
    boat.put("waterseam.toml", answer.as_bytes());
    let said = boat.process();
    let trip = boat.only_trip();
    assert!(trip["trip"]["trip_id"].as_str().unwrap().starts_with("20260718"));
    assert_eq!(trip["trip"]["distance_m"], alone["trip"]["distance_m"]);
    assert!(said.contains("is gone from the logbook"), "{said}");
}

#[test]
fn a_trip_that_moves_goes_with_the_same_stroke() {
    let boat = Boat::new();
    boat.put(LOG, &rolled_over(&lines(&log(), 0.0, 0.1)));
    boat.process();
    let before = boat.trips();
    let settings = BoatFile { earliest_us: Some(1_420_070_400_000_000), ..BoatFile::default() };
    let inputs = [boat.card()];
    let request = Request { inputs: &inputs, boat: &settings, logbook: &boat.logbook() };
    // what the logbook holds when the new trip is there
    let done = waterseam_process::run(&request, &|_| (), &|_| (), &|_| boat.trips()).unwrap();
    let [trip] = &done.trips[..] else { panic!("one trip expected, found {}", done.trips.len()) };
    assert_eq!(trip.shown, std::slice::from_ref(&trip.trip_id));
    assert_eq!((done.moved, trip.kept.clone()), (before, Kept::Added));
}

#[test]
fn a_log_without_dates_takes_the_day_of_the_files_beside_it_or_of_its_name() {
    let expected = undisturbed();
    let bare = changed(&log(), "RMC", |_, fields| fields[9].clear());
    let boat = Boat::new();
    boat.put(LOG, &bare).put_notes();
    boat.process();
    expect_same(&boat.only_trip(), expected);
    assert!(
        remarks(&boat.only_trip()).contains("No sentence gives a date"),
        "{}",
        remarks(&boat.only_trip())
    );

    let boat = Boat::new();
    boat.put(&format!("{DAY}.nmea"), &bare);
    boat.process();
    assert_eq!(boat.only_trip()["trip"]["time_start"], expected["trip"]["time_start"]);
    // nothing says the day: refused, with what to do
    let boat = Boat::new();
    boat.put(LOG, &bare);
    let output = super::helpers::process(&boat.card(), &boat.logbook());
    super::helpers::expect_status(&output, 1);
    let said = super::helpers::stderr(&output);
    assert!(said.contains("no date yet") && said.contains("name of the file"), "{said}");
}

#[test]
fn a_date_that_comes_late_is_counted_back() {
    // ten thousand lines of positions before the first date
    let late = changed(&log(), "RMC", |line, fields| {
        if line < 10_000 {
            fields[9].clear();
        }
    });
    let boat = Boat::new();
    boat.put(LOG, &late).put_notes();
    boat.process();
    expect_same(&boat.only_trip(), undisturbed());
}

#[test]
fn a_clock_that_is_set_in_the_middle_is_followed_backwards() {
    // the satellites gave the time of day at once, the date only after some minutes
    let set = changed(&log(), "RMC", |line, fields| {
        if line < 3_000 {
            fields[9] = date_moved(&fields[9], -40);
        }
    });
    let boat = Boat::new();
    boat.put(LOG, &set).put_notes();
    boat.process();
    expect_same(&boat.only_trip(), undisturbed());
    assert!(remarks(&boat.only_trip()).contains("The clock was set while the log ran"));
}

#[test]
fn before_its_first_fix_a_receiver_may_say_any_time() {
    // date and time of a receiver that was never on before: the first moments of 6 January 1980
    let cold = changed(&log(), "RMC", |line, fields| {
        if fields[2] == "V" && line < 2_000 {
            fields[1] = format!("00{:02}{:02}", line / 660, line / 11 % 60);
            fields[9] = "060180".to_owned();
        }
    });
    let boat = Boat::new();
    boat.put(LOG, &cold).put_notes();
    boat.process();
    expect_same(&boat.only_trip(), undisturbed());
}

#[test]
fn fixes_out_of_order_change_nothing() {
    // the sentences of one second stay together; seconds are dealt out of order within half a minute
    let log = log();
    let mut seconds: Vec<Vec<u8>> = vec![Vec::new()];
    for line in log.split_inclusive(|byte| *byte == b'\n') {
        if line.starts_with(b"$GPRMC") {
            seconds.push(Vec::new());
        }
        seconds.last_mut().unwrap().extend_from_slice(line);
    }
    for block in seconds[1..].chunks_mut(30) {
        let n = block.len();
        for at in 0..n / 2 {
            block.swap(at, n / 2 + (at * 7) % (n - n / 2));
        }
    }
    let boat = Boat::new();
    boat.put(LOG, &seconds.concat()).put_notes();
    boat.process();
    let (trip, expected) = (boat.only_trip(), undisturbed());
    assert_eq!(set_aside(&trip, "no_time_yet"), set_aside(expected, "no_time_yet"));
    for table in ["bites", "rod_spells", "layers"] {
        let n = |trip: &serde_json::Value| trip[table].as_array().unwrap().len();
        assert_eq!(n(&trip), n(expected), "{table}");
    }
    let breaks = |trip: &serde_json::Value| -> Vec<(i64, String)> {
        let of = |row: &serde_json::Value| {
            (row["time"].as_i64().unwrap() / 1_000_000, format!("{:.1}", row["step_c"].as_f64().unwrap()))
        };
        trip["breaks"].as_array().unwrap().iter().map(of).collect()
    };
    assert_eq!(breaks(&trip), breaks(expected));
}

#[test]
fn a_second_receiver_that_is_rolled_over_changes_nothing() {
    // it writes into the same log, each second, under the same name and some metres away
    let log = log();
    let mut both = Vec::new();
    for line in log.split_inclusive(|byte| *byte == b'\n') {
        both.extend_from_slice(line);
        if line.starts_with(b"$GPRMC") {
            let other = rolled_over(line);
            both.extend(String::from_utf8_lossy(&other).replace("$GPRMC", "$GNRMC").into_bytes());
        }
    }
    // their checksums
    let both = String::from_utf8_lossy(&both)
        .split_inclusive('\n')
        .map(|line| match line.strip_prefix("$GNRMC").and_then(|rest| rest.split_once('*')) {
            Some((inside, _)) => super::helpers::sentence(&format!("GNRMC{inside}")),
            None => line.to_owned(),
        })
        .collect::<String>();
    let boat = Boat::new();
    boat.put(LOG, both.as_bytes()).put_notes();
    boat.process();
    let (trip, expected) = (boat.only_trip(), undisturbed());
    assert_eq!(trip["trip"]["time_start"], expected["trip"]["time_start"]);
    assert_eq!(trip["bites"].as_array().unwrap().len(), expected["bites"].as_array().unwrap().len());
    let breaks = |trip: &serde_json::Value| trip["breaks"].as_array().unwrap().len();
    assert_eq!(breaks(&trip), breaks(expected));
    assert!(remarks(&trip).contains("Two receivers give positions"), "{}", remarks(&trip));
}
