//! What does a file say of its shapes, so that a GIS opens it as a map?
//!
//! The file metadata key `geo` of GeoParquet 1.1.0 (OGC GeoParquet, <https://geoparquet.org/releases/v1.1.0/>,
//! clause "File metadata"). The key `crs` is left out, which stands for OGC:CRS84: longitude, latitude, WGS 84.

use std::collections::{BTreeMap, BTreeSet};

use arrow::array::{AsArray, RecordBatch};
use serde::Serialize;
use waterseam_units::LatLon;

use crate::domain::Measure;
use crate::table::Table;
use crate::wkb::{self, Shape};

/// Name of the metadata key.
pub const KEY: &str = "geo";

/// The value of the key. Its parts come in the order of these fields, so that the same shapes give the same text.
#[derive(Serialize)]
struct Geo {
    version: &'static str,
    primary_column: &'static str,
    columns: BTreeMap<&'static str, GeoColumn>,
}

#[derive(Serialize)]
struct GeoColumn {
    encoding: &'static str,
    geometry_types: BTreeSet<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bbox: Option<[f64; 4]>,
}

/// The value of the key `geo` for these rows; `None` for a table without shapes.
pub(crate) fn metadata<R: Table>(rows: &[R]) -> Option<String> {
    let index = R::shape_column()?;
    let shapes = rows.iter().filter_map(|row| match R::MEASURES[index](row) {
        Measure::Shape(bytes) => Some(bytes),
        _ => None,
    });
    Some(of_shapes(R::COLUMNS[index].name, shapes))
}

/// The same for rows that are Arrow batches of the table's schema.
pub(crate) fn metadata_of_batches<R: Table>(batches: &[&RecordBatch]) -> Option<String> {
    let name = R::COLUMNS[R::shape_column()?].name;
    let shapes = batches.iter().filter_map(|batch| batch.column_by_name(name)?.as_binary_opt::<i32>());
    Some(of_shapes(name, shapes.flatten().flatten()))
}

fn of_shapes<'a>(name: &'static str, shapes: impl Iterator<Item = &'a [u8]>) -> String {
    let shapes: Vec<Shape> = shapes.filter_map(wkb::shape).collect();
    let geometry_types: BTreeSet<&str> = shapes.iter().map(geometry_type).collect();
    let vertices: Vec<LatLon> = shapes.into_iter().flat_map(Shape::vertices).collect();
    let column = GeoColumn { encoding: "WKB", geometry_types, bbox: bounds(&vertices) };
    let geo = Geo { version: "1.1.0", primary_column: name, columns: BTreeMap::from([(name, column)]) };
    let text = serde_json::to_string(&geo);
    text.unwrap_or_else(|e| unreachable!("words and finite numbers can be written as JSON: {e}"))
}

fn geometry_type(shape: &Shape) -> &'static str {
    match shape {
        Shape::Line(_) => "LineString",
        Shape::Area(_) => "Polygon",
    }
}

/// West, south, east, north of the positions; `None` where there are none.
///
/// Over the antimeridian west is greater than east (RFC 7946, clause 5.2, which GeoParquet follows). A set of
/// positions that spans more than half the globe is taken to cross it: no trip of a boat does otherwise.
fn bounds(vertices: &[LatLon]) -> Option<[f64; 4]> {
    let lons = || vertices.iter().map(|at| at.lon_deg);
    let lats = || vertices.iter().map(|at| at.lat_deg);
    let (mut west, mut east) = (lons().reduce(f64::min)?, lons().reduce(f64::max)?);
    if east - west > 180.0 {
        west = lons().filter(|lon| *lon >= 0.0).reduce(f64::min)?;
        east = lons().filter(|lon| *lon < 0.0).reduce(f64::max)?;
    }
    Some([west, lats().reduce(f64::min)?, east, lats().reduce(f64::max)?])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn positions(lon_lat: &[(f64, f64)]) -> Vec<LatLon> {
        lon_lat.iter().map(|&(lon_deg, lat_deg)| LatLon { lat_deg, lon_deg }).collect()
    }

    #[test]
    fn the_box_is_west_south_east_north() {
        assert_eq!(bounds(&positions(&[(-29.4, 46.2), (-29.3, 46.1)])), Some([-29.4, 46.1, -29.3, 46.2]));
        assert_eq!(bounds(&[]), None);
    }

    /// RFC 7946, clause 5.2, the example of the Fiji archipelago: west 177, south -20, east -178, north -16.
    #[test]
    fn a_box_may_cross_the_antimeridian() {
        assert_eq!(
            bounds(&positions(&[(177.0, -16.0), (-178.0, -20.0)])),
            Some([177.0, -20.0, -178.0, -16.0])
        );
    }
}
