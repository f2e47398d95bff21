//! The layer of many trips on disk: whole or not at all, of all trips or not there.

#![allow(clippy::unwrap_used, reason = "a test ends at the first thing that is not as it should be")]

#[allow(dead_code, reason = "a module that several tests share")]
mod sample;

use waterseam_tables::{LayerId, LogbookWriter, Outcome, Problem, hotspots, verify, wkb};
use waterseam_units::LatLon;

const FILE: &str = "hotspots/cells=7/parts=month/part-0.parquet";

fn id() -> LayerId {
    LayerId { resolution: 7, division: "month".to_owned() }
}

fn row(season_part: &str) -> hotspots::Row {
    let at = |lat_deg, lon_deg| LatLon { lat_deg, lon_deg };
    hotspots::Row {
        cell: 0x0871_a6ba_d5ff_ffff,
        resolution: 7,
        geometry: wkb::area(&[at(46.2, -29.4), at(46.21, -29.39), at(46.22, -29.4)]),
        season_part: season_part.to_owned(),
        species: "*".to_owned(),
        trips: 5,
        years: 3,
        years_with_bites: 3,
        years_above: 2,
        rod_hours: 31.5,
        run_m: 9120.0,
        bites: 40,
        rate_raw: Some(40.0 / 31.5),
        rate: Some(1.1),
        rate_low: Some(0.8),
        rate_high: Some(1.5),
        times_average: Some(2.6),
        times_low: Some(1.9),
        times_high: Some(3.4),
        hot_chance: Some(0.93),
        more_rod_hours: None,
        gi_star_z: Some(3.1),
        gi_star_p: Some(0.001),
        gi_star_q: Some(0.04),
        cluster: Some(1),
        cluster_p: Some(0.005),
        hot: true,
        bite_depth_m: Some(18.0),
        bite_depth_low_m: Some(16.0),
        bite_depth_high_m: Some(21.0),
        bite_temp_c: Some(10.5),
        bite_temp_low_c: Some(9.8),
        bite_temp_high_c: Some(11.4),
        bite_surface_temp_c: Some(16.2),
        bite_surface_temp_low_c: Some(15.0),
        bite_surface_temp_high_c: Some(17.1),
        surface_temp_c: Some(16.0),
        break_rate: Some(0.2),
    }
}

#[test]
fn a_layer_is_written_read_and_goes_when_a_trip_changes() {
    let dir = tempfile::tempdir().unwrap();
    let writer = LogbookWriter::open_or_create(dir.path()).unwrap();
    writer.write_trip(&sample::trip("a", sample::START_US, 5)).unwrap();
    let rows = vec![row("07"), row("08")];
    assert_eq!(writer.write_hotspots(&id(), &rows).unwrap(), Outcome::Added);
    assert_eq!(writer.write_hotspots(&id(), &rows).unwrap(), Outcome::Unchanged);
    assert_eq!(writer.write_hotspots(&id(), &rows[..1]).unwrap(), Outcome::Replaced);
    assert_eq!(writer.logbook().layers().unwrap(), [id()]);
    assert_eq!(writer.logbook().hotspots(&id()).unwrap().unwrap(), rows[..1]);

    // the same trip again changes nothing, another one does
    writer.write_trip(&sample::trip("a", sample::START_US, 5)).unwrap();
    assert!(writer.logbook().hotspots(&id()).unwrap().is_some());
    writer.write_trip(&sample::trip("b", sample::START_US + 86_400_000_000, 5)).unwrap();
    assert_eq!(writer.logbook().hotspots(&id()).unwrap(), None);
    writer.write_hotspots(&id(), &rows).unwrap();
    writer.forget("b").unwrap();
    assert_eq!(writer.logbook().hotspots(&id()).unwrap(), None);
    assert!(!dir.path().join("hotspots").exists());
}

#[test]
fn verify_knows_the_layer() {
    let dir = tempfile::tempdir().unwrap();
    let problems = |rows: &[hotspots::Row]| {
        let writer = LogbookWriter::open_or_create(dir.path()).unwrap();
        writer.write_hotspots(&id(), rows).unwrap();
        drop(writer);
        verify(dir.path()).unwrap()
    };
    assert_eq!(problems(&[row("07")]), []);
    for wrong in [
        hotspots::Row { resolution: 6, ..row("07") },
        hotspots::Row { rate_low: Some(1.2), ..row("07") },
        hotspots::Row { rate: None, rate_low: None, rate_high: None, ..row("07") },
        hotspots::Row { years_above: 4, ..row("07") },
    ] {
        let found = problems(&[row("06"), wrong]);
        assert!(
            matches!(found[..], [ref f] if matches!(f.problem, Problem::Disagrees { row: 1, .. })),
            "{found:?}"
        );
    }
    let found = problems(&[row("07"), row("07")]);
    assert!(
        matches!(found[..], [ref f] if matches!(f.problem, Problem::Disagrees { row: 1, .. })),
        "{found:?}"
    );

    // one bit
    problems(&[row("07")]);
    let path = dir.path().join(FILE);
    let mut bytes = std::fs::read(&path).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&path, bytes).unwrap();
    let found = verify(dir.path()).unwrap();
    assert_eq!(
        found.iter().map(|f| (f.path.as_str(), &f.problem)).collect::<Vec<_>>(),
        [(FILE, &Problem::SumDiffers)]
    );
    let logbook = waterseam_tables::Logbook::open(dir.path()).unwrap();
    assert!(logbook.hotspots(&id()).is_err());
    drop(logbook);

    std::fs::write(dir.path().join("hotspots/cells=7/other.parquet"), b"").unwrap();
    problems(&[row("07")]);
    let found = verify(dir.path()).unwrap();
    assert!(matches!(found[..], [ref f] if f.problem == Problem::Stray), "{found:?}");
}
