//! The page of a season: when the boat went, what each part of the season gave, how deep and warm the bites came, and
//! which lures earned them.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::Date;
use waterseam_hotspots::HalfMonth;
use waterseam_tables::{bites, tackle_rates};
use waterseam_units::time::timestamp;

use super::bands::chart;
use super::index::PageOfTrip;
use super::markup::{Markup, Px, put};
use super::measure::{Axis, Measure, SYSTEMS, Styles};
use super::shell::{cautions, page, switches};
use crate::headline::best_band;
use crate::rates::{Detail, Produced, produced};
use crate::summary::Style;
use crate::words::count;

/// Everything that the page of a season is drawn from.
#[derive(Clone, Copy, Debug)]
pub struct Season<'a> {
    /// The year.
    pub year: i16,
    /// Its trips, with the names of their pages.
    pub trips: &'a [PageOfTrip],
    /// Bands, lures and sides over all of them.
    pub produced: Produced<'a>,
    /// Its parts, in order.
    pub parts: &'a [HalfMonth],
    /// Its bites.
    pub bites: &'a [bites::Row],
}

/// Name of a season's page.
pub fn season_file(year: i16) -> String {
    format!("season-{year}.html")
}

const PANEL: (f64, f64) = (24.0, 190.0);
const WIDTH: f64 = 720.0;
const LEFT: f64 = 54.0;
const RIGHT: f64 = 14.0;

/// The page of one season as one file.
pub fn season_page(season: &Season, style: &Style) -> String {
    let styles = Styles::of(style);
    let boat = season.trips.last().map_or("", |page| page.trip.boat.as_str());
    let mut body = Markup::default();
    body.raw("<a class=\"skip\" href=\"#main\">To the season</a><header><nav><a href=\"index.html\">All trips</a></nav>");
    put!(body, "<h1>{} <span class=\"day\">season {}</span></h1>", boat, season.year);
    body.put(&switches(style.units));
    body.raw("</header><main id=\"main\" class=\"season\">");
    answers(&mut body, season, &styles);
    calendar(&mut body, season);
    parts(&mut body, season);
    through(&mut body, season, &styles);
    body.raw("<section class=\"part\" aria-labelledby=\"bands\"><h2 id=\"bands\">How deep, how warm</h2><div class=\"picture-side\"><div class=\"two\">");
    for (factor, title) in [("depth_m", "depth"), ("temp_at_depth_c", "temperature at depth")] {
        body.put(&chart(season.produced.bands, factor, title, &styles));
    }
    body.raw("</div></div><div class=\"word-side\"><h3>Rates</h3>");
    body.put(&styles.list(|style| produced(&season.produced, Detail::Full, style)));
    body.raw("</div></section>");
    lures(&mut body, season.produced.tackle_rates);
    body.put(&cautions());
    body.raw("</main>");
    page(&format!("{boat}: season {}", season.year), style.units, &body, None)
}

fn answers(out: &mut Markup, season: &Season, styles: &Styles) {
    let trips = || season.trips.iter().map(|page| &page.trip);
    let bites: i64 = trips().map(|trip| trip.bites).sum();
    let rod_hours: f64 = trips().map(|trip| trip.rod_hours).sum();
    out.raw("<section class=\"answers\" aria-labelledby=\"happened\"><h2 id=\"happened\">What the season gave</h2><dl><div><dt>All trips</dt><dd><b>");
    put!(
        out,
        "{}</b><p>{} in {} rod-hours on {}</p></dd></div>",
        if rod_hours > 0.0 {
            format!("{:.2} bites a rod-hour", bites as f64 / rod_hours)
        } else {
            "no rod-hours".to_owned()
        },
        count(bites.max(0) as usize, "bite", "bites"),
        format_args!("{rod_hours:.1}"),
        count(season.trips.len(), "trip", "trips")
    );
    for (about, factor) in [("Best depth", "depth_m"), ("Best temperature", "temp_at_depth_c")] {
        let one = |style: &Style| best_band(about, factor, (bites, rod_hours), season.produced.bands, style);
        super::trip::answer(out, styles, &one);
    }
    out.raw("</dl></section>");
}

/// Months from the first trip to the last, weeks from Monday (ISO 8601).
fn calendar(out: &mut Markup, season: &Season) {
    let mut days: BTreeMap<Date, Vec<&PageOfTrip>> = BTreeMap::new();
    for page in season.trips {
        days.entry(page.trip.day()).or_default().push(page);
    }
    let (Some(first), Some(last)) = (days.keys().next(), days.keys().next_back()) else { return };
    let most = season.trips.iter().filter_map(|page| page.trip.rate_per_rod_hour).fold(0.1, f64::max);
    out.raw("<section class=\"rows\" aria-labelledby=\"days\"><h2 id=\"days\">Days out</h2><div class=\"months\">");
    let mut month = first.first_of_month();
    while month <= *last {
        put!(out, "<table class=\"month\"><caption>{}</caption><thead><tr>", month.strftime("%B"));
        for (name, short) in [
            ("Monday", "M"),
            ("Tuesday", "T"),
            ("Wednesday", "W"),
            ("Thursday", "T"),
            ("Friday", "F"),
            ("Saturday", "S"),
            ("Sunday", "S"),
        ] {
            put!(out, "<th scope=\"col\" abbr=\"{}\">{}</th>", name, short);
        }
        out.raw("</tr></thead><tbody><tr>");
        let before = i64::from(month.weekday().to_monday_zero_offset());
        for _ in 0..before {
            out.raw("<td></td>");
        }
        for day in 1..=month.days_in_month() {
            let date = Date::new(month.year(), month.month(), day).unwrap_or(month);
            if day > 1 && date.weekday().to_monday_zero_offset() == 0 {
                out.raw("</tr><tr>");
            }
            day_cell(out, date, days.get(&date).map_or(&[][..], Vec::as_slice), most);
        }
        out.raw("</tr></tbody></table>");
        let Ok(next) = month.checked_add(1.month()) else { break };
        month = next;
    }
    out.raw("</div><p class=\"key\">Bites on each day out; the bar is bites a rod-hour, the fullest is ");
    put!(out, "{}.</p></section>", format_args!("{most:.2}"));
}

fn day_cell(out: &mut Markup, date: Date, trips: &[&PageOfTrip], most: f64) {
    if trips.is_empty() {
        put!(out, "<td><small>{}</small></td>", date.day());
        return;
    }
    put!(out, "<td class=\"out\"><small>{}</small>", date.day());
    for page in trips {
        let trip = &page.trip;
        let rate = trip.rate_per_rod_hour.unwrap_or(0.0);
        let words =
            format!("{}: {}", date.strftime("%-d %B"), count(trip.bites.max(0) as usize, "bite", "bites"));
        match &page.file {
            Some(file) => put!(out, "<a href=\"{}\" aria-label=\"{}\">{}</a>", file, words, trip.bites),
            None => put!(out, "<b>{}</b>", trip.bites),
        }
        put!(
            out,
            "<svg viewBox=\"0 0 40 5\" aria-hidden=\"true\"><rect class=\"rest\" width=\"40\" height=\"5\"/><rect class=\"effort\" width=\"{}\" height=\"5\"/></svg>",
            Px(40.0 * rate / most)
        );
    }
    out.raw("</td>");
}

/// Bites a rod-hour in each part of the season, on how much effort.
fn parts(out: &mut Markup, season: &Season) {
    if season.parts.iter().all(|part| part.rate.is_none()) {
        return;
    }
    let (top, row_height) = (30.0, 28.0);
    let height = top + row_height * season.parts.len() as f64 + 24.0;
    let hours = season.parts.iter().map(|part| part.rod_hours).fold(0.1, f64::max);
    let most = season.parts.iter().filter_map(|part| part.rate).map(|[_, _, high]| high).fold(0.1, f64::max);
    let rate = Axis::new(Measure::Plain, 0.0..most, 330.0..640.0);
    out.raw("<section class=\"rows\" aria-labelledby=\"parts\"><h2 id=\"parts\">Part by part</h2>");
    put!(
        out,
        "<svg class=\"picture bands wide-bands\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Bites a rod-hour by part of the season\">",
        WIDTH,
        height
    );
    out.raw("<text class=\"head end\" x=\"300\" y=\"16\">rod-hours</text><text class=\"head\" x=\"330\" y=\"16\">bites a rod-hour, 90 % sure</text>");
    for (value, label) in rate.ticks(SYSTEMS[0], 5.0) {
        let x = rate.at(value);
        put!(
            out,
            "<path class=\"grid\" d=\"M{} {}V{}\"/><text class=\"tick mid\" x=\"{}\" y=\"{}\">{}</text>",
            Px(x),
            top,
            Px(height - 24.0),
            Px(x),
            Px(height - 7.0),
            label
        );
    }
    for (n, part) in season.parts.iter().enumerate() {
        let y = top + row_height * (n as f64 + 0.5);
        let long = 130.0 * part.rod_hours / hours;
        put!(
            out,
            "<text class=\"bin\" x=\"0\" y=\"{}\">{}–{}</text><rect class=\"effort\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"12\"/>",
            Px(y + 4.5),
            part.from.day(),
            part.to.strftime("%-d %B"),
            Px(300.0 - long),
            Px(y - 6.0),
            Px(long)
        );
        let Some([mean, low, high]) = part.rate else {
            put!(
                out,
                "<text class=\"tick\" x=\"330\" y=\"{}\">{}</text>",
                Px(y + 4.5),
                if part.trips == 0 { "no trip" } else { "no rods out" }
            );
            continue;
        };
        put!(
            out,
            "<path class=\"interval\" d=\"M{} {}H{}\"/><path class=\"rate\" d=\"M{} {}v14\"/><text class=\"tick end\" x=\"{}\" y=\"{}\">{}</text>",
            Px(rate.at(low)),
            Px(y),
            Px(rate.at(high)),
            Px(rate.at(mean)),
            Px(y - 7.0),
            Px(WIDTH - 4.0),
            Px(y + 4.5),
            format_args!("{mean:.2}")
        );
    }
    out.raw("</svg><p class=\"key\">The range is of the count alone, as if every day of a part had the same luck.</p></section>");
}

/// Depth and temperature of the bites, day by day.
fn through(out: &mut Markup, season: &Season, styles: &Styles) {
    let zone = &styles.boat().zone;
    let day = |row: &bites::Row| timestamp(row.time).to_zoned_datetime(zone.clone()).date();
    let days: Vec<Date> = season.bites.iter().map(day).collect();
    let (Some(first), Some(last)) = (days.iter().min(), days.iter().max()) else { return };
    let month = first.first_of_month();
    let number = |date: Date| date.duration_since(month).as_hours() as f64 / 24.0;
    let end = number(last.last_of_month()) + 1.0;
    let x = Axis::new(Measure::Plain, 0.0..end, LEFT..WIDTH - RIGHT);
    out.raw("<section class=\"rows\" aria-labelledby=\"through\"><h2 id=\"through\">Bites through the season</h2>");
    for (measure, name, value) in [
        (Measure::Depth, "depth of the bites", (|row| row.depth_m) as fn(&bites::Row) -> Option<f64>),
        (Measure::Temp, "temperature at that depth", |row| row.temp_at_depth_c),
    ] {
        let known: Vec<(Date, f64, bool)> = season
            .bites
            .iter()
            .zip(&days)
            .filter_map(|(row, day)| Some((*day, value(row)?, row.outcome.as_deref() == Some("lost"))))
            .collect();
        let values = || known.iter().map(|(_, value, _)| *value);
        let (Some(low), Some(high)) = (values().reduce(f64::min), values().reduce(f64::max)) else {
            continue;
        };
        // deeper is lower, warmer is higher
        let y = if measure == Measure::Depth {
            Axis::new(measure, 0.0..high * 1.08, PANEL.0..PANEL.1)
        } else {
            let room = 0.08 * (high - low).max(1.0);
            Axis::new(measure, low - room..high + room, PANEL.1..PANEL.0)
        };
        put!(
            out,
            "<svg class=\"picture\" viewBox=\"0 0 {} 216\" role=\"img\" aria-label=\"{}\">",
            WIDTH,
            name
        );
        put!(out, "<text class=\"name\" x=\"{}\" y=\"14\">{}</text>", LEFT, name);
        super::along::draw_left(out, &y, 5.0, WIDTH - RIGHT);
        let mut start = month;
        while start <= *last {
            let at = x.at(number(start));
            put!(
                out,
                "<path class=\"grid\" d=\"M{} {}V{}\"/><text class=\"tick\" x=\"{}\" y=\"208\">{}</text>",
                Px(at),
                PANEL.0,
                PANEL.1,
                Px(at + 4.0),
                start.strftime("%b")
            );
            let Ok(next) = start.checked_add(1.month()) else { break };
            start = next;
        }
        out.raw("<g class=\"bites\">");
        for (day, value, is_lost) in &known {
            put!(
                out,
                "<circle class=\"{}\" cx=\"{}\" cy=\"{}\" r=\"5\"/>",
                if *is_lost { "lost" } else { "" },
                Px(x.at(number(*day) + 0.5)),
                Px(y.at(*value))
            );
        }
        out.raw("</g></svg>");
    }
    out.raw("</section>");
}

/// Lures against the average one in the same water, on a scale of halves and doubles.
fn lures(out: &mut Markup, rows: &[tackle_rates::Row]) {
    let mut lures: Vec<&tackle_rates::Row> =
        rows.iter().filter(|row| row.what == "lure" && row.species == "*").collect();
    if lures.len() < 2 {
        return;
    }
    lures.sort_by(|a, b| b.ratio.total_cmp(&a.ratio).then(a.name.cmp(&b.name)));
    let (top, row_height) = (8.0, 40.0);
    let height = top + row_height * lures.len() as f64 + 24.0;
    let logs = |value: f64| value.max(1.0 / 16.0).log2();
    let reach = lures
        .iter()
        .flat_map(|row| [logs(row.ratio_low), logs(row.ratio_high)])
        .map(f64::abs)
        .fold(1.0, f64::max)
        .min(4.0);
    let x = Axis::new(Measure::Plain, -reach..reach, 20.0..WIDTH - 60.0);
    out.raw("<section class=\"rows\" aria-labelledby=\"lures\"><h2 id=\"lures\">Lures, in the same water on the same day</h2>");
    put!(
        out,
        "<svg class=\"picture\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Lures against the average one\">",
        WIDTH,
        height
    );
    for power in -4_i32..=4 {
        if f64::from(power.abs()) > reach {
            continue;
        }
        let at = x.at(f64::from(power));
        let label = match power {
            0 => "average".to_owned(),
            power if power < 0 => format!("1/{}", 2_i32.pow(power.unsigned_abs())),
            power => format!("{}×", 2_i32.pow(power.unsigned_abs())),
        };
        put!(
            out,
            "<path class=\"{}\" d=\"M{} {}V{}\"/><text class=\"tick mid\" x=\"{}\" y=\"{}\">{}</text>",
            if power == 0 { "curve" } else { "grid" },
            Px(at),
            top,
            Px(height - 22.0),
            Px(at),
            Px(height - 6.0),
            label
        );
    }
    for (n, row) in lures.iter().enumerate() {
        let top = top + row_height * n as f64;
        let sure = if row.ratio_low > 1.0 || row.ratio_high < 1.0 { "" } else { " unsure" };
        put!(
            out,
            "<g class=\"bands\"><text class=\"bin\" x=\"20\" y=\"{}\">{}, {} in {} rod-hours</text>\
             <path class=\"interval{}\" d=\"M{} {}H{}\"/><path class=\"rate{}\" d=\"M{} {}v14\"/>\
             <text class=\"tick end\" x=\"{}\" y=\"{}\">{}</text></g>",
            Px(top + 13.0),
            row.name,
            count(row.bites.max(0) as usize, "bite", "bites"),
            format_args!("{:.1}", row.rod_hours),
            sure,
            Px(x.at(logs(row.ratio_low))),
            Px(top + 26.0),
            Px(x.at(logs(row.ratio_high))),
            sure,
            Px(x.at(logs(row.ratio))),
            Px(top + 19.0),
            Px(WIDTH - 4.0),
            Px(top + 30.0),
            format_args!("{:.1}×", row.ratio)
        );
    }
    out.raw("</svg><p class=\"key\">Once depth, temperature and day are taken off. A dashed range holds the average: luck could do that.</p></section>");
}
