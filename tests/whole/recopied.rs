//! Folders that were copied again, longer, in parts or in another form: no file counts twice, no fish bites twice.

use serde_json::Value;

use super::cards::{Boat, DAY, LOG, expect_same, gpx, lines, log, notes, remarks, set_aside, undisturbed};

fn bites_csv() -> String {
    format!("bites {DAY}.csv")
}

fn gear_csv() -> String {
    format!("gear {DAY}.csv")
}

#[test]
fn the_beginning_of_a_longer_file_counts_once() {
    let boat = Boat::new();
    let mut torn = lines(&log(), 0.0, 0.6);
    torn.truncate(torn.len() - 7);
    boat.put(LOG, &log()).put_notes().put("before noon/LOG.TXT", &torn);
    boat.put("before noon/bites.csv", &lines(&notes(&bites_csv()), 0.0, 0.5));
    let said = boat.process();
    expect_same(&boat.only_trip(), undisturbed());
    assert_eq!(said.matches("the beginning of").count(), 2, "{said}");
    assert_eq!(boat.only_trip()["sources"].as_array().unwrap().len(), 4);
}

#[test]
fn parts_of_a_log_that_overlap_are_one_trip() {
    let boat = Boat::new();
    boat.put("LOG00199.TXT", &lines(&log(), 0.0, 0.6))
        .put("LOG00200.TXT", &lines(&log(), 0.5, 1.0))
        .put_notes();
    boat.process();
    let trip = boat.only_trip();
    expect_same(&trip, undisturbed());
    assert!(remarks(&trip).contains("are in another file too and count once"), "{}", remarks(&trip));
}

#[test]
fn notes_that_were_copied_and_continued_count_once() {
    let (bites, gear) = (notes(&bites_csv()), notes(&gear_csv()));
    let boat = Boat::new();
    boat.put(LOG, &log()).put_notes();
    // older copies in which rows stood in another order, so that they are no beginnings: the heading, then the rest
    let reversed = |text: &[u8], n: usize| -> Vec<u8> {
        let rows: Vec<&[u8]> = text.split_inclusive(|byte| *byte == b'\n').collect();
        let mut old = rows[..=n].to_vec();
        old[1..].reverse();
        old.concat()
    };
    boat.put("copy of bites.csv", &reversed(&bites, 6)).put("copy of gear.csv", &reversed(&gear, 9));
    boat.process();
    let trip = boat.only_trip();
    expect_same(&trip, undisturbed());
    assert_eq!(set_aside(&trip, "same_as_in_another_file"), 6 + 9);
    for source in trip["sources"].as_array().unwrap() {
        let n = |key: &str| source[key].as_i64().unwrap();
        assert_eq!(
            n("records_read"),
            n("records_used") + n("records_not_needed") + n("records_set_aside"),
            "{source}"
        );
    }
}

#[test]
fn a_track_as_gpx_beside_the_log_adds_no_effort() {
    let log = log();
    let boat = Boat::new();
    boat.put(LOG, &log).put_notes().put("track.gpx", gpx(&log).as_bytes());
    boat.process();
    let (trip, expected) = (boat.only_trip(), undisturbed());
    assert_eq!(trip["sources"].as_array().unwrap().len(), 5);
    for key in ["rod_hours", "bites", "distance_m", "trolling_s"] {
        assert_eq!(trip["trip"][key], expected["trip"][key], "{key}");
    }
    assert!(remarks(&trip).contains("GP of LOG00199.TXT is used"), "{}", remarks(&trip));
}

#[test]
fn a_longer_copy_under_another_name_replaces_its_trip() {
    let boat = Boat::new();
    boat.put("LOG.TXT", &lines(&log(), 0.0, 0.5)).put_notes();
    boat.process();
    boat.take("LOG.TXT").put("evening.nmea", &log());
    let said = boat.process();
    assert!(said.contains("replaced what the logbook held"), "{said}");
    expect_same(&boat.only_trip(), undisturbed());
}

/// Rod-hours and bites of all trips.
fn totals(boat: &Boat) -> (f64, i64) {
    let of = |id: String| {
        let trip: Value = boat.trip(&id);
        (trip["trip"]["rod_hours"].as_f64().unwrap(), trip["trip"]["bites"].as_i64().unwrap())
    };
    boat.trips().into_iter().map(of).fold((0.0, 0), |(h, n), (hours, bites)| (h + hours, n + bites))
}

#[test]
fn morning_first_and_the_afternoon_later() {
    let (morning, afternoon) = (lines(&log(), 0.0, 0.5), lines(&log(), 0.5, 1.0));
    let boat = Boat::new();
    boat.put("am.nmea", &morning).put_notes();
    boat.process();
    let first = boat.trips();

    // the afternoon alone, without the notes: a trip of its own, and a word about the other
    boat.take("am.nmea").put("pm.nmea", &afternoon);
    for name in [bites_csv(), gear_csv(), "probe_0718.csv".to_owned()] {
        boat.take(&name);
    }
    let said = boat.process();
    assert!(said.contains("lies close to trip") && said.contains(&first[0]), "{said}");
    assert_eq!(boat.trips().len(), 2);

    // all together: one trip, as if it had been read at once
    boat.put("am.nmea", &morning).put_notes();
    let said = boat.process();
    assert!(said.contains("replaced what the logbook held"), "{said}");
    expect_same(&boat.only_trip(), undisturbed());
    let expected = undisturbed();
    assert_eq!(
        totals(&boat),
        (expected["trip"]["rod_hours"].as_f64().unwrap(), expected["trip"]["bites"].as_i64().unwrap())
    );
}

#[test]
fn an_afternoon_that_overlaps_the_morning_waits_for_it() {
    let boat = Boat::new();
    boat.put("am.nmea", &lines(&log(), 0.0, 0.6)).put_notes();
    boat.process();
    let held = boat.only_trip();
    boat.take("am.nmea").put("pm.nmea", &lines(&log(), 0.5, 1.0));
    let said = boat.process();
    assert!(said.contains("stays as the logbook holds it") && said.contains("am.nmea"), "{said}");
    assert_eq!(boat.only_trip(), held);
    boat.put("am.nmea", &lines(&log(), 0.0, 0.6));
    boat.process();
    expect_same(&boat.only_trip(), undisturbed());
}
