//! How warm was the surface, how deep the water and how fast the boat, mile by mile?

use waterseam_tables::TripTables;

use super::along::{Along, LEFT, RIGHT, WIDTH, draw_left};
use super::colour::Thermal;
use super::decimate::min_max;
use super::markup::{Markup, Px, push_path, put};
use super::measure::{Axis, Measure, Styles};
use super::retold::title;
use super::seconds::{Second, fished, span};
use crate::words::clock;

/// A longer time without a value breaks a curve, s.
const GAP_S: f64 = 30.0;
const TEMP: (f64, f64) = (24.0, 136.0);
const DEPTH: (f64, f64) = (164.0, 214.0);
const SPEED: (f64, f64) = (242.0, 292.0);
const HEIGHT: f64 = 316.0;

/// Three curves over distance, with the breaks that were crossed.
pub(crate) fn strip(tables: &TripTables, along: &Along, thermal: Option<Thermal>, styles: &Styles) -> Markup {
    let mut out = Markup::default();
    put!(
        out,
        "<svg id=\"strip\" class=\"picture\" viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"strip-title\">\
         <title id=\"strip-title\">Surface temperature, depth of the water and speed along the track</title>",
        WIDTH,
        HEIGHT
    );
    for (top, bottom) in [TEMP, DEPTH] {
        along.draw(&mut out, top, bottom, false);
    }
    along.draw(&mut out, SPEED.0, SPEED.1, true);
    temperature(&mut out, tables, along, thermal, styles);
    let deepest =
        span(along.framed().iter().filter_map(|row| row.water_depth_m)).map_or(1.0, |(_, high)| high);
    let depth = Axis::new(Measure::Depth, 0.0..deepest, DEPTH.0..DEPTH.1);
    panel(&mut out, "water depth", along, &depth, DEPTH, |row| row.water_depth_m, 3.0);
    // the run before and after is off the scale, or trolling would be a flat line
    let fished = span(fished(along.rows()).filter_map(|row| row.speed_mps));
    let fastest = fished.map_or(1.0, |(_, fastest)| fastest.max(1.0));
    let speed = Axis::new(Measure::Speed, 0.0..fastest, SPEED.1..SPEED.0);
    let speed_mps = |row: &Second| row.speed_mps.filter(|mps| *mps <= fastest);
    panel(&mut out, "speed", along, &speed, SPEED, speed_mps, 3.0);
    put!(out, "<path id=\"strip-cursor\" class=\"cursor\" d=\"M0 {}V{}\"/></svg>", TEMP.0, SPEED.1);
    out
}

fn temperature(
    out: &mut Markup,
    tables: &TripTables,
    along: &Along,
    thermal: Option<Thermal>,
    styles: &Styles,
) {
    name(out, "surface temperature", TEMP.0);
    let (Some(thermal), Some((low, high))) =
        (thermal, span(along.framed().iter().filter_map(|row| row.surface_c)))
    else {
        nothing(out, TEMP);
        return;
    };
    let room = 0.06 * (high - low).max(1.0);
    let axis = Axis::new(Measure::Temp, low - room..high + room, TEMP.1..TEMP.0);
    // the axis is the key to the colours of the map
    let (coldest, warmest) = thermal.ends_c();
    let step_c = (warmest - coldest) / Thermal::steps() as f64;
    for step in 0..Thermal::steps() {
        let from = (coldest + step as f64 * step_c).clamp(low - room, high + room);
        let to = (coldest + (step + 1) as f64 * step_c).clamp(low - room, high + room);
        let (y, bottom) = (axis.at(to), axis.at(from));
        if bottom - y > 0.05 {
            put!(
                out,
                "<rect x=\"{}\" y=\"{}\" width=\"8\" height=\"{}\" fill=\"{}\"/>",
                Px(LEFT),
                Px(y),
                Px(bottom - y + 0.3),
                Thermal::colour(step)
            );
        }
    }
    draw_left(out, &axis, 4.0, WIDTH - RIGHT);
    curve(out, &along.curves(|row| row.surface_c, |t| axis.at(t), GAP_S));
    for row in tables.breaks.iter().filter(|row| row.depth_m.is_none()) {
        let x = along.x(row.distance_m);
        let toward = if row.step_c > 0.0 { 1.0 } else { -1.0 };
        let doubtful = if row.kind == "maybe_shadow" { " doubtful" } else { "" };
        put!(out, "<g class=\"break{}\">", doubtful);
        title(out, styles, |style| {
            format!("{}  {}", clock(row.time, style), crate::sections::break_words(row, style))
        });
        // a flag that flies toward the warm side
        put!(
            out,
            "<path class=\"line\" d=\"M{} {}V{}\"/><path class=\"flag\" d=\"M{} {}l{} 5l{} 5z\"/></g>",
            Px(x),
            Px(TEMP.0),
            Px(TEMP.1),
            Px(x),
            Px(TEMP.0),
            Px(toward * 11.0),
            Px(toward * -11.0)
        );
    }
}

fn panel(
    out: &mut Markup,
    what: &'static str,
    along: &Along,
    axis: &Axis,
    (top, bottom): (f64, f64),
    value: impl Fn(&Second) -> Option<f64>,
    ticks: f64,
) {
    name(out, what, top);
    let curves = along.curves(value, |value| axis.at(value), GAP_S);
    if curves.is_empty() {
        nothing(out, (top, bottom));
        return;
    }
    draw_left(out, axis, ticks, WIDTH - RIGHT);
    curve(out, &curves);
}

fn curve(out: &mut Markup, pieces: &[Vec<(f64, f64)>]) {
    let mut d = String::new();
    for piece in pieces {
        push_path(&mut d, min_max(piece));
    }
    put!(out, "<path class=\"curve\" d=\"{}\"/>", d);
}

fn name(out: &mut Markup, what: &'static str, top: f64) {
    put!(out, "<text class=\"name\" x=\"{}\" y=\"{}\">{}</text>", Px(LEFT), Px(top - 6.0), what);
}

fn nothing(out: &mut Markup, (top, bottom): (f64, f64)) {
    put!(
        out,
        "<text class=\"nothing\" x=\"{}\" y=\"{}\">not recorded</text>",
        Px(LEFT + 14.0),
        Px(0.5 * (top + bottom) + 4.0)
    );
}
