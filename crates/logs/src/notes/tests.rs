use proptest::prelude::*;

use crate::boat::BoatFile;
use crate::observation::{LineMethod, NoteTime, Outcome};
use crate::source::{Collected, Kind, SourceReport};
use crate::testing::read_bytes;

fn read(name: &str, text: &str, boat: &str) -> (SourceReport, Collected) {
    read_bytes(name, text.as_bytes(), &BoatFile::from_toml(boat, "kittiwake.toml").unwrap())
}

fn clock(hour: i64, minute: i64) -> NoteTime {
    NoteTime::Clock((hour * 60 + minute) * 60_000_000)
}

fn instant(text: &str) -> NoteTime {
    NoteTime::Instant(text.parse::<jiff::Timestamp>().unwrap().as_microsecond())
}

fn near(got: Option<f64>, want: f64) -> bool {
    got.is_some_and(|got| (got - want).abs() < 1e-9)
}

const BITES: &str = "Time,Species,Outcome,Rod,Lure,Depth,Line_Out,Weight,Length,Lat,Lon,Note\n\
    7:42,Coho,kept,port rigger,green spoon,48 ft,60,11.5 lb,31,46.21,-29.41,double header\n\
    0810,lake trout,let go,2,,15 m,,11 lb 8 oz,80 cm,,,\"big one, near the flag\"\n\
    9:05 am,king,vanished,,,deep,,,,,,\n\
    ,king,lost,,,40,,,,,,\n";

#[test]
fn bite_notes() {
    let (report, found) = read("notes.csv", BITES, "");
    assert_eq!(report.kind, Some(Kind::Bites));
    assert_eq!(report.set_aside, [("no_time", 1)].into());
    let [first, second, third] = &found.bites[..] else { panic!("{:?}", found.bites) };
    assert_eq!((first.time, first.line), (clock(7, 42), 2));
    assert_eq!((first.species.as_deref(), first.outcome), (Some("coho"), Some(Outcome::Landed)));
    // exact by definition (NIST SP 811)
    assert!(near(first.depth_m, 48.0 * 0.3048) && near(first.line_out_m, 18.288));
    assert!(near(first.weight_kg, 11.5 * 0.453_592_37) && near(first.length_m, 31.0 * 0.0254));
    assert_eq!(first.at.map(|at| at.lon_deg), Some(-29.41));
    assert_eq!((second.time, second.outcome), (clock(8, 10), Some(Outcome::Released)));
    assert!(
        near(second.depth_m, 15.0)
            && near(second.weight_kg, 11.5 * 0.453_592_37)
            && near(second.length_m, 0.8)
    );
    assert_eq!(second.note.as_deref(), Some("big one, near the flag"));
    assert_eq!((third.time, third.outcome, third.depth_m), (clock(9, 5), None, None));
    assert!(
        report.remarks.iter().any(|remark| remark.contains("`Outcome`: 1 entries")),
        "{:?}",
        report.remarks
    );
}

#[test]
fn the_date_of_the_file_and_the_zone_of_the_boat() {
    let boat = "time_zone = \"Etc/GMT+2\"";
    let (report, found) = read("bites 2026-06-14.csv", "time,species\n22:30,coho\n00:15,coho\n", boat);
    assert_eq!(found.bites[0].time, instant("2026-06-15T00:30:00Z"));
    assert_eq!(found.bites[1].time, instant("2026-06-15T02:15:00Z"), "past midnight");
    assert_eq!(report.clock_offset_method, Some("boat_file_zone"));
    let (_, found) = read("bites.csv", "date,time,species\n6/14/2026,22:30,coho\n", boat);
    assert_eq!(found.bites[0].time, instant("2026-06-15T00:30:00Z"));
    let (report, _) = read("bites.csv", "date,time,species\n6/4/2026,22:30,coho\n", boat);
    assert_eq!(report.set_aside, [("date_order_ambiguous", 1)].into());
}

#[test]
fn metric_notes_with_decimal_commas() {
    let text = "Time;Species;Depth;Weight;Length\n07:42;lake trout;14,5;3,2;71\n";
    let (_, found) = read("notes.csv", text, "units = \"metric\"");
    let bite = &found.bites[0];
    assert!(near(bite.depth_m, 14.5) && near(bite.weight_kg, 3.2) && near(bite.length_m, 0.71), "{bite:?}");
}

#[test]
fn a_note_that_nobody_quoted_keeps_its_commas() {
    let (_, found) = read("notes.csv", "time,species,note\n7:42,coho,big one, near the flag\n", "");
    assert_eq!(found.bites[0].note.as_deref(), Some("big one, near the flag"));
}

#[test]
fn a_gear_log_with_times_in_and_out() {
    let text = "time_in,time_out,rod,method,line_out,colors,weight,leader,lure,depth\n\
                05:10,07:00,port,downrigger,,,12 lb,15,spoon,45\n05:15,,core,lead core,,7,,30 ft,,\n\
                05:20,05:50,odd,magic,,,,,,\nx,,y,,,,,,,\n";
    let (report, found) = read("gear.csv", text, "");
    assert_eq!(report.kind, Some(Kind::Gear));
    let [port, core, odd] = &found.gear[..] else { panic!("{:?}", found.gear) };
    assert_eq!((port.start, port.end), (Some(clock(5, 10)), Some(clock(7, 0))));
    assert_eq!(port.method, Some(LineMethod::Downrigger));
    assert!(
        near(port.weight_kg, 12.0 * 0.453_592_37) && near(port.leader_m, 4.572) && near(port.depth_m, 13.716)
    );
    assert_eq!((core.end, core.method, core.colors), (None, Some(LineMethod::Leadcore), Some(7.0)));
    assert_eq!(odd.method, None);
    assert_eq!(report.set_aside, [("bad_time", 1)].into());
    assert!(!report.remarks.iter().any(|remark| remark.contains("time out is before")));
}

#[test]
fn a_gear_log_that_uses_in_and_out_the_other_way() {
    let text = "time_out,time_in,rod\n05:10,07:00,port\n05:15,06:30,starboard\n23:50,00:20,port\n";
    let (report, found) = read("gear-2026-06-14.csv", text, "");
    let spells: Vec<_> = found.gear.iter().map(|entry| (entry.start.unwrap(), entry.end.unwrap())).collect();
    assert_eq!(spells[0], (instant("2026-06-14T05:10:00Z"), instant("2026-06-14T07:00:00Z")));
    assert_eq!(spells[2], (instant("2026-06-14T23:50:00Z"), instant("2026-06-15T00:20:00Z")));
    assert!(report.remarks.iter().any(|remark| remark.contains("time out is before the time in")));
}

#[test]
fn a_gear_log_of_events() {
    let text =
        "time,event,rod,method\n05:10,out,port,diver\n07:00,in,port,\n07:05,sideways,port,\n07:10,out,,\n";
    let (report, found) = read("gear.csv", text, "");
    let [out, back] = &found.gear[..] else { panic!("{:?}", found.gear) };
    assert_eq!((out.start, out.end), (Some(clock(5, 10)), None));
    assert_eq!((back.start, back.end, back.rod.as_str()), (None, Some(clock(7, 0)), "port"));
    assert_eq!(report.set_aside, [("no_rod", 1), ("unknown_event", 1)].into());
}

proptest! {
    #[test]
    fn any_notes_are_accounted_for(
        heading in "(time|date|time_in)(,(species|outcome|rod|depth|weight|note|time_out|event|method|lat|lon)){1,6}",
        rows in "([-a-z0-9.:/, \"']{0,30}\n){1,8}",
    ) {
        let text = format!("{heading}\n{rows}");
        let (report, found) = read("x.csv", &text, "");
        let sum = report.records_used + report.records_not_needed + report.records_set_aside();
        prop_assert_eq!(report.records_read, sum);
        if matches!(report.kind, Some(Kind::Bites | Kind::Gear)) {
            prop_assert_eq!(report.records_used, (found.bites.len() + found.gear.len()) as u64);
        }
    }

    #[test]
    fn any_bytes_behind_headings_are_accounted_for(
        is_gear in any::<bool>(), bytes in proptest::collection::vec(any::<u8>(), 0..300),
    ) {
        let headings = if is_gear { "time_in,time_out,rod,method\n" } else { "time,species,outcome,rod,weight\n" };
        let text = [headings.as_bytes(), &bytes].concat();
        let (report, found) = read_bytes("2026-06-14.csv", &text, &BoatFile::default());
        let sum = report.records_used + report.records_not_needed + report.records_set_aside();
        prop_assert_eq!(report.records_read, sum);
        prop_assert_eq!(report.records_set_aside(), found.set_aside.len() as u64);
    }

    #[test]
    fn bites_there_and_back(
        rows in proptest::collection::vec((0i64..1440, 0u32..1000, 0u32..400, 0u32..1500, "fish [a-z]{1,8}"), 1..30),
        (delimiter, comma) in prop_oneof![Just((',', false)), Just((';', true)), Just(('\t', true)), Just((';', false))],
        say_units in any::<bool>(),
    ) {
        let number = |tenths: u32, unit: &str| {
            let text = format!("{}{}{}", tenths / 10, if comma { ',' } else { '.' }, tenths % 10);
            if say_units { format!("{text} {unit}") } else { text }
        };
        let mut text = ["time", "species", "depth", "weight", "length", "outcome"].join(&delimiter.to_string()) + "\n";
        for (minute, depth, weight, length, species) in &rows {
            let cells = [
                format!("{:02}:{:02}", minute / 60, minute % 60), species.clone(), number(*depth, "ft"),
                number(*weight, "lb"), number(*length, "in"), "released".to_owned(),
            ];
            text += &(cells.join(&delimiter.to_string()) + "\n");
        }
        let (report, found) = read("notes.csv", &text, "");
        prop_assert_eq!(report.records_used, rows.len() as u64, "{}", text);
        for (bite, (minute, depth, weight, length, species)) in found.bites.iter().zip(&rows) {
            prop_assert_eq!(bite.time, clock(minute / 60, minute % 60));
            prop_assert_eq!(bite.species.as_ref(), Some(species));
            prop_assert_eq!(bite.outcome, Some(Outcome::Released));
            // NIST SP 811, appendix B
            prop_assert!(near(bite.depth_m, f64::from(*depth) * 0.03048), "{bite:?}");
            prop_assert!(near(bite.weight_kg, f64::from(*weight) * 0.045_359_237), "{bite:?}");
            prop_assert!(near(bite.length_m, f64::from(*length) * 0.00254), "{bite:?}");
        }
    }

    #[test]
    fn gear_there_and_back(
        rows in proptest::collection::vec((0i64..700, 1i64..700, 0usize..6, 0u32..400, "rod [a-z]{1,8}"), 1..20),
        as_events in any::<bool>(),
    ) {
        let methods = ["downrigger", "diver", "leadcore", "weighted wire", "Clip-Weight", "flat_line"];
        let shown = |minute: i64| format!("{:02}:{:02}", minute / 60, minute % 60);
        let mut text = if as_events { "time,event,rod,method,line_out\n" } else { "time_in,time_out,rod,method,line_out\n" }
            .to_owned();
        for (start, minutes, method, line, rod) in &rows {
            let (start, end, method) = (shown(*start), shown(start + minutes), methods[*method]);
            let lines = if as_events {
                format!("{start},out,{rod},{method},{line} ft\n{end},in,{rod},,\n")
            } else {
                format!("{start},{end},{rod},{method},{line} ft\n")
            };
            text.push_str(&lines);
        }
        let (report, found) = read("gear.csv", &text, "");
        prop_assert_eq!(report.records_set_aside(), 0, "{}", text);
        let out: Vec<_> = found.gear.iter().filter(|row| row.start.is_some()).collect();
        prop_assert_eq!(out.len(), rows.len());
        for (entry, (start, minutes, method, line, rod)) in out.iter().zip(&rows) {
            prop_assert_eq!(entry.start, Some(clock(start / 60, start % 60)));
            let end = start + minutes;
            prop_assert_eq!(entry.end, (!as_events).then(|| clock(end / 60, end % 60)));
            prop_assert_eq!((entry.method, &entry.rod), (LineMethod::from_word(methods[*method]), rod));
            prop_assert!(near(entry.line_out_m, f64::from(*line) * 0.3048), "{entry:?}");
        }
    }
}
