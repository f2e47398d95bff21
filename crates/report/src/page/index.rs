//! The first page of the folder: which trips are there, and where is the page of each?

use std::collections::BTreeMap;

use waterseam_tables::trips;
use waterseam_units::time::timestamp;

use super::markup::{Markup, put};
use super::measure::Styles;
use super::season::season_file;
use super::shell::{page, switches};
use crate::summary::Style;
use crate::words::{count, day};

/// A trip and whether its page is in the folder.
#[derive(Clone, Debug)]
pub struct PageOfTrip {
    /// The trip.
    pub trip: trips::Row,
    /// Name of its page; `None` where it has not been written.
    pub file: Option<String>,
}

/// The index of a logbook's pages, newest first. `seasons` are the years whose page is in the folder, `places` the names
/// and titles of the pages of places that are.
pub fn index_page(
    pages: &[PageOfTrip],
    seasons: &[i16],
    places: &[(String, String)],
    style: &Style,
) -> String {
    let styles = Styles::of(style);
    let mut years: BTreeMap<i16, Vec<&PageOfTrip>> = BTreeMap::new();
    for page in pages {
        let local = timestamp(page.trip.time_start).to_zoned_datetime(style.zone.clone());
        years.entry(local.year()).or_default().push(page);
    }
    let boat = pages.last().map_or("", |page| page.trip.boat.as_str());
    let mut body = Markup::default();
    put!(
        body,
        "<a class=\"skip\" href=\"#main\">To the trips</a><header><h1>{} <span class=\"day\">logbook, {}</span></h1>",
        boat,
        count(pages.len(), "trip", "trips")
    );
    body.put(&switches(style.units));
    body.raw("</header><main id=\"main\">");
    if !places.is_empty() {
        body.raw("<section class=\"rows\"><h2>Places of all trips</h2><ul class=\"words\">");
        for (file, title) in places {
            put!(body, "<li><a href=\"{}\">{}</a></li>", file, title);
        }
        body.raw("</ul></section>");
    }
    for (year, trips) in years.iter().rev() {
        body.raw("<section class=\"rows\"><h2>");
        if seasons.contains(year) {
            put!(body, "<a href=\"{}\">Season {}</a>", season_file(*year), year);
        } else {
            put!(body, "{}", year);
        }
        put!(
            body,
            "</h2><div class=\"wide\" role=\"region\" tabindex=\"0\" aria-label=\"Trips of {}\"><table><thead><tr>\
             <th scope=\"col\">Day</th><th scope=\"col\">Bites</th><th scope=\"col\">Rod-hours</th>\
             <th scope=\"col\">Bites a rod-hour</th><th scope=\"col\">Ran</th></tr></thead><tbody>",
            year
        );
        for page in trips.iter().rev() {
            row(&mut body, page, &styles);
        }
        body.raw("</tbody></table></div></section>");
    }
    body.raw("</main>");
    page(&format!("{boat}: logbook"), style.units, &body, None)
}

fn row(out: &mut Markup, page: &PageOfTrip, styles: &Styles) {
    let trip = &page.trip;
    let day = day(trip.time_start, &styles.boat().zone);
    match &page.file {
        Some(file) => put!(out, "<tr><th scope=\"row\"><a href=\"{}\">{}</a></th>", file, day),
        None => put!(out, "<tr><th scope=\"row\">{}</th>", day),
    }
    let rate = trip.rate_per_rod_hour.map_or_else(|| "no rods out".to_owned(), |rate| format!("{rate:.2}"));
    put!(
        out,
        "<td>{}</td><td>{}</td><td>{}</td><td>",
        trip.bites,
        format_args!("{:.1}", trip.rod_hours),
        rate
    );
    out.put(&styles.words(|style| style.units.distance(trip.distance_m)));
    out.raw("</td></tr>");
}
