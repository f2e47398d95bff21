//! What the boat file says of a sensor comes before what the sensor says of itself, and the difference is said.

use super::cards::{Boat, LOG, changed, lines, log, remarks};

#[test]
fn the_transducer_of_the_boat_file_comes_before_that_of_the_sounder() {
    let log = lines(&log(), 0.0, 0.1);
    let sounders = changed(&log, "DPT", |_, fields| fields[2] = "1.0".to_owned());
    let of = |log: &[u8]| {
        let boat = Boat::new();
        boat.put(LOG, log);
        boat.process();
        boat.only_trip()
    };
    let (plain, trip) = (of(&log), of(&sounders));
    assert_eq!(trip["trip"]["transducer_depth_m"], 0.6);
    assert_eq!(trip["trip"]["transducer_depth_method"], "boat_file");
    assert!(remarks(&trip).contains("the sounder 1.00 m: the boat file's is used"), "{}", remarks(&trip));
    // without a word of the boat file it is the sounder's
    let boat = Boat::new();
    let silent = std::fs::read_to_string(boat.card().join("waterseam.toml")).unwrap();
    let silent: String =
        silent.lines().filter(|line| !line.starts_with("transducer_depth")).collect::<Vec<_>>().join("\n");
    boat.put("waterseam.toml", silent.as_bytes()).put(LOG, &sounders);
    boat.process();
    let silent = boat.only_trip();
    assert_eq!(silent["trip"]["transducer_depth_m"], 1.0);
    assert_eq!(silent["trip"]["transducer_depth_method"], "sounder");
    assert_eq!(plain["trip"]["transducer_depth_m"], 0.6);
}
