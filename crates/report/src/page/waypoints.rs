//! Where exactly? The bites and the breaks as rows that can be copied to a plotter.

use waterseam_tables::{bites, breaks};
use waterseam_units::UnitSystem;

use super::along::Along;
use super::markup::{Markup, put};
use super::measure::Styles;
use crate::sections::{bite_depth, break_words};
use crate::summary::Style;
use crate::words::{clock, place};

/// The position as text, and a button that copies it where a script can.
fn position(out: &mut Markup, lat: f64, lon: f64) {
    let at = place(lat, lon);
    put!(
        out,
        "<td class=\"at\"><span>{}</span> <button type=\"button\" class=\"copy\" hidden data-copy=\"{}\" aria-label=\"Copy {}\">copy</button></td>",
        at,
        at,
        at
    );
}

/// Begins a table that scrolls by itself where the screen is narrow.
fn begin(out: &mut Markup, id: &'static str, caption: &'static str, heads: &[&'static str]) {
    put!(
        out,
        "<div class=\"wide\" role=\"region\" tabindex=\"0\" aria-labelledby=\"{}\"><table><caption id=\"{}\">{}</caption><thead><tr>",
        id,
        id,
        caption
    );
    for head in heads {
        put!(out, "<th scope=\"col\">{}</th>", head);
    }
    out.raw("</tr></thead><tbody>");
}

/// Every bite.
pub(crate) fn bite_table(rows: &[bites::Row], along: &Along, styles: &Styles) -> Markup {
    let mut out = Markup::default();
    if rows.is_empty() {
        return out;
    }
    begin(
        &mut out,
        "bite-rows",
        "Bites",
        &["", "Time", "Species", "Became", "Depth", "Water there", "Break", "Speed", "Lure", "Place", "Note"],
    );
    let dash = || "–".to_owned();
    for (n, row) in rows.iter().enumerate() {
        put!(out, "<tr data-along=\"{}\">", (10.0 * along.x_at(row.time)).round());
        put!(out, "<th scope=\"row\">{}</th>", n + 1);
        cell(&mut out, styles, |style| clock(row.time, style));
        cell(&mut out, styles, |_| row.species.clone().unwrap_or_else(dash));
        cell(&mut out, styles, |_| row.outcome.clone().unwrap_or_else(dash));
        cell(&mut out, styles, |style| {
            bite_depth(row, style).map_or_else(dash, |depth| depth + &give(row.depth_se_m, style))
        });
        cell(&mut out, styles, |style| row.temp_at_depth_c.map_or_else(dash, |t| style.units.temp(t)));
        cell(&mut out, styles, |style| {
            let to_break = row.break_distance_m.zip(row.break_side.as_deref());
            to_break.map_or_else(dash, |(m, side)| format!("{}, {side} side", style.units.short_distance(m)))
        });
        cell(&mut out, styles, |style| {
            row.stw_mps.or(row.sog_mps).map_or_else(dash, |v| style.units.speed(v))
        });
        cell(&mut out, styles, |_| row.lure.clone().unwrap_or_else(dash));
        position(&mut out, row.lat, row.lon);
        cell(&mut out, styles, |_| row.note.clone().unwrap_or_default());
        out.raw("</tr>");
    }
    out.raw("</tbody></table></div>");
    out
}

/// ` ± 3` in the unit of the depth.
fn give(depth_se_m: Option<f64>, style: &Style) -> String {
    let decimals = usize::from(style.units != UnitSystem::Imperial);
    depth_se_m.map_or(String::new(), |se_m| format!(" ± {:.decimals$}", style.units.depth_value(se_m)))
}

/// Every crossing of a break.
pub(crate) fn break_table(rows: &[breaks::Row], along: &Along, styles: &Styles) -> Markup {
    let mut out = Markup::default();
    if rows.is_empty() {
        return out;
    }
    begin(&mut out, "break-rows", "Breaks crossed", &["Time", "What", "How sure", "Place"]);
    for row in rows {
        put!(out, "<tr data-along=\"{}\">", (10.0 * along.x(row.distance_m)).round());
        cell(&mut out, styles, |style| clock(row.time, style));
        cell(&mut out, styles, |style| {
            let deep = row.depth_m.map_or(String::new(), |m| format!(", at {} down", style.units.depth(m)));
            format!("{}{deep}", break_words(row, style))
        });
        cell(&mut out, styles, |_| {
            let chance = crate::words::chance(row.p_value);
            if row.kind == "maybe_shadow" {
                format!("may be the shadow of a cloud (luck: {chance})")
            } else {
                format!("chance by luck: {chance}")
            }
        });
        position(&mut out, row.lat, row.lon);
        out.raw("</tr>");
    }
    out.raw("</tbody></table></div>");
    out
}

fn cell(out: &mut Markup, styles: &Styles, words: impl Fn(&Style) -> String) {
    out.raw("<td>");
    out.put(&styles.words(words));
    out.raw("</td>");
}
