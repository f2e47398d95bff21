//! The page of the places of many trips: which gave more than others, in which part of the season, and on what evidence.
//!
//! Each cell is drawn once, with what is told of it in the part of the season with most effort. What the other parts and each species make of
//! it is numbers beside the drawing, for the script.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::json;
use waterseam_tables::hotspots::Row;
use waterseam_units::LatLon;

use super::along::WIDTH;
use super::map::{Projection, graticule, north_and_scale};
use super::markup::{Markup, Px, path, put};
use super::measure::{Measure, Styles};
use super::retold::{template, without_numbers};
use super::shell::{cautions, page, switches};
use crate::hotspots::{by_rate, corners, middle, part_lines, part_words, told};
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
    body.raw("</header><main id=\"main\" class=\"places\">");
    let parts = in_order(rows.iter().map(|row| row.season_part.as_str()));
    let species: BTreeSet<&str> = rows.iter().map(|row| row.species.as_str()).collect();
    // shown first: where most can be said
    let hours = |part: &str| -> f64 {
        let of = rows.iter().filter(|row| row.season_part == part && row.species == "*");
        of.map(|row| row.rod_hours).sum()
    };
    let first = parts.iter().copied().max_by(|a, b| hours(a).total_cmp(&hours(b))).unwrap_or("all");
    let groups = groups(rows);
    let cells: BTreeMap<_, &Row> = groups.iter().flatten().map(|row| (row.cell, *row)).collect();
    let cells: Vec<&Row> = cells.into_values().collect();
    let to = Projection::about(cells.iter().flat_map(|row| corners(row)).collect::<Vec<_>>().into_iter());
    body.raw("<section class=\"where\" aria-labelledby=\"where\"><h2 id=\"where\">Where</h2>");
    choices(&mut body, &parts, &species, first, &styles);
    if let Some(to) = &to {
        let shown = groups.iter().find(|group| group[0].season_part == first && group[0].species == "*");
        map(&mut body, &cells, shown.map_or(&[], Vec::as_slice), most_hours(rows), to);
    }
    key(&mut body);
    body.raw("</section><div class=\"parts\">");
    for part in &parts {
        let shown = if *part == first { " shown" } else { "" };
        put!(body, "<section class=\"rows{}\" data-part=\"{}\"><h2>{}</h2>", shown, part, part_words(part));
        body.put(&styles.list(|style| {
            let of: Vec<&Row> =
                rows.iter().filter(|row| row.season_part == *part && row.species == "*").collect();
            part_lines(&of, style.units)
        }));
        body.raw("</section>");
    }
    body.raw("</div>");
    every_place(&mut body, &groups, &styles);
    body.put(&cautions());
    body.raw("</main>");
    let data = to.map(|to| data(&groups, &cells, most_hours(rows), &to, &styles));
    page("Places of all trips", style.units, &body, data.as_ref())
}

/// Rows of one part of the season and one species together, the best place first and those that were never fished last.
fn groups(rows: &[Row]) -> Vec<Vec<&Row>> {
    let of = rows.chunk_by(|a, b| (&a.season_part, &a.species) == (&b.season_part, &b.species));
    of.map(|rows| {
        let mut rows: Vec<&Row> = rows.iter().filter(|row| middle(row).is_some()).collect();
        rows.sort_by(|a, b| (b.rod_hours > 0.0).cmp(&(a.rod_hours > 0.0)).then_with(|| by_rate(a, b)));
        rows
    })
    .filter(|rows: &Vec<&Row>| !rows.is_empty())
    .collect()
}

/// The most effort in a cell, which the largest hexagon stands for.
fn most_hours(rows: &[Row]) -> f64 {
    rows.iter().filter(|row| row.species == "*").map(|row| row.rod_hours).fold(1.0, f64::max)
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

fn map(out: &mut Markup, cells: &[&Row], shown: &[&Row], most: f64, to: &Projection) {
    put!(
        out,
        "<div class=\"map-box\"><svg id=\"map\" class=\"picture\" viewBox=\"0 0 {} {}\" role=\"group\" tabindex=\"0\" \
         aria-label=\"Map of the places\" aria-describedby=\"map-keys\">",
        WIDTH,
        to.height
    );
    put!(out, "<rect class=\"water\" width=\"{}\" height=\"{}\"/><g id=\"graticule\">", WIDTH, to.height);
    graticule(out, to);
    out.raw("</g><g id=\"chart\">");
    for row in cells {
        cell(out, row, shown.iter().find(|shown| shown.cell == row.cell).map(|row| Look::of(row, most)), to);
    }
    out.raw("</g>");
    north_and_scale(out, to);
    out.raw(
        "</svg></div><div class=\"map-tools\" hidden><button type=\"button\" data-zoom=\"in\" aria-label=\"Enlarge the map\">+</button>\
         <button type=\"button\" data-zoom=\"out\" aria-label=\"Reduce the map\">−</button>\
         <button type=\"button\" data-zoom=\"home\">all places</button>\
         <p id=\"readout\" class=\"readout\" aria-live=\"polite\">Point at a place to read it.</p></div>\
         <p id=\"map-keys\" class=\"keys\">Drag, or use two fingers, to move and enlarge. Keys: arrows move, + and − enlarge, 0 shows all, full \
         stop and comma go from the best place to the next and back.</p>",
    );
}

/// How a place is drawn: as large as its effort and as dark as its rate.
struct Look {
    /// Percent of its cell, across; 0 where nobody fished.
    size: u32,
    shade: usize,
    /// How many times the average, where it is hot.
    times: Option<String>,
}

impl Look {
    fn of(row: &Row, most: f64) -> Self {
        let times = row.times_average.unwrap_or(0.0);
        let size =
            if row.rod_hours > 0.0 { (row.rod_hours / most).min(1.0).sqrt().max(LEAST_SIZE) } else { 0.0 };
        Self {
            size: (100.0 * size).round() as u32,
            shade: SHADES.iter().filter(|step| times >= **step).count(),
            times: (row.hot && size > 0.0).then(|| format!("{times:.1}×")),
        }
    }
}

/// The cell's outline, and in it a hexagon; hidden where nothing is told of it.
fn cell(out: &mut Markup, row: &Row, look: Option<Look>, to: &Projection) {
    let Some(LatLon { lat_deg, lon_deg }) = middle(row) else { return };
    let (x, y) = to.at(lat_deg, lon_deg);
    let ring = corners(row).into_iter().map(|at| to.at(at.lat_deg, at.lon_deg));
    let d = path(ring.map(|at| (at.0 - x, at.1 - y)));
    let hidden = if look.is_none() { " hidden" } else { "" };
    let Look { size, shade, times } = look.unwrap_or(Look { size: 0, shade: 0, times: None });
    put!(
        out,
        "<g class=\"cell\" transform=\"translate({} {})\"{}><path class=\"{}\" d=\"{}Z\"/>\
         <path class=\"shade-{}{}\" transform=\"scale({})\" d=\"{}Z\"{}/><g class=\"s\"><text class=\"mid times\" y=\"4.5\">{}</text></g></g>",
        Px(x),
        Px(y),
        hidden,
        if size > 0 { "outline" } else { "outline run-through" },
        d,
        shade,
        if times.is_some() { " hot" } else { "" },
        f64::from(size) / 100.0,
        d,
        if size > 0 { "" } else { " hidden" },
        times.as_deref().unwrap_or("")
    );
}

/// What the script needs to show any part of the season and any species: of each place its cell (in order of the drawing), size, shade, times
/// the average where it is hot, and between which tenths of a degree of the surface its bites came; and its words, as one of few phrases with
/// the numbers that go into it.
fn data(
    groups: &[Vec<&Row>],
    cells: &[&Row],
    most: f64,
    to: &Projection,
    styles: &Styles,
) -> serde_json::Value {
    let mut phrases: BTreeMap<String, usize> = BTreeMap::new();
    let mut words = |row: &Row| {
        let template = template(&styles.each(|style| in_words(row, style)));
        let (phrase, numbers) = without_numbers(&template);
        let n = phrases.len();
        format!("{} {}", phrases.entry(phrase).or_insert(n), numbers.join(" "))
    };
    let groups: Vec<_> = groups
        .iter()
        .map(|rows| {
            let places = rows.iter().map(|row| {
                let look = Look::of(row, most);
                let cell = cells.binary_search_by_key(&row.cell, |cell| cell.cell).unwrap_or_default();
                let tenths = |temp_c: Option<f64>| temp_c.map(|temp_c| (10.0 * temp_c).round() as i64);
                json!([
                    cell,
                    look.size,
                    look.shade,
                    look.times.unwrap_or_default(),
                    tenths(row.bite_surface_temp_low_c),
                    tenths(row.bite_surface_temp_high_c),
                ])
            });
            json!({
                "part": rows[0].season_part,
                "species": rows[0].species,
                "places": places.collect::<Vec<_>>(),
                "words": rows.iter().map(|row| words(row)).collect::<Vec<_>>(),
            })
        })
        .collect();
    let mut of_number: Vec<(usize, String)> = phrases.into_iter().map(|(phrase, n)| (n, phrase)).collect();
    of_number.sort_unstable();
    json!({
        "groups": groups,
        "phrases": of_number.into_iter().map(|(_, phrase)| phrase).collect::<Vec<_>>(),
        "units": { "temp": Measure::Temp.json(), "distance": Measure::Distance.json() },
        "map": to.json(),
    })
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

/// All that was fished, in words, for who cannot point: in the boat's units, until the script tells it in others.
fn every_place(out: &mut Markup, groups: &[Vec<&Row>], styles: &Styles) {
    let fished = |rows: &[&Row]| rows.iter().take_while(|row| row.rod_hours > 0.0).count();
    let of_all = || groups.iter().filter(|rows| rows[0].species == "*");
    put!(
        out,
        "<section class=\"rows\"><details id=\"every-place\"><summary>Every place in words ({})</summary>",
        count(of_all().map(|rows| fished(rows)).sum(), "row", "rows")
    );
    for rows in of_all() {
        put!(out, "<h3>{}</h3><ul class=\"words\">", part_words(&rows[0].season_part));
        for row in &rows[..fished(rows)] {
            put!(out, "<li>{}</li>", in_words(row, styles.boat()));
        }
        out.raw("</ul>");
    }
    out.raw("</details></section>");
}
