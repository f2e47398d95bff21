//! How is a line written as well-known binary, and read again?
//!
//! OGC 06-103r4, Simple Feature Access part 1, clause 8.2: byte order 1 (little endian), geometry type 2
//! (LineString), number of points, then x and y of each as 64-bit floats. GeoParquet 1.1 keeps longitude in
//! x and latitude in y.

use waterseam_units::LatLon;

const LITTLE_ENDIAN: u8 = 1;
const LINE_STRING: u32 = 2;
const HEAD_BYTES: usize = 9;
const POINT_BYTES: usize = 16;

/// A line as well-known binary.
pub fn line(vertices: &[LatLon]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(HEAD_BYTES + POINT_BYTES * vertices.len());
    bytes.push(LITTLE_ENDIAN);
    bytes.extend(LINE_STRING.to_le_bytes());
    bytes.extend((vertices.len() as u32).to_le_bytes());
    for at in vertices {
        bytes.extend(at.lon_deg.to_le_bytes());
        bytes.extend(at.lat_deg.to_le_bytes());
    }
    bytes
}

/// The vertices of a line that [`line`] wrote; `None` where the bytes are no little-endian line of two or more
/// positions on the globe.
pub fn line_vertices(bytes: &[u8]) -> Option<Vec<LatLon>> {
    let (head, points) = bytes.split_at_checked(HEAD_BYTES)?;
    let kind = u32::from_le_bytes(head[1..5].try_into().ok()?);
    let n_points = u32::from_le_bytes(head[5..9].try_into().ok()?) as usize;
    let (points, rest) = points.as_chunks::<POINT_BYTES>();
    let whole =
        head[0] == LITTLE_ENDIAN && kind == LINE_STRING && points.len() == n_points && rest.is_empty();
    if !whole || n_points < 2 {
        return None;
    }
    points.iter().map(vertex).collect()
}

fn vertex(point: &[u8; POINT_BYTES]) -> Option<LatLon> {
    let (x, y) = point.split_at(8);
    let lon_deg = f64::from_le_bytes(x.try_into().ok()?);
    let lat_deg = f64::from_le_bytes(y.try_into().ok()?);
    LatLon::new(lat_deg, lon_deg)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bytes of `shapely.to_wkb(shapely.LineString([(-29.4, 46.2), (-29.375, 46.25)]), byte_order=1).hex()`,
    /// shapely 2.2.0.
    const SHAPELY: &str = "010200000002000000\
        6666666666663dc09a999999991947400000000000603dc00000000000204740";

    fn vertices() -> Vec<LatLon> {
        vec![LatLon { lat_deg: 46.2, lon_deg: -29.4 }, LatLon { lat_deg: 46.25, lon_deg: -29.375 }]
    }

    #[test]
    fn agrees_with_shapely() {
        let bytes = line(&vertices());
        let shapely = SHAPELY
            .as_bytes()
            .chunks(2)
            .map(|hex| u8::from_str_radix(str::from_utf8(hex).unwrap(), 16).unwrap());
        assert_eq!(bytes, shapely.collect::<Vec<_>>());
    }

    #[test]
    fn there_and_back() {
        assert_eq!(line_vertices(&line(&vertices())), Some(vertices()));
    }

    #[test]
    fn what_is_no_line_is_refused() {
        let whole = line(&vertices());
        for n in 0..whole.len() {
            assert_eq!(line_vertices(&whole[..n]), None, "first {n} bytes");
        }
        assert_eq!(line_vertices(&[&whole[..], &[0]].concat()), None, "a byte too many");
        assert_eq!(line_vertices(&line(&vertices()[..1])), None, "one vertex");
        let nowhere = LatLon { lat_deg: f64::NAN, lon_deg: 0.0 };
        assert_eq!(line_vertices(&line(&[nowhere, nowhere])), None);
    }
}
