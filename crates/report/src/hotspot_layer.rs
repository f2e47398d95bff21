//! Places of many trips as a layer of a map, and for a plotter.

use serde::Serialize;
use serde_json::{Map, Value, json};
use waterseam_tables::{Column, Kind, Table, hotspots, wkb};
use waterseam_units::LatLon;

use crate::cautions::CAUTIONS;
use crate::fields::fields;
use crate::geojson::{collection, feature, position};
use crate::gpx::{Document, Plotter, Waypoint};
use crate::summary::Style;
use crate::words::{count, depth_range, temp_range};

/// Rows with an area as polygons, each with all that the table says of it.
pub fn areas_geojson<R: Table + Serialize>(rows: &[R]) -> String {
    let features = rows.iter().filter_map(|row| {
        let values = serde_json::to_value(row).ok()?;
        let shape: &Column = R::COLUMNS.iter().find(|column| column.kind == Kind::Shape)?;
        let bytes: Vec<u8> = serde_json::from_value(values.get(shape.name)?.clone()).ok()?;
        let wkb::Shape::Area(ring) = wkb::shape(&bytes)? else { return None };
        let ring: Vec<Value> = ring.into_iter().map(position).collect();
        let mut properties = Map::from_iter([("what".to_owned(), Value::from(R::NAME))]);
        properties.extend(fields(row).into_iter().map(|(column, value)| (column.name.to_owned(), value)));
        Some(feature(&json!({ "type": "Polygon", "coordinates": [ring] }), &properties.into()))
    });
    collection(features)
}

/// The hot places among rows of one species (or of all together) as waypoints, part by part of the season, the best of each first.
pub fn hotspots_gpx(rows: &[hotspots::Row], style: &Style, plotter: Plotter) -> String {
    let mind = CAUTIONS.join(" ");
    let mut hot: Vec<&hotspots::Row> = rows.iter().filter(|row| row.hot).collect();
    hot.sort_by(|a, b| {
        let times = |row: &hotspots::Row| row.times_average.unwrap_or_default();
        let by_part = a.season_part.cmp(&b.season_part);
        by_part.then(times(b).total_cmp(&times(a))).then(a.cell.cmp(&b.cell))
    });
    let waypoints = hot.iter().filter_map(|row| {
        let times = row.times_average.map_or(String::new(), |times| format!(" {times:.1}x"));
        Some(Waypoint {
            at: middle(row)?,
            time_us: None,
            name: format!("{}{times}", row.season_part),
            desc: format!("{}. {mind}", hotspot_words(row, style)),
            kind: "hotspot",
            short: "HOT",
        })
    });
    let document = Document {
        name: "Hotspots".to_owned(),
        desc: mind.clone(),
        waypoints: waypoints.collect(),
        ..Document::default()
    };
    document.for_plotter(plotter).text()
}

/// `07: 2.9 times the average (90 % sure: 1.9 to 4.1), 64 bites in 80 rod-hours of 12 trips in 8 years, 45-60 ft, 50-54 °F`.
fn hotspot_words(row: &hotspots::Row, style: &Style) -> String {
    let units = style.units;
    let mut parts = Vec::new();
    if let (Some(times), Some(low), Some(high)) = (row.times_average, row.times_low, row.times_high) {
        parts.push(format!("{times:.1} times the average (90 % sure: {low:.1} to {high:.1})"));
    }
    parts.push(format!(
        "{} in {:.0} rod-hours of {} in {}",
        count(row.bites as usize, "bite", "bites"),
        row.rod_hours,
        count(row.trips as usize, "trip", "trips"),
        count(row.years as usize, "year", "years"),
    ));
    parts.extend(
        row.bite_depth_low_m.zip(row.bite_depth_high_m).map(|(low, high)| depth_range(units, low, high)),
    );
    parts.extend(
        row.bite_temp_low_c.zip(row.bite_temp_high_c).map(|(low, high)| temp_range(units, low, high)),
    );
    format!("{}: {}", row.season_part, parts.join(", "))
}

/// Middle of the corners of a cell, which is not larger than a few kilometres.
fn middle(row: &hotspots::Row) -> Option<LatLon> {
    let wkb::Shape::Area(ring) = wkb::shape(&row.geometry)? else { return None };
    let (first, others) = ring.split_first()?;
    let n = others.len() as f64;
    // about the first corner, so that a cell on the antimeridian has its middle there
    let turn = |deg: f64| (deg - first.lon_deg + 540.0).rem_euclid(360.0) - 180.0;
    let lat_deg = others.iter().map(|at| at.lat_deg).sum::<f64>() / n;
    let lon_deg = first.lon_deg + others.iter().map(|at| turn(at.lon_deg)).sum::<f64>() / n;
    LatLon::new(lat_deg, (lon_deg + 540.0).rem_euclid(360.0) - 180.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_tables::shared_places;

    fn ring(west_deg: f64) -> Vec<u8> {
        let corner = |lat_deg: f64, east: f64| LatLon {
            lat_deg,
            lon_deg: (west_deg + east + 540.0).rem_euclid(360.0) - 180.0,
        };
        wkb::area(&[corner(46.2, 0.0), corner(46.2, 0.1), corner(46.3, 0.1), corner(46.3, 0.0)])
    }

    #[test]
    fn an_area_is_a_polygon_with_all_its_columns() {
        let row = shared_places::Row {
            cell: 0x0871_a6ba_d5ff_ffff,
            resolution: 7,
            geometry: ring(-29.4),
            season_part: "07".to_owned(),
            species: "*".to_owned(),
            trips: 12,
            years: 8,
            rod_hours: 80.0,
            bites: 64,
            rate: 0.8,
            bite_depth_m: Some(15.0),
            bite_temp_c: None,
            bite_surface_temp_c: None,
        };
        let json: Value = serde_json::from_str(&areas_geojson(&[row])).unwrap();
        let area = &json["features"][0];
        assert_eq!(area["geometry"]["coordinates"][0].as_array().unwrap().len(), 5);
        assert_eq!(area["geometry"]["coordinates"][0][1], json!([-29.3, 46.2]));
        assert_eq!(area["properties"]["cell"], "871a6bad5ffffff");
        assert_eq!(
            (&area["properties"]["rate"], &area["properties"]["bite_temp_c"]),
            (&json!(0.8), &Value::Null)
        );
        assert_eq!(area["properties"].as_object().unwrap().len(), 13, "{area}");
    }

    #[test]
    fn the_middle_may_lie_on_the_antimeridian() {
        for west_deg in [-29.4, 179.95] {
            let row = hotspots::Row { geometry: ring(west_deg), ..hot() };
            let at = middle(&row).unwrap();
            assert!((at.lat_deg - 46.25).abs() < 1e-9, "{at:?}");
            assert!(
                ((at.lon_deg - west_deg - 0.05 + 540.0).rem_euclid(360.0) - 180.0).abs() < 1e-9,
                "{at:?}"
            );
        }
    }

    fn hot() -> hotspots::Row {
        hotspots::Row {
            cell: 0x0871_a6ba_d5ff_ffff,
            resolution: 7,
            geometry: ring(-29.4),
            season_part: "07".to_owned(),
            species: "*".to_owned(),
            trips: 12,
            years: 8,
            years_with_bites: 8,
            years_above: 7,
            rod_hours: 80.2,
            run_m: 90_000.0,
            bites: 64,
            rate_raw: Some(0.8),
            rate: Some(0.78),
            rate_low: Some(0.5),
            rate_high: Some(1.1),
            times_average: Some(2.93),
            times_low: Some(1.9),
            times_high: Some(4.1),
            hot_chance: Some(0.97),
            more_rod_hours: None,
            gi_star_z: None,
            gi_star_p: None,
            gi_star_q: None,
            cluster: None,
            cluster_p: None,
            hot: true,
            bite_depth_m: Some(15.0),
            bite_depth_low_m: Some(13.7),
            bite_depth_high_m: Some(18.3),
            bite_temp_c: None,
            bite_temp_low_c: None,
            bite_temp_high_c: None,
            bite_surface_temp_c: None,
            bite_surface_temp_low_c: None,
            bite_surface_temp_high_c: None,
            surface_temp_c: None,
            break_rate: None,
        }
    }

    #[test]
    fn hot_places_are_waypoints_the_best_first() {
        let style = Style {
            units: waterseam_units::UnitSystem::default(),
            zone: jiff::tz::TimeZone::UTC,
            several_days: false,
        };
        let rows = [
            hotspots::Row { times_average: Some(2.1), ..hot() },
            hot(),
            hotspots::Row { hot: false, ..hot() },
        ];
        let text = hotspots_gpx(&rows, &style, Plotter::default());
        let names: Vec<&str> = text.lines().filter_map(|line| line.trim().strip_prefix("<name>")).collect();
        assert_eq!(names, ["Hotspots</name>", "07 2.9x</name>", "07 2.1x</name>"]);
        let said = "07: 2.9 times the average (90 % sure: 1.9 to 4.1), 64 bites in 80 rod-hours of 12 trips in 8 years, 45-60 ft";
        assert!(text.contains(said), "{text}");
    }
}
