//! Where was the boat, and where were the breaks, the currents and the bites? A map without tiles.

use waterseam_tables::{TripTables, bites, break_lines, breaks, currents, wkb};
use waterseam_units::angle::{east_north, wrap_deg};
use waterseam_units::{LatLon, LocalFrame};

use super::along::WIDTH;
use super::colour::Thermal;
use super::decimate::simplify;
use super::markup::{Markup, Px, path, push_path, put};
use super::measure::{SYSTEMS, Styles, class, round_step};
use super::retold::title;
use super::seconds::{Second, fished};
use crate::sections::{bite_words, break_words};
use crate::summary::Style;
use crate::words::{clock, place};

/// Free room about what is drawn.
const MARGIN: f64 = 46.0;
const HEIGHT_LEAST: f64 = 380.0;
const HEIGHT_MOST: f64 = 620.0;
/// A trip that went nowhere is drawn on a map of this size, m.
const SPAN_LEAST_M: f64 = 400.0;
/// The track may move by so much: half a pixel where it is enlarged four times.
const TRACK_TOLERANCE: f64 = 0.12;
/// Length of the longest current arrow.
const ARROW_MOST: f64 = 46.0;
/// Most current arrows.
const ARROWS: usize = 36;
/// A current within so many of its standard errors of zero has no arrow.
const TOLD_SE: f64 = 2.0;
/// Arrows stand no closer together than this.
const ARROW_APART: f64 = 24.0;
/// Soundings stand no closer together than this.
const SOUNDING_APART: f64 = 62.0;
/// Teeth of a break stand so far apart, and are so long.
const TOOTH: f64 = 9.0;

/// What a page's drawings share: from places to the map.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Projection {
    frame: LocalFrame,
    px_per_m: f64,
    /// Where the origin of the frame stands.
    origin: (f64, f64),
    pub(crate) height: f64,
}

impl Projection {
    /// About these places; `None` where there are none.
    pub(crate) fn about(places: impl Iterator<Item = LatLon> + Clone) -> Option<Self> {
        let frame = LocalFrame::new(places.clone().next()?);
        let mut bounds = (f64::MAX, f64::MIN, f64::MAX, f64::MIN);
        for (east, north) in places.map(|at| frame.to_local(at)) {
            bounds = (bounds.0.min(east), bounds.1.max(east), bounds.2.min(north), bounds.3.max(north));
        }
        let (wide_m, high_m) =
            ((bounds.1 - bounds.0).max(SPAN_LEAST_M), (bounds.3 - bounds.2).max(SPAN_LEAST_M));
        let room = WIDTH - 2.0 * MARGIN;
        let height = (room * high_m / wide_m + 2.0 * MARGIN).clamp(HEIGHT_LEAST, HEIGHT_MOST).round();
        let px_per_m = (room / wide_m).min((height - 2.0 * MARGIN) / high_m);
        let middle = (0.5 * (bounds.0 + bounds.1), 0.5 * (bounds.2 + bounds.3));
        let origin = (0.5 * WIDTH - middle.0 * px_per_m, 0.5 * height + middle.1 * px_per_m);
        Some(Self { frame, px_per_m, origin, height })
    }

    pub(crate) fn at(&self, lat_deg: f64, lon_deg: f64) -> (f64, f64) {
        let (east, north) = self.frame.to_local(LatLon { lat_deg, lon_deg });
        (self.origin.0 + east * self.px_per_m, self.origin.1 - north * self.px_per_m)
    }

    fn place(&self, x: f64, y: f64) -> LatLon {
        self.frame.to_position((x - self.origin.0) / self.px_per_m, (self.origin.1 - y) / self.px_per_m)
    }

    /// Position of the upper left corner, and degrees of longitude and latitude to the right and down: what the script needs for the graticule.
    pub(crate) fn json(&self) -> serde_json::Value {
        let (corner, right, down) = (self.place(0.0, 0.0), self.place(1000.0, 0.0), self.place(0.0, 1000.0));
        let nine = |x: f64| (x * 1e9).round() / 1e9;
        let per_px = |from: f64, to: f64| nine(waterseam_units::angle::turn_deg(from, to) / 1000.0);
        serde_json::json!({
            "lat": nine(corner.lat_deg), "lon": nine(corner.lon_deg),
            "lat_px": nine((down.lat_deg - corner.lat_deg) / 1000.0), "lon_px": per_px(corner.lon_deg, right.lon_deg),
            "m_px": nine(1.0 / self.px_per_m), "width": WIDTH, "height": self.height,
        })
    }
}

/// Fewer seconds of fishing do not make a map of their own.
const FISHED_LEAST: usize = 60;

/// Projection of a trip's map: on the water that was fished, as the run out and home would make it small. `None`
/// without a track.
pub(crate) fn projection(tables: &TripTables, seconds: &[Second]) -> Option<Projection> {
    let is_map = fished(seconds).nth(FISHED_LEAST - 1).is_some();
    let all = seconds.iter().filter(|_| !is_map);
    let track = fished(seconds).chain(all).map(|second| second.at);
    let bites = tables.bites.iter().map(|row| LatLon { lat_deg: row.lat, lon_deg: row.lon });
    let breaks = tables.breaks.iter().map(|row| LatLon { lat_deg: row.lat, lon_deg: row.lon });
    Projection::about(track.chain(bites).chain(breaks))
}

/// The map. Marks keep their size when the script enlarges it.
pub(crate) fn map(
    tables: &TripTables,
    seconds: &[Second],
    to: &Projection,
    thermal: Option<Thermal>,
    styles: &Styles,
) -> Markup {
    let mut out = Markup::default();
    put!(
        out,
        "<svg id=\"map\" class=\"picture\" viewBox=\"0 0 {} {}\" role=\"group\" tabindex=\"0\" \
         aria-labelledby=\"map-title\" aria-describedby=\"map-keys\"><title id=\"map-title\">Map of the trip</title>",
        WIDTH,
        to.height
    );
    put!(out, "<rect class=\"water\" width=\"{}\" height=\"{}\"/>", WIDTH, to.height);
    out.raw("<g id=\"graticule\">");
    graticule(&mut out, to);
    out.raw("</g><g id=\"chart\">");
    course(&mut out, seconds, to, thermal);
    soundings(&mut out, seconds, to);
    arrows(&mut out, tables, to, styles);
    edges(&mut out, tables, to, styles);
    break_marks(&mut out, tables, to, styles);
    bite_marks(&mut out, tables, to, styles);
    sides(&mut out, tables, to);
    start(&mut out, seconds, to);
    out.raw("<g id=\"map-cursor\" class=\"m cursor\"><g class=\"s\"><circle r=\"9\"/><path d=\"M0 -16V-4M0 4V16M-16 0H-4M4 0H16\"/></g></g></g>");
    north_and_scale(&mut out, to);
    out.raw("</svg>");
    out
}

/// The track, in pieces of one colour on a line of ink.
fn course(out: &mut Markup, rows: &[Second], to: &Projection, thermal: Option<Thermal>) {
    let points: Vec<(f64, f64)> = rows.iter().map(|row| to.at(row.at.lat_deg, row.at.lon_deg)).collect();
    let all = simplify(&points, TRACK_TOLERANCE);
    put!(out, "<g class=\"track\"><path class=\"casing\" d=\"{}\"/>", path(all.iter().map(|&i| points[i])));
    let Some(thermal) = thermal else {
        out.raw("</g>");
        return;
    };
    // a second without a temperature has none of another second's
    let steps: Vec<Option<usize>> = rows.iter().map(|row| row.surface_c.map(|t| thermal.step(t))).collect();
    let mut of_step: Vec<String> = vec![String::new(); Thermal::steps()];
    let mut from = 0;
    for piece in steps.chunk_by(|a, b| a == b) {
        let end = (from + piece.len()).min(points.len() - 1);
        if let Some(step) = piece[0] {
            let kept = simplify(&points[from..=end], TRACK_TOLERANCE);
            push_path(&mut of_step[step], kept.iter().map(|&i| points[from + i]));
        }
        from += piece.len();
    }
    for (step, d) in of_step.iter().enumerate().filter(|(_, d)| !d.is_empty()) {
        put!(out, "<path stroke=\"{}\" d=\"{}\"/>", Thermal::colour(step), d);
    }
    out.raw("</g>");
}

/// Depths of the water as figures, as a chart has them; no two close together.
fn soundings(out: &mut Markup, rows: &[Second], to: &Projection) {
    out.raw("<g class=\"soundings\">");
    let mut placed: Vec<(f64, f64)> = Vec::new();
    for row in rows.iter().step_by(15) {
        let Some(depth_m) = row.water_depth_m else { continue };
        let (x, y) = to.at(row.at.lat_deg, row.at.lon_deg);
        if placed.iter().any(|at| (at.0 - x).hypot(at.1 - y) < SOUNDING_APART) {
            continue;
        }
        placed.push((x, y));
        mark(out, x, y, "");
        for system in SYSTEMS {
            put!(
                out,
                "<text class=\"{}\" x=\"8\" y=\"14\">{}</text>",
                class(system),
                format_args!("{:.0}", system.depth_value(depth_m))
            );
        }
        out.raw("</g></g>");
    }
    out.raw("</g>");
}

/// Begins a mark that keeps its size; it is ended by `</g></g>`.
fn mark(out: &mut Markup, x: f64, y: f64, class: &str) {
    put!(out, "<g class=\"m {}\" transform=\"translate({} {})\"><g class=\"s\">", class, Px(x), Px(y));
}

fn arrows(out: &mut Markup, tables: &TripTables, to: &Projection, styles: &Styles) {
    let sure: Vec<&currents::Row> = tables.currents.iter().filter(|row| is_sure(row)).collect();
    let most = sure.iter().map(|row| row.drift_mps).fold(0.0, f64::max);
    out.raw("<g class=\"currents\">");
    let mut placed: Vec<(f64, f64)> = Vec::new();
    for row in sure.iter().step_by(sure.len().div_ceil(ARROWS).max(1)) {
        let (x, y) = to.at(row.lat, row.lon);
        if placed.iter().any(|at| (at.0 - x).hypot(at.1 - y) < ARROW_APART) {
            continue;
        }
        placed.push((x, y));
        let length = ARROW_MOST * row.drift_mps / most;
        mark(out, x, y, "");
        title(out, styles, |style| {
            format!(
                "{}  current {} toward {:.0}°",
                clock(row.time, style),
                style.units.slow_speed(row.drift_mps),
                row.set_deg.unwrap_or_default()
            )
        });
        put!(
            out,
            "<path transform=\"rotate({})\" d=\"M0 0V{}M-4 {}L0 {}L4 {}\"/>",
            Px(row.set_deg.unwrap_or_default()),
            Px(-length),
            Px(7.0_f64.min(length) - length),
            Px(-length),
            Px(7.0_f64.min(length) - length)
        );
        out.raw("</g></g>");
    }
    out.raw("</g>");
}

fn is_sure(row: &currents::Row) -> bool {
    row.drift_mps > TOLD_SE * row.east_se_mps.hypot(row.north_se_mps) / std::f64::consts::SQRT_2
}

/// A line of ink with teeth on the warm side.
fn toothed(points: &[(f64, f64)], warm_side_deg: Option<f64>) -> String {
    let mut d = path(points.iter().copied());
    let Some(warm_deg) = warm_side_deg else { return d };
    let (east, north) = east_north(1.0, warm_deg);
    let mut until = 0.5 * TOOTH;
    for pair in points.windows(2) {
        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
        let length = (x1 - x0).hypot(y1 - y0);
        if length == 0.0 {
            continue;
        }
        let (dx, dy) = ((x1 - x0) / length, (y1 - y0) / length);
        // of the two directions across the line, the one on the warm side
        let side = if -dy * east - dx * north >= 0.0 { 1.0 } else { -1.0 };
        while until <= length {
            let (x, y) = (x0 + until * dx, y0 + until * dy);
            d.push_str(&path([(x, y), (x - side * dy * TOOTH, y + side * dx * TOOTH)]));
            until += TOOTH;
        }
        until -= length;
    }
    d
}

fn break_marks(out: &mut Markup, tables: &TripTables, to: &Projection, styles: &Styles) {
    out.raw("<g class=\"breaks\">");
    for line in &tables.break_lines {
        break_line(out, line, to, styles);
    }
    for row in &tables.breaks {
        crossing(out, row, to, styles);
    }
    out.raw("</g>");
}

/// The sides of the strongest break, said in a word where the eye goes first.
fn sides(out: &mut Markup, tables: &TripTables, to: &Projection) {
    out.raw("<g class=\"breaks\">");
    if let Some((row, side)) =
        crate::sections::strongest(tables).and_then(|row| Some((row, row.warm_side_deg?)))
    {
        let (x, y) = to.at(row.lat, row.lon);
        let (east, north) = east_north(34.0, side);
        for (word, sign, class) in [("WARM", 1.0, "warm"), ("COLD", -1.0, "cold")] {
            mark(out, x, y, class);
            put!(
                out,
                "<text class=\"side\" x=\"{}\" y=\"{}\">{}</text></g></g>",
                Px(sign * east),
                Px(4.0 - sign * north),
                word
            );
        }
    }
    out.raw("</g>");
}

fn break_line(out: &mut Markup, line: &break_lines::Row, to: &Projection, styles: &Styles) {
    let Some(vertices) = wkb::line_vertices(&line.geometry) else { return };
    let points: Vec<(f64, f64)> = vertices.iter().map(|at| to.at(at.lat_deg, at.lon_deg)).collect();
    let kept: Vec<(f64, f64)> = simplify(&points, 0.2).into_iter().map(|i| points[i]).collect();
    out.raw("<g>");
    title(out, styles, |style| {
        format!("Break: {} over {} crossings", style.units.temp_difference(line.step_c), line.crossings)
    });
    let d = toothed(&kept, Some(line.warm_side_deg));
    put!(out, "<path class=\"under\" d=\"{}\"/><path class=\"line\" d=\"{}\"/></g>", d, d);
}

/// A bar across the warm side's direction, with teeth where that is known; thin and dashed where it is a doubtful or a deep one.
fn crossing(out: &mut Markup, row: &breaks::Row, to: &Projection, styles: &Styles) {
    let (x, y) = to.at(row.lat, row.lon);
    let doubtful = row.kind == "maybe_shadow" || row.depth_m.is_some();
    mark(out, x, y, if doubtful { "crossing doubtful" } else { "crossing" });
    title(out, styles, |style| {
        format!(
            "{}  {}  {}{}",
            clock(row.time, style),
            place(row.lat, row.lon),
            break_words(row, style),
            if row.kind == "maybe_shadow" { ", may be the shadow of a cloud" } else { "" }
        )
    });
    let Some(warm_deg) = row.warm_side_deg else {
        out.raw("<path class=\"line\" d=\"M-6 -6L6 6M-6 6L6 -6\"/></g></g>");
        return;
    };
    let (dx, dy) = east_north(13.0, wrap_deg(warm_deg + 90.0));
    let d = toothed(&[(-dx, dy), (dx, -dy)], Some(warm_deg));
    put!(out, "<path class=\"under\" d=\"{}\"/><path class=\"line\" d=\"{}\"/></g></g>", d, d);
}

fn edges(out: &mut Markup, tables: &TripTables, to: &Projection, styles: &Styles) {
    out.raw("<g class=\"edges\">");
    for row in &tables.current_edges {
        let (x, y) = to.at(row.lat, row.lon);
        mark(out, x, y, "");
        title(out, styles, |style| {
            format!(
                "{}  edge of a current: {}",
                clock(row.time, style),
                crate::moving_water::edge_words(row, style)
            )
        });
        out.raw("<path d=\"M0 -9L9 0L0 9L-9 0Z\"/></g></g>");
    }
    out.raw("</g>");
}

fn bite_marks(out: &mut Markup, tables: &TripTables, to: &Projection, styles: &Styles) {
    out.raw("<g class=\"bites\">");
    for (n, row) in tables.bites.iter().enumerate() {
        let (x, y) = to.at(row.lat, row.lon);
        mark(out, x, y, if row.outcome.as_deref() == Some("lost") { "lost" } else { "" });
        title(out, styles, |style| bite_title(n, row, style));
        out.raw("<circle r=\"5.5\"/></g></g>");
    }
    out.raw("</g>");
}

/// `Bite 4: 05:50  coho, 45 ft, …`, of the row `n` from 0.
pub(super) fn bite_title(n: usize, row: &bites::Row, style: &Style) -> String {
    format!("Bite {}: {}  {}", n + 1, clock(row.time, style), bite_words(row, style))
}

fn start(out: &mut Markup, rows: &[Second], to: &Projection) {
    let Some(row) = rows.first() else { return };
    let (x, y) = to.at(row.at.lat_deg, row.at.lon_deg);
    mark(out, x, y, "start");
    out.raw("<title>Start of the track</title><rect x=\"-6\" y=\"-6\" width=\"12\" height=\"12\"/></g></g>");
}

/// Steps of the graticule, minutes.
const GRATICULE_MIN: [f64; 12] = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0];

/// Lines of latitude and longitude with their degrees and minutes. The script draws them anew when the map moves.
pub(super) fn graticule(out: &mut Markup, to: &Projection) {
    let (corner, other) = (to.place(0.0, 0.0), to.place(WIDTH, to.height));
    let wide_deg = waterseam_units::angle::turn_deg(corner.lon_deg, other.lon_deg);
    let high_deg = corner.lat_deg - other.lat_deg;
    let step = |span_deg: f64, n: f64| {
        let least = span_deg * 60.0 / n;
        GRATICULE_MIN.into_iter().find(|step| *step >= least).unwrap_or(300.0) / 60.0
    };
    let lat_step = step(high_deg, 5.0);
    for k in (other.lat_deg / lat_step).ceil() as i64..=(corner.lat_deg / lat_step).floor() as i64 {
        let lat_deg = k as f64 * lat_step;
        let (_, y) = to.at(lat_deg, corner.lon_deg);
        put!(
            out,
            "<path d=\"M0 {}H{}\"/><text x=\"4\" y=\"{}\">{}</text>",
            Px(y),
            WIDTH,
            Px(y - 3.0),
            minutes(lat_deg, 2, 'N', 'S')
        );
    }
    let lon_step = step(wide_deg, 5.0);
    let first = (corner.lon_deg / lon_step).ceil() as i64;
    let last = ((corner.lon_deg + wide_deg) / lon_step).floor() as i64;
    for k in first..=last {
        let lon_deg = waterseam_units::angle::turn_deg(0.0, k as f64 * lon_step);
        let (x, _) = to.at(corner.lat_deg, lon_deg);
        put!(
            out,
            "<path d=\"M{} 0V{}\"/><text x=\"{}\" y=\"{}\">{}</text>",
            Px(x),
            to.height,
            Px(x + 4.0),
            to.height - 5.0,
            minutes(lon_deg, 3, 'E', 'W')
        );
    }
}

/// `46°12.5'N`, to a tenth of a minute.
fn minutes(value_deg: f64, width: usize, positive: char, negative: char) -> String {
    let tenths = (value_deg.abs() * 600.0).round() as u64;
    let hemisphere = if value_deg < 0.0 { negative } else { positive };
    format!("{:0width$}°{:04.1}'{hemisphere}", tenths / 600, (tenths % 600) as f64 / 10.0)
}

/// North, and how long a round distance is.
pub(super) fn north_and_scale(out: &mut Markup, to: &Projection) {
    put!(out, "<g class=\"north\" transform=\"translate({} 40)\">", WIDTH - 30.0);
    out.raw("<title>North is up</title><path class=\"needle\" d=\"M0 -26L7 14L0 8L-7 14Z\"/><text class=\"mid\" y=\"30\">N</text></g>");
    put!(out, "<g id=\"scale\" transform=\"translate({} {})\">", WIDTH - 24.0, to.height - 30.0);
    for system in SYSTEMS {
        let unit = super::measure::Measure::Distance.unit(system);
        let m_per_unit = 1.0 / unit.factor;
        // the longest round length within a quarter of the map
        let room = WIDTH / 4.0 / to.px_per_m / m_per_unit;
        let length = round_step(room / 2.0);
        let length = if length > room { length / 2.0 } else { length };
        let px = length * m_per_unit * to.px_per_m;
        put!(
            out,
            "<g class=\"{}\"><path d=\"M{} -5V0H0V-5\"/><text class=\"end\" x=\"0\" y=\"-8\">{} {}</text></g>",
            class(system),
            Px(-px),
            (length * 1000.0).round() / 1000.0,
            unit.name
        );
    }
    out.raw("</g>");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn north_is_up_and_a_place_comes_back() {
        let at = |lat_deg: f64, lon_deg: f64| LatLon { lat_deg, lon_deg };
        let to = Projection::about([at(46.2, -29.4), at(46.3, -29.3)].into_iter()).unwrap();
        let (x0, y0) = to.at(46.2, -29.4);
        let (x1, y1) = to.at(46.3, -29.3);
        assert!(x1 > x0 && y1 < y0);
        let back = to.place(x1, y1);
        assert!((back.lat_deg - 46.3).abs() < 1e-9 && (back.lon_deg + 29.3).abs() < 1e-9);
        assert!(Projection::about(std::iter::empty()).is_none());
    }

    #[test]
    fn a_map_over_the_antimeridian_is_no_wider() {
        let at = |lon_deg: f64| LatLon { lat_deg: 10.0, lon_deg };
        let to = Projection::about([at(179.95), at(-179.95)].into_iter()).unwrap();
        let (x0, x1) = (to.at(10.0, 179.95).0, to.at(10.0, -179.95).0);
        assert!(x0 < x1 && x0 > 0.0 && x1 < WIDTH, "{x0} {x1}");
        assert!(to.json()["lon_px"].as_f64().unwrap() < 0.001);
    }

    #[test]
    fn teeth_stand_on_the_warm_side() {
        // a line from south to north, y down; warm water to the west
        let d = toothed(&[(100.0, 100.0), (100.0, 60.0)], Some(270.0));
        let teeth: Vec<&str> = d.split('M').skip(2).collect();
        assert_eq!(teeth.len(), 4, "{d}");
        assert!(teeth.iter().all(|tooth| tooth.starts_with("100 ") && tooth.contains("L91 ")), "{d}");
        // and the same whichever way it was drawn
        let other = toothed(&[(100.0, 60.0), (100.0, 100.0)], Some(270.0));
        assert!(other.split('M').skip(2).all(|tooth| tooth.contains("L91 ")), "{other}");
    }

    #[test]
    fn minutes_never_reach_sixty() {
        assert_eq!(minutes(45.999_999, 2, 'N', 'S'), "46°00.0'N");
        assert_eq!(minutes(-29.525, 3, 'E', 'W'), "029°31.5'W");
    }
}
