//! Bites at the edges of a trip and beyond: each is placed with its uncertainty or listed with its reason, none is lost.

use serde_json::Value;

use super::cards::{Boat, changed, date_moved, remarks, set_aside};
use super::helpers::small_log;

/// What the small log (12:00:00 to 12:09:59) says of bites at these times, by the rods of [`GEAR`].
const BITES: &str = "time,species,rod,note
2026-06-14T12:00:00Z,coho,port rigger,as the log starts
2026-06-14T12:09:59Z,coho,port rigger,as the log ends
2026-06-14T12:03:10Z,coho,port rigger,in the middle
2026-06-14T11:58:00Z,coho,,two minutes early
2026-06-14T12:10:58Z,coho,,a minute late
2026-06-14T12:05:20Z,pike,centre rigger,on a rod that was never put out
2026-06-14T11:57:00Z,perch,,three minutes early
2026-06-14T12:30:00Z,perch,,twenty minutes late
2026-06-16T12:05:00Z,perch,,two days late
1980-01-06T00:01:00Z,perch,,by a clock that was never set
,perch,,without a time
soon after breakfast,perch,,with no time that can be read
";

const GEAR: &str = "time,event,rod,method,line_out,weight,lure
2026-06-14T12:01:00Z,out,port rigger,downrigger,15 m,5 kg,green spoon
2026-06-14T12:09:00Z,in,port rigger,,,,
";

fn with_notes(log: &[u8]) -> Value {
    let boat = Boat::new();
    boat.put("plotter.log", log).put("bites.csv", BITES.as_bytes()).put("gear.csv", GEAR.as_bytes());
    boat.process();
    boat.only_trip()
}

fn bite<'a>(trip: &'a Value, note: &str) -> &'a Value {
    let bites = trip["bites"].as_array().unwrap();
    bites
        .iter()
        .find(|bite| bite["note"] == note)
        .unwrap_or_else(|| panic!("{note}: no such bite in {bites:?}"))
}

/// Bites of the table and records that were set aside are all that were noted.
fn expect_all_there(trip: &Value) {
    let source = |row: &&Value| row["file_name"].as_str().unwrap().ends_with("bites.csv");
    let source = trip["sources"].as_array().unwrap().iter().find(source).expect("the notes");
    let count = |key: &str| source[key].as_u64().unwrap();
    let noted = BITES.lines().count() as u64 - 1;
    assert_eq!(
        count("records_read"),
        count("records_used") + count("records_not_needed") + count("records_set_aside")
    );
    assert_eq!(count("records_used"), trip["bites"].as_array().unwrap().len() as u64);
    assert_eq!(count("records_used") + count("records_set_aside"), noted, "{source}");
}

#[test]
fn every_bite_around_the_ends_of_a_trip_is_placed_or_listed() {
    let trip = with_notes(small_log().as_bytes());
    expect_all_there(&trip);
    // a time on the whole minute may be a minute off, another half of that
    let placed = [
        ("as the log starts", 60.0),
        ("as the log ends", 30.0),
        ("in the middle", 30.0),
        ("two minutes early", 60.0),
        ("a minute late", 30.0),
        ("on a rod that was never put out", 30.0),
    ];
    assert_eq!(trip["bites"].as_array().unwrap().len(), placed.len());
    for (note, time_se_s) in placed {
        assert_eq!(bite(&trip, note)["time_se_s"], time_se_s, "{note}");
        assert!(bite(&trip, note)["lat"].is_f64() && bite(&trip, note)["lon"].is_f64(), "{note}");
    }
    assert_eq!(set_aside(&trip, "outside_the_trip"), 2);
    assert_eq!(set_aside(&trip, "no_track_at_that_time"), 2);
    assert_eq!((set_aside(&trip, "no_time"), set_aside(&trip, "bad_time")), (1, 1));
}

#[test]
fn a_bite_has_a_depth_only_where_its_rod_was_out() {
    let trip = with_notes(small_log().as_bytes());
    let middle = bite(&trip, "in the middle");
    assert!(middle["spell_id"].is_string() && middle["depth_m"].is_f64() && middle["depth_se_m"].is_f64());
    // noted within its error of the line's going out
    assert!(bite(&trip, "as the log starts")["spell_id"].is_string());
    let never = bite(&trip, "on a rod that was never put out");
    for column in ["spell_id", "depth_m", "depth_se_m", "depth_source", "temp_at_depth_c"] {
        assert!(never[column].is_null(), "{column}: {}", never[column]);
    }
    assert_eq!(never["rod"], "centre rigger");
}

#[test]
fn bites_before_the_clock_was_set_are_placed_by_the_clock_as_it_should_have_been() {
    // for four minutes the receiver had the time of day but not yet the date
    let late = changed(small_log().as_bytes(), "RMC", |line, fields| {
        if line < 480 {
            fields[9] = date_moved(&fields[9], -40);
        }
    });
    let (set, right) = (with_notes(&late), with_notes(small_log().as_bytes()));
    expect_all_there(&set);
    assert_eq!(set["bites"], right["bites"]);
    assert!(remarks(&set).contains("The clock was set while the log ran"), "{}", remarks(&set));
}

#[test]
fn bites_before_the_first_position_are_listed() {
    // the receiver has its first fix after six minutes
    let blind = changed(small_log().as_bytes(), "RMC", |line, fields| {
        if line < 720 {
            fields[2] = "V".to_owned();
            (3..=8).for_each(|field| fields[field].clear());
        }
    });
    let trip = with_notes(&blind);
    expect_all_there(&trip);
    let placed: Vec<&str> =
        trip["bites"].as_array().unwrap().iter().map(|bite| bite["note"].as_str().unwrap()).collect();
    assert_eq!(placed, ["on a rod that was never put out", "as the log ends", "a minute late"]);
    assert_eq!(set_aside(&trip, "outside_the_trip"), 5);
}
