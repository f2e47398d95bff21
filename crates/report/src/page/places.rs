//! The page of the places of many trips: which gave more than others, in which part of the season, and on what evidence.

use std::collections::BTreeSet;

use waterseam_tables::hotspots::Row;
use waterseam_units::LatLon;

use super::along::WIDTH;
use super::map::{Projection, graticule, north_and_scale};
use super::markup::{Markup, Px, path, put};
use super::measure::{Measure, Styles};
use super::shell::{cautions, page, switches};
use crate::hotspots::{corners, middle, part_lines, part_words, told};
use crate::summary::Style;
use crate::words::{count, place};

/// A hexagon with next to no effort is drawn no smaller than this part of its cell, across.
const LEAST_SIZE: f64 = 0.25;
/// Rates over the mean at which the shade changes: under half, under the mean, under twice, and more.
const SHADES: [f64; 3] = [0.5, 1.0, 2.0];

/// Name of the page of a layer.
pub fn places_file(resolution: u8, division: &str) -> String {
    let plain: String =
        division.chars().filter(|letter| letter.is_ascii_alphanumeric() || *letter == '-').collect();
    format!("places-{resolution}-{plain}.html")
}

/// The page of one layer as one file: `rows` of all parts of the season and species.
pub fn places_page(rows: &[Row], division: &str, style: &Style) -> String {
    let styles = Styles::of(style);
    let mut body = Markup::default();
    body.raw("<a class=\"skip\" href=\"#main\">To the places</a><header><nav><a href=\"index.html\">All trips</a></nav>");
    put!(body, "<h1>Places <span class=\"day\">of all trips, by {}</span></h1>", division.replace('-', " "));
    body.put(&switches(style.units));
    body.raw("</header><main id=\"main\">");
    let parts = in_order(rows.iter().map(|row| row.season_part.as_str()));
    let species: BTreeSet<&str> = rows.iter().map(|row| row.species.as_str()).collect();
    // shown first: where most can be said
    let hours = |part: &str| -> f64 {
        let of = rows.iter().filter(|row| row.season_part == part && row.species == "*");
        of.map(|row| row.rod_hours).sum()
    };
    let first = parts.iter().copied().max_by(|a, b| hours(a).total_cmp(&hours(b))).unwrap_or("all");
    body.raw("<section aria-labelledby=\"where\"><h2 id=\"where\">Where</h2>");
    choices(&mut body, &parts, &species, first, &styles);
    if let Some(to) = Projection::about(rows.iter().flat_map(corners).collect::<Vec<_>>().into_iter()) {
        map(&mut body, rows, &to, first, &styles);
    }
    key(&mut body);
    body.raw("</section>");
    for part in &parts {
        put!(body, "<section class=\"rows\"><h2>{}</h2>", part_words(part));
        body.put(&styles.list(|style| {
            let of: Vec<&Row> =
                rows.iter().filter(|row| row.season_part == *part && row.species == "*").collect();
            part_lines(&of, style.units)
        }));
        body.raw("</section>");
    }
    every_place(&mut body, rows, &styles);
    body.put(&cautions());
    body.raw("</main>");
    page("Places of all trips", style.units, &body, None)
}

fn in_order<'a>(words: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let mut seen: Vec<&str> = Vec::new();
    for word in words {
        if !seen.contains(&word) {
            seen.push(word);
        }
    }
    seen
}

/// What the map can show; without a script it shows the first part and all species.
fn choices(out: &mut Markup, parts: &[&str], species: &BTreeSet<&str>, first: &str, styles: &Styles) {
    out.raw("<form class=\"choices\" hidden><label>Part of the season <select id=\"part\">");
    for part in parts {
        put!(
            out,
            "<option value=\"{}\" {}>{}</option>",
            part,
            if *part == first { "selected" } else { "" },
            part_words(part)
        );
    }
    out.raw("</select></label><label>Species <select id=\"species\">");
    for name in species {
        put!(out, "<option value=\"{}\">{}</option>", name, if *name == "*" { "all" } else { name });
    }
    out.raw("</select></label><label>Surface now, ");
    out.put(&styles.words(|style| style.units.temp_unit().to_owned()));
    out.raw(" <input id=\"surface\" type=\"number\" step=\"0.5\" size=\"5\"></label></form>");
    put!(out, "<p class=\"key\">Shown: <b id=\"shown\">{}, all species</b></p>", part_words(first));
}

fn map(out: &mut Markup, rows: &[Row], to: &Projection, first: &str, styles: &Styles) {
    put!(
        out,
        "<svg id=\"places\" class=\"picture\" viewBox=\"0 0 {} {}\" role=\"group\" aria-label=\"Map of the places\" data-units='",
        WIDTH,
        to.height
    );
    out.text(&Measure::Temp.json().to_string());
    put!(out, "'><rect class=\"water\" width=\"{}\" height=\"{}\"/><g id=\"graticule\">", WIDTH, to.height);
    graticule(out, to);
    out.raw("</g>");
    let most = rows.iter().filter(|row| row.species == "*").map(|row| row.rod_hours).fold(1.0, f64::max);
    for of in rows.chunk_by(|a, b| (&a.season_part, &a.species) == (&b.season_part, &b.species)) {
        let hidden = if of[0].season_part == first && of[0].species == "*" { "" } else { "hidden" };
        put!(
            out,
            "<g class=\"cells\" data-part=\"{}\" data-species=\"{}\" {}>",
            of[0].season_part,
            of[0].species,
            hidden
        );
        for row in of {
            cell(out, row, to, most, styles);
        }
        out.raw("</g>");
    }
    north_and_scale(out, to);
    out.raw("</svg><p id=\"readout\" class=\"readout\">Point at a place to read it.</p>");
}

/// The cell's outline, and in it a hexagon as large as its effort and as dark as its rate.
fn cell(out: &mut Markup, row: &Row, to: &Projection, most: f64, styles: &Styles) {
    let ring: Vec<(f64, f64)> = corners(row).iter().map(|at| to.at(at.lat_deg, at.lon_deg)).collect();
    let Some(LatLon { lat_deg, lon_deg }) = middle(row) else { return };
    let (x, y) = to.at(lat_deg, lon_deg);
    let surface = row.bite_surface_temp_low_c.zip(row.bite_surface_temp_high_c);
    match surface {
        Some((low, high)) => {
            put!(out, "<g class=\"cell\" data-low=\"{}\" data-high=\"{}\">", Px(low), Px(high));
        }
        None => out.raw("<g class=\"cell\">"),
    }
    put!(out, "<title>{}</title>", in_words(row, styles.boat()));
    let outline = if row.rod_hours > 0.0 { "outline" } else { "outline run-through" };
    put!(out, "<path class=\"{}\" d=\"{}Z\"/>", outline, path(ring.iter().copied()));
    if row.rod_hours > 0.0 {
        let size = (row.rod_hours / most).min(1.0).sqrt().max(LEAST_SIZE);
        let inner = ring.iter().map(|at| (x + size * (at.0 - x), y + size * (at.1 - y)));
        let times = row.times_average.unwrap_or(0.0);
        let shade = SHADES.iter().filter(|step| times >= **step).count();
        let hot = if row.hot { " hot" } else { "" };
        put!(out, "<path class=\"shade-{}{}\" d=\"{}Z\"/>", shade, hot, path(inner));
        if row.hot {
            put!(
                out,
                "<text class=\"mid times\" x=\"{}\" y=\"{}\">{}×</text>",
                Px(x),
                Px(y + 4.5),
                format_args!("{times:.1}")
            );
        }
    }
    out.raw("</g>");
}

fn in_words(row: &Row, style: &Style) -> String {
    if row.rod_hours > 0.0 {
        return told(row, style.units);
    }
    let at = middle(row).map_or_else(String::new, |at| place(at.lat_deg, at.lon_deg));
    format!("{at}  run through, never fished")
}

fn key(out: &mut Markup) {
    out.raw("<p class=\"keys places-key\">");
    for (class, words) in [
        ("shade-0", "under half the average"),
        ("shade-1", "under it"),
        ("shade-2", "over it"),
        ("shade-3", "twice and more"),
        ("outline run-through", "run through, never fished"),
    ] {
        put!(
            out,
            "<svg class=\"sign\" width=\"20\" height=\"20\" aria-hidden=\"true\"><path class=\"{}\" d=\"M10 2L17 6V14L10 18L3 14V6Z\"/></svg> {} &#160; ",
            class,
            words
        );
    }
    out.raw("<br>The larger the hexagon, the more rod-hours; a small one may be luck. A figure (times the average) stands on hot places: at least \
             twice the average, most probably, with enough effort, and borne out by their neighbourhood or by the search.</p>");
}

/// All that was fished, in words, for who cannot point.
fn every_place(out: &mut Markup, rows: &[Row], styles: &Styles) {
    let fished: Vec<&Row> = rows.iter().filter(|row| row.rod_hours > 0.0 && row.species == "*").collect();
    put!(
        out,
        "<section class=\"rows\"><details><summary>Every place in words ({})</summary>",
        count(fished.len(), "row", "rows")
    );
    out.put(&styles.list(|style| {
        fished
            .iter()
            .map(|row| format!("{}: {}", part_words(&row.season_part), in_words(row, style)))
            .collect()
    }));
    out.raw("</details></section>");
}
