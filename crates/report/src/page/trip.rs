//! The page of a trip: the answers first, then the pictures with the words of the summary beside each.

use waterseam_tables::{TripTables, sources, trips};

use super::along::Along;
use super::bands::chart;
use super::colour::Thermal;
use super::map;
use super::markup::{Markup, put};
use super::measure::Styles;
use super::samples::samples;
use super::seconds::{Second, seconds};
use super::section::{self, section};
use super::shell::{cautions, page, switches};
use super::strip::strip;
use super::waypoints::{bite_table, break_table};
use crate::headline::{Answer, NEXT_TIME, Sureness, answers};
use crate::moving_water::{current, lures};
use crate::other_trips::OtherTrips;
use crate::sections::{bites, breaks, data, head, layers, rates, water};
use crate::summary::Style;
use crate::words::{clock, count, day};

/// The page of one trip as one file, with what the boat's other trips make of its rates. Empty where the tables hold no trip. Its links lead to
/// the other pages of the folder that `process` and `report` write.
pub fn trip_page(tables: &TripTables, others: &OtherTrips, style: &Style) -> String {
    let Some(trip) = tables.trips.first() else { return String::new() };
    let styles = Styles::of(style);
    let title = format!("{}, {}", trip.boat, day(trip.time_start, &style.zone));
    let mut body = Markup::default();
    top(&mut body, trip, tables, &styles);
    body.raw("<main id=\"main\" class=\"trip\">");
    answer_block(&mut body, trip, tables, &styles);
    let seconds = seconds(tables);
    let along = Along::new(tables, &seconds);
    let to = map::projection(tables, &seconds);
    let mut points = None;
    if let (Some(along), Some(to)) = (&along, &to) {
        let thermal = Thermal::over(seconds.iter().filter_map(|second| second.surface_c));
        map_part(&mut body, tables, &seconds, to, thermal, &styles);
        along_part(&mut body, trip, tables, along, thermal, &styles);
        points = Some(samples(along, to, &style.zone));
    }
    bands_part(&mut body, trip, tables, others, &styles);
    if let Some(along) = &along {
        bites_part(&mut body, tables, along, &styles);
    }
    data_part(&mut body, trip, tables);
    body.put(&cautions());
    body.raw("</main>");
    page(&title, style.units, &body, points.as_ref())
}

fn top(out: &mut Markup, trip: &trips::Row, tables: &TripTables, styles: &Styles) {
    let style = styles.boat();
    out.raw("<a class=\"skip\" href=\"#main\">To the answers</a><header><nav><a href=\"index.html\">All trips</a></nav>");
    put!(out, "<h1>{} <span class=\"day\">{}</span></h1>", trip.boat, day(trip.time_start, &style.zone));
    put!(
        out,
        "<p class=\"when\"><span class=\"clock\">{}–{}</span> ",
        clock(trip.time_start, style),
        clock(trip.time_end, style)
    );
    // the summary's own lines, without the first, which the heading has said
    out.put(&styles.words(|style| {
        head(trip, tables, style).lines().skip(1).collect::<Vec<_>>().join(" ").trim().to_owned()
    }));
    out.raw("</p>");
    out.put(&switches(style.units));
    out.raw("</header>");
}

fn answer_block(out: &mut Markup, trip: &trips::Row, tables: &TripTables, styles: &Styles) {
    out.raw(
        "<section class=\"answers\" aria-labelledby=\"happened\"><h2 id=\"happened\">What happened</h2><dl>",
    );
    let n = answers(trip, tables, styles.boat()).len();
    for i in 0..n {
        answer(out, styles, &|style| answers(trip, tables, style).swap_remove(i));
    }
    out.raw("</dl></section>");
}

/// One answer in the chosen units.
pub(crate) fn answer(out: &mut Markup, styles: &Styles, one: &dyn Fn(&Style) -> Answer) {
    let boat = one(styles.boat());
    let kind = if boat.about == NEXT_TIME { "next" } else { "" };
    put!(out, "<div class=\"{}\"><dt>{}</dt><dd><b>", kind, boat.about);
    out.put(&styles.words(|style| one(style).lead));
    out.raw("</b>");
    if let Some(sureness) = boat.sureness {
        let class = if sureness == Sureness::Sure { "sure" } else { "unsure" };
        put!(out, " <span class=\"{}\">{}</span>", class, sureness.words());
    }
    out.raw("<p>");
    out.put(&styles.words(|style| one(style).detail));
    out.raw("</p></dd></div>");
}

/// A picture with its words beside it.
fn part(
    out: &mut Markup,
    id: &'static str,
    heading: &'static str,
    picture: &Markup,
    words: &[(&'static str, Markup)],
) {
    put!(
        out,
        "<section class=\"part\" aria-labelledby=\"{}\"><h2 id=\"{}\">{}</h2><div class=\"picture-side\">",
        id,
        id,
        heading
    );
    out.put(picture);
    out.raw("</div><div class=\"word-side\">");
    for (label, lines) in words {
        put!(out, "<h3>{}</h3>", label);
        out.put(lines);
    }
    out.raw("</div></section>");
}

fn map_part(
    out: &mut Markup,
    tables: &TripTables,
    seconds: &[Second],
    to: &map::Projection,
    thermal: Option<Thermal>,
    styles: &Styles,
) {
    let mut picture = Markup::default();
    picture.raw("<div class=\"map-box\">");
    picture.put(&map::map(tables, seconds, to, thermal, styles));
    picture.raw(
        "</div><div class=\"map-tools\" hidden><button type=\"button\" data-zoom=\"in\" aria-label=\"Enlarge the map\">+</button>\
         <button type=\"button\" data-zoom=\"out\" aria-label=\"Reduce the map\">−</button>\
         <button type=\"button\" data-zoom=\"home\">fished water</button><button type=\"button\" data-zoom=\"whole\">whole trip</button>\
         <p id=\"readout\" class=\"readout\" aria-live=\"off\">Point at the track to read it.</p></div>\
         <p id=\"map-keys\" class=\"keys\">Drag, or use two fingers, to move and enlarge. Keys: arrows move, + and − \
         enlarge, 0 shows the fished water, comma and full stop go along the track.</p>",
    );
    legend(&mut picture);
    part(
        out,
        "where",
        "Where",
        &picture,
        &[
            ("Breaks", styles.list(|style| breaks(tables, style))),
            ("Current", styles.list(|style| current(tables, style))),
        ],
    );
}

/// What the marks of the map are; each may be left out.
fn legend(out: &mut Markup) {
    out.raw("<fieldset class=\"legend\"><legend>On the map</legend>");
    for (layer, words, sign) in [
        (
            "track",
            "track, coloured by surface temperature",
            "<path class=\"casing\" d=\"M1 8H27\"/><path class=\"sample-track\" d=\"M1 8H27\"/>",
        ),
        (
            "breaks",
            "break, teeth on the warm side",
            "<path class=\"line\" d=\"M1 12H27M5 12V4M11 12V4M17 12V4M23 12V4\"/>",
        ),
        ("currents", "current, toward where it runs", "<path d=\"M3 8H25M19 4L25 8L19 12\"/>"),
        ("edges", "edge of a current", "<path d=\"M14 1L21 8L14 15L7 8Z\"/>"),
        (
            "bites",
            "bite, hollow where the fish was lost",
            "<circle cx=\"8\" cy=\"8\" r=\"5.5\"/><circle class=\"lost\" cx=\"21\" cy=\"8\" r=\"5.5\"/>",
        ),
        ("soundings", "depth of the water", "<text x=\"4\" y=\"12\">85</text>"),
    ] {
        put!(
            out,
            "<label><input type=\"checkbox\" data-layer=\"{}\" checked><svg class=\"sign\" width=\"28\" height=\"16\" aria-hidden=\"true\"><g class=\"{}\">",
            layer,
            layer
        );
        out.raw(sign);
        put!(out, "</g></svg>{}</label>", words);
    }
    out.raw("</fieldset>");
}

fn along_part(
    out: &mut Markup,
    trip: &trips::Row,
    tables: &TripTables,
    along: &Along,
    thermal: Option<Thermal>,
    styles: &Styles,
) {
    let mut picture = Markup::default();
    picture.put(&strip(tables, along, thermal, styles));
    let column = section::thermal(tables, along.rows());
    picture.put(&section(tables, along, column, styles));
    picture.raw("<label class=\"walk\" hidden>Go along the track <input id=\"walk\" type=\"range\" min=\"0\" max=\"1\" value=\"0\"></label>");
    if let Some(column) = column {
        temperature_key(&mut picture, column, !tables.sections.is_empty(), styles);
    }
    let mut words = vec![
        ("Water", styles.list(|style| water(trip, style))),
        ("Layers", styles.list(|style| layers(tables, style))),
    ];
    if !lures(tables, styles.boat()).is_empty() {
        words.push(("Lures", styles.list(|style| lures(tables, style))));
    }
    part(out, "along", "Along the track, and below it", &picture, &words);
}

const FIELD_KEY: &str = ". Figures are on lines of equal temperature, dotted lines where the probe went down; nothing is drawn \
     where the probe does not tell. Thin lines are the rods, circles the bites with their standard error.</p>";
const CASTS_KEY: &str =
    ". Columns are casts of the probe, thin lines the rods, circles the bites with their standard error.</p>";

/// Colours of the water column with their temperatures, and the lines of the section.
fn temperature_key(out: &mut Markup, thermal: Thermal, is_field: bool, styles: &Styles) {
    let (low_c, high_c) = thermal.ends_c();
    out.raw("<p class=\"key\">Water column: ");
    out.put(&styles.words(|style| style.units.temp(low_c)));
    put!(
        out,
        " <svg class=\"ramp\" viewBox=\"0 0 {} 1\" preserveAspectRatio=\"none\" aria-hidden=\"true\">",
        Thermal::steps()
    );
    for step in 0..Thermal::steps() {
        put!(out, "<rect x=\"{}\" width=\"1.1\" height=\"1\" fill=\"{}\"/>", step, Thermal::colour(step));
    }
    out.raw("</svg> ");
    out.put(&styles.words(|style| style.units.temp(high_c)));
    out.raw(if is_field { FIELD_KEY } else { CASTS_KEY });
}

fn bands_part(
    out: &mut Markup,
    trip: &trips::Row,
    tables: &TripTables,
    others: &OtherTrips,
    styles: &Styles,
) {
    let mut picture = Markup::default();
    picture.raw("<div class=\"two\">");
    for (factor, title) in [("depth_m", "depth"), ("temp_at_depth_c", "temperature at depth")] {
        picture.put(&chart(&tables.bands, factor, title, styles));
    }
    picture.raw("</div>");
    if tables.bands.iter().any(|bin| bin.rod_hours > 0.0) {
        picture.raw(
            "<p class=\"key\">Left bars: rod-hours fished there. Right: bites a rod-hour (upright) and the range that holds the true rate in \
             nine cases of ten (level). A shaded band stands out by more than luck; dashed ranges do not tell one band from another.</p>",
        );
    }
    part(
        out,
        "bands",
        "How deep, how warm",
        &picture,
        &[("Rates", styles.list(|style| rates(trip, tables, others, style)))],
    );
}

fn bites_part(out: &mut Markup, tables: &TripTables, along: &Along, styles: &Styles) {
    out.raw("<section class=\"rows\" aria-labelledby=\"marks\"><h2 id=\"marks\">Bites and breaks, one by one</h2>");
    out.put(&styles.list(|style| {
        bites(tables, style).into_iter().take(1).map(|line| format!("bites {line}")).collect()
    }));
    out.put(&bite_table(&tables.bites, along, styles));
    out.put(&break_table(&tables.breaks, along, styles));
    out.raw("</section>");
}

fn data_part(out: &mut Markup, trip: &trips::Row, tables: &TripTables) {
    out.raw("<section class=\"rows\" aria-labelledby=\"data\"><h2 id=\"data\">Data</h2><ul class=\"words\">");
    for line in data(trip, tables) {
        put!(out, "<li>{}</li>", line);
    }
    out.raw("</ul>");
    source_table(out, &tables.sources);
    put!(out, "<p class=\"key\">Trip {}, waterseam {}.</p></section>", trip.trip_id, trip.program_version);
}

fn source_table(out: &mut Markup, rows: &[sources::Row]) {
    out.raw(
        "<div class=\"wide\" role=\"region\" tabindex=\"0\" aria-labelledby=\"files\"><table><caption id=\"files\">Files</caption><thead><tr>\
         <th scope=\"col\">File</th><th scope=\"col\">Records</th><th scope=\"col\">Used</th><th scope=\"col\">Not needed</th>\
         <th scope=\"col\">Set aside</th><th scope=\"col\">Clock moved by</th></tr></thead><tbody>",
    );
    for row in rows {
        let moved =
            row.clock_offset_s.filter(|s| *s != 0.0).map_or_else(|| "–".to_owned(), |s| format!("{s:+.1} s"));
        put!(
            out,
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
            row.file_name,
            row.records_read,
            row.records_used,
            row.records_not_needed,
            row.records_set_aside,
            moved
        );
    }
    out.raw("</tbody></table></div>");
    let unused = rows.iter().filter(|row| row.records_used == 0).count();
    if unused > 0 {
        put!(out, "<p class=\"key\">{} gave nothing that could be used.</p>", count(unused, "file", "files"));
    }
}

#[cfg(test)]
mod tests {
    use waterseam_units::UnitSystem;

    use super::*;
    use crate::other_trips::RateTold;
    use crate::page::sample;

    #[test]
    fn what_the_other_trips_say_is_on_the_page_as_in_the_summary() {
        let tables = sample::trip("20260614T051200Z", sample::START_US, 600);
        let rate = Some(RateTold { per_rod_hour: 1.36, low: 1.02, high: 1.75 });
        let others = OtherTrips { trips: 38, rate, bands: tables.bands.clone() };
        let style = Style::of(&tables, Some(UnitSystem::Imperial));
        let said = crate::other_trips::trip(&others, &tables.bands, &style);
        assert!(said.len() > 1, "{said:?}");
        let page = trip_page(&tables, &others, &style);
        let summary = crate::summary::trip_with_others(&tables, &others, &style);
        let summary = summary.split_whitespace().collect::<Vec<_>>().join(" ");
        for line in said {
            assert!(page.contains(&format!(">{line}<")), "{line}");
            assert!(summary.contains(&line), "{line}");
        }
        let alone = trip_page(&tables, &OtherTrips::default(), &style);
        assert!(!alone.contains("other trips say"));
    }

    #[test]
    fn no_trip_no_page() {
        let style = Style {
            units: crate::page::measure::SYSTEMS[0],
            zone: jiff::tz::TimeZone::UTC,
            several_days: false,
        };
        assert_eq!(trip_page(&TripTables::default(), &OtherTrips::default(), &style), "");
    }
}
