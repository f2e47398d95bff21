//! How is a line or an area written as well-known binary, and read again?
//!
//! OGC 06-103r4, Simple Feature Access part 1, clause 8.2: byte order 1 (little endian), geometry type 2
//! (LineString) or 3 (Polygon); of a polygon the number of rings, which is 1 here; number of points, then x and y of
//! each as 64-bit floats. GeoParquet 1.1 keeps longitude in x and latitude in y.

use waterseam_units::LatLon;

const LITTLE_ENDIAN: u8 = 1;
const LINE_STRING: u32 = 2;
const POLYGON: u32 = 3;
const POINT_BYTES: usize = 16;

/// A shape of a table.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A line of two or more positions.
    Line(Vec<LatLon>),
    /// The ring about an area: its first position comes again as its last.
    Area(Vec<LatLon>),
}

impl Shape {
    /// Its positions.
    pub fn vertices(self) -> Vec<LatLon> {
        match self {
            Self::Line(vertices) | Self::Area(vertices) => vertices,
        }
    }
}

/// A line as well-known binary.
pub fn line(vertices: &[LatLon]) -> Vec<u8> {
    let mut bytes = head(LINE_STRING);
    put_points(&mut bytes, vertices);
    bytes
}

/// An area as well-known binary, from its corners against the clock. The ring is closed here.
pub fn area(corners: &[LatLon]) -> Vec<u8> {
    let mut bytes = head(POLYGON);
    bytes.extend(1_u32.to_le_bytes());
    let ring: Vec<LatLon> = corners.iter().chain(corners.first()).copied().collect();
    put_points(&mut bytes, &ring);
    bytes
}

fn head(kind: u32) -> Vec<u8> {
    let mut bytes = vec![LITTLE_ENDIAN];
    bytes.extend(kind.to_le_bytes());
    bytes
}

fn put_points(bytes: &mut Vec<u8>, vertices: &[LatLon]) {
    bytes.extend((vertices.len() as u32).to_le_bytes());
    for at in vertices {
        bytes.extend(at.lon_deg.to_le_bytes());
        bytes.extend(at.lat_deg.to_le_bytes());
    }
}

/// The shape that [`line`] or [`area`] wrote; `None` where the bytes are no little-endian line of two or more positions on the
/// globe, and no area with one closed ring of them.
pub fn shape(bytes: &[u8]) -> Option<Shape> {
    let (&order, rest) = bytes.split_first()?;
    let (kind, rest) = number(rest)?;
    match (order, kind) {
        (LITTLE_ENDIAN, LINE_STRING) => points(rest).filter(|line| line.len() >= 2).map(Shape::Line),
        (LITTLE_ENDIAN, POLYGON) => {
            let (rings, rest) = number(rest)?;
            let ring = points(rest)?;
            let is_closed = ring.len() >= 4 && ring.first() == ring.last();
            (rings == 1 && is_closed).then_some(Shape::Area(ring))
        }
        _ => None,
    }
}

/// The vertices of a line that [`line`] wrote; `None` for all else.
pub fn line_vertices(bytes: &[u8]) -> Option<Vec<LatLon>> {
    match shape(bytes)? {
        Shape::Line(vertices) => Some(vertices),
        Shape::Area(_) => None,
    }
}

fn number(bytes: &[u8]) -> Option<(u32, &[u8])> {
    let (number, rest) = bytes.split_first_chunk()?;
    Some((u32::from_le_bytes(*number), rest))
}

/// So many points as are announced, and nothing after them.
fn points(bytes: &[u8]) -> Option<Vec<LatLon>> {
    let (n_points, rest) = number(bytes)?;
    let (points, left_over) = rest.as_chunks::<POINT_BYTES>();
    let whole = points.len() == n_points as usize && left_over.is_empty();
    whole.then(|| points.iter().map(vertex).collect())?
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

    /// The same of `shapely.Polygon([(-29.4, 46.2), (-29.3, 46.2), (-29.375, 46.25)])`.
    const SHAPELY_POLYGON: &str = "01030000000100000004000000\
        6666666666663dc09a99999999194740cdcccccccc4c3dc09a999999991947400000000000603dc00000000000204740\
        6666666666663dc09a99999999194740";

    fn corners() -> Vec<LatLon> {
        [(-29.4, 46.2), (-29.3, 46.2), (-29.375, 46.25)]
            .map(|(lon_deg, lat_deg)| LatLon { lat_deg, lon_deg })
            .to_vec()
    }

    fn bytes(hex: &str) -> Vec<u8> {
        hex.as_bytes()
            .chunks(2)
            .map(|hex| u8::from_str_radix(str::from_utf8(hex).unwrap(), 16).unwrap())
            .collect()
    }

    #[test]
    fn agrees_with_shapely() {
        assert_eq!(line(&vertices()), bytes(SHAPELY));
        assert_eq!(area(&corners()), bytes(SHAPELY_POLYGON));
    }

    #[test]
    fn there_and_back() {
        assert_eq!(shape(&line(&vertices())), Some(Shape::Line(vertices())));
        let ring = [corners(), corners()[..1].to_vec()].concat();
        assert_eq!(shape(&area(&corners())), Some(Shape::Area(ring)));
        assert_eq!(line_vertices(&area(&corners())), None);
    }

    #[test]
    fn what_is_no_shape_is_refused() {
        for whole in [line(&vertices()), area(&corners())] {
            for n in 0..whole.len() {
                assert_eq!(shape(&whole[..n]), None, "first {n} bytes");
            }
            assert_eq!(shape(&[&whole[..], &[0]].concat()), None, "a byte too many");
        }
        assert_eq!(shape(&line(&vertices()[..1])), None, "one vertex");
        assert_eq!(shape(&area(&vertices())), None, "an area of two corners");
        let mut open = area(&corners());
        let last = open.len() - 1;
        open[last] ^= 1;
        assert_eq!(shape(&open), None, "a ring that is not closed");
        let nowhere = LatLon { lat_deg: f64::NAN, lon_deg: 0.0 };
        assert_eq!(shape(&line(&[nowhere, nowhere])), None);
    }
}
