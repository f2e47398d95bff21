//! What did the water look like from the side, where did the lines run in it, and where did the bites come?

use std::collections::BTreeMap;

use waterseam_tables::{TripTables, effort, profiles};

use super::along::{Along, LEFT, RIGHT, WIDTH, draw_left};
use super::colour::Thermal;
use super::decimate::simplify;
use super::field::field;
use super::map::bite_title;
use super::markup::{Markup, Px, path, push_path, put};
use super::measure::{Axis, Measure, Styles};
use super::retold::title;
use super::seconds::{Second, span};

const TOP: f64 = 24.0;
const BOTTOM: f64 = 300.0;
const HEIGHT: f64 = 324.0;
/// A profile is drawn so wide.
const CAST: f64 = 9.0;
/// Water below what was fished and measured is drawn no deeper than this part of it.
const ROOM: f64 = 1.08;
/// A rod whose line was longer than this without effort was out of the water, µs.
const LINE_OUT_US: i64 = 180_000_000;
/// Room that the name of the thermocline takes, on a phone.
const LABEL: f64 = 130.0;
/// Samples of the towed probe stand no closer than this.
const SAMPLE_APART: f64 = 1.6;

/// Depth against distance.
pub(crate) fn section(
    tables: &TripTables,
    along: &Along,
    thermal: Option<Thermal>,
    styles: &Styles,
) -> Markup {
    let deepest = deepest_m(tables, along.rows()).unwrap_or(10.0) * ROOM;
    let axis = Axis::new(Measure::Depth, 0.0..deepest, TOP..BOTTOM);
    let mut out = Markup::default();
    put!(
        out,
        "<svg id=\"section\" class=\"picture\" viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"section-title\">\
         <title id=\"section-title\">Section of the water along the track: depth against distance</title>",
        WIDTH,
        HEIGHT
    );
    put!(
        out,
        "<rect class=\"water\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
        Px(LEFT),
        Px(TOP),
        Px(WIDTH - RIGHT - LEFT),
        Px(BOTTOM - TOP)
    );
    along.draw(&mut out, TOP, BOTTOM, true);
    draw_left(&mut out, &axis, 6.0, WIDTH - RIGHT);
    put!(
        out,
        "<text class=\"name\" x=\"{}\" y=\"{}\">depth below the surface</text>",
        Px(LEFT),
        Px(TOP - 7.0)
    );
    if let Some(thermal) = thermal {
        if tables.sections.is_empty() {
            samples(&mut out, along, &axis, thermal);
            casts(&mut out, &tables.profiles, along, &axis, thermal);
        } else {
            field(&mut out, &tables.sections, along, &axis, thermal);
            measured(&mut out, &tables.profiles, along, &axis);
        }
    }
    rods(&mut out, &tables.effort, along, &axis);
    thermocline(&mut out, tables, along, &axis);
    bottom(&mut out, along, &axis, deepest);
    bites(&mut out, tables, along, &axis, styles);
    put!(out, "<path id=\"section-cursor\" class=\"cursor\" d=\"M0 {}V{}\"/></svg>", TOP, BOTTOM);
    out
}

/// Colours of the water column, which is colder than the surface: a scale of its own.
pub(crate) fn thermal(tables: &TripTables, seconds: &[Second]) -> Option<Thermal> {
    let probe = seconds.iter().filter_map(|second| second.probe);
    Thermal::over(tables.profiles.iter().map(|row| row.temp_c).chain(probe.map(|(_, temp_c)| temp_c)))
}

fn deepest_m(tables: &TripTables, seconds: &[Second]) -> Option<f64> {
    let probe = seconds.iter().filter_map(|second| Some(second.probe?.0));
    let casts = tables.profiles.iter().map(|row| row.depth_m);
    let lines = tables.effort.iter().filter_map(|row| row.depth_m);
    let bites = tables.bites.iter().filter_map(|row| row.depth_m);
    span(probe.chain(casts).chain(lines).chain(bites).filter(|m| *m > 0.0)).map(|(_, deepest)| deepest)
}

/// What the probe showed wherever it was.
fn samples(out: &mut Markup, along: &Along, axis: &Axis, thermal: Thermal) {
    let mut last = (f64::MIN, f64::MIN);
    let mut of_step = vec![String::new(); Thermal::steps()];
    for row in along.framed() {
        let Some((depth_m, temp_c)) = row.probe else { continue };
        let (x, y) = (along.x(row.distance_m), axis.at(depth_m));
        if (x - last.0).hypot(y - last.1) < SAMPLE_APART {
            continue;
        }
        last = (x, y);
        let dots = &mut of_step[thermal.step(temp_c)];
        push_path(dots, [(x, y)]);
        dots.push_str("h0");
    }
    out.raw("<g class=\"samples\">");
    for (step, d) in of_step.iter().enumerate().filter(|(_, d)| !d.is_empty()) {
        put!(out, "<path stroke=\"{}\" d=\"{}\"/>", Thermal::colour(step), d);
    }
    out.raw("</g>");
}

/// Casts as columns of colour.
fn casts(out: &mut Markup, bins: &[profiles::Row], along: &Along, axis: &Axis, thermal: Thermal) {
    out.raw("<g class=\"casts\">");
    for cast in bins.chunk_by(|a, b| a.profile_id == b.profile_id) {
        let x = along.x_at(cast[0].time);
        let depths: Vec<f64> = cast.iter().map(|bin| bin.depth_m).collect();
        let (Some(first), Some(last)) = (depths.first(), depths.last()) else { continue };
        put!(
            out,
            "<rect class=\"frame\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            Px(x - 0.5 * CAST - 1.0),
            Px(axis.at(*first) - 1.0),
            Px(CAST + 2.0),
            Px(axis.at(*last) - axis.at(*first) + 2.0)
        );
        for pair in cast.windows(2) {
            let (y, bottom) = (axis.at(pair[0].depth_m), axis.at(pair[1].depth_m));
            put!(
                out,
                "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{}\"/>",
                Px(x - 0.5 * CAST),
                Px(y),
                Px(CAST),
                Px(bottom - y + 0.4),
                Thermal::colour(thermal.step(0.5 * (pair[0].temp_c + pair[1].temp_c)))
            );
        }
    }
    out.raw("</g>");
}

/// Where the probe went down, on a field that is worked out in between.
fn measured(out: &mut Markup, bins: &[profiles::Row], along: &Along, axis: &Axis) {
    let mut d = String::new();
    for cast in bins.chunk_by(|a, b| a.profile_id == b.profile_id) {
        if let (Some(first), Some(last)) = (cast.first(), cast.last()) {
            let x = along.x_at(first.time);
            d.push_str(&path([(x, axis.at(first.depth_m)), (x, axis.at(last.depth_m))]));
        }
    }
    put!(out, "<path class=\"measured\" d=\"{}\"/>", d);
}

/// Where each rod's line ran.
fn rods(out: &mut Markup, minutes: &[effort::Row], along: &Along, axis: &Axis) {
    let mut spells: BTreeMap<&str, Vec<(i64, f64, f64)>> = BTreeMap::new();
    for row in minutes {
        let Some(depth_m) = row.depth_m else { continue };
        let at = (row.time, along.x_at(row.time), axis.at(depth_m));
        spells.entry(&row.spell_id).or_default().push(at);
    }
    let mut d = String::new();
    for spell in spells.values_mut() {
        spell.sort_by_key(|minute| minute.0);
        for piece in spell.chunk_by(|a, b| b.0 - a.0 <= LINE_OUT_US) {
            let points: Vec<(f64, f64)> = piece.iter().map(|&(_, x, y)| (x, y)).collect();
            push_path(&mut d, simplify(&points, 0.5).into_iter().map(|i| points[i]));
        }
    }
    put!(out, "<path class=\"rods under\" d=\"{}\"/><path class=\"rods\" d=\"{}\"/>", d, d);
}

/// The thermocline from cast to cast.
fn thermocline(out: &mut Markup, tables: &TripTables, along: &Along, axis: &Axis) {
    let known = tables
        .layers
        .iter()
        .filter_map(|row| Some((along.x_at(row.time), axis.at(row.thermocline_depth_m?))));
    let middle: Vec<(f64, f64)> = known.collect();
    let Some((x, y)) = middle.last() else { return };
    out.raw("<g class=\"thermocline\">");
    let mut d = path(middle.iter().copied());
    for (x, y) in &middle {
        d.push_str(&path([(x - 7.0, *y), (x + 7.0, *y)]));
    }
    put!(out, "<path class=\"under\" d=\"{}\"/><path class=\"middle\" d=\"{}\"/>", d, d);
    // beside the last cast, on whichever side has room
    let (side, label_x) = if *x > LEFT + LABEL { ("end", x - 10.0) } else { ("", x + 10.0) };
    put!(
        out,
        "<text class=\"label {}\" x=\"{}\" y=\"{}\">thermocline</text></g>",
        side,
        Px(label_x),
        Px(y - 8.0)
    );
}

/// The ground, where it is no deeper than what is drawn.
fn bottom(out: &mut Markup, along: &Along, axis: &Axis, deepest_m: f64) {
    let shallow = |row: &Second| row.water_depth_m.filter(|m| *m <= deepest_m);
    for piece in along.curves(shallow, |m| axis.at(m), 60.0) {
        let kept: Vec<(f64, f64)> = simplify(&piece, 0.5).into_iter().map(|i| piece[i]).collect();
        let (Some(first), Some(last)) = (kept.first(), kept.last()) else { continue };
        put!(
            out,
            "<path class=\"ground\" d=\"{}L{} {}L{} {}Z\"/>",
            path(kept.iter().copied()),
            Px(last.0),
            Px(BOTTOM),
            Px(first.0),
            Px(BOTTOM)
        );
    }
}

/// Bites at the depth of their lures, with its standard error.
fn bites(out: &mut Markup, tables: &TripTables, along: &Along, axis: &Axis, styles: &Styles) {
    out.raw("<g class=\"bites\">");
    for (n, row) in tables.bites.iter().enumerate() {
        let Some(depth_m) = row.depth_m else { continue };
        let x = along.x_at(row.time);
        out.raw("<g>");
        title(out, styles, |style| bite_title(n, row, style));
        let se_m = row.depth_se_m.unwrap_or_default();
        let lost = if row.outcome.as_deref() == Some("lost") { "lost" } else { "" };
        put!(
            out,
            "<path class=\"error\" d=\"M{} {}V{}\"/><circle class=\"{}\" cx=\"{}\" cy=\"{}\" r=\"5.5\"/></g>",
            Px(x),
            Px(axis.at(depth_m - se_m)),
            Px(axis.at(depth_m + se_m)),
            lost,
            Px(x),
            Px(axis.at(depth_m))
        );
    }
    out.raw("</g>");
}
