//! How many bites a rod-hour in each band of depth and of temperature, on how much effort, and how sure?

use waterseam_tables::bands;

use super::markup::{Markup, Px, put};
use super::measure::{Axis, Measure, Styles, class};
use crate::rates::{best, not_thin, of_species, range};

const WIDTH: f64 = 360.0;
const ROW: f64 = 24.0;
const TOP: f64 = 42.0;
/// Ends of the names of the bins, of the bars of effort, and of the rates.
const NAMES: f64 = 82.0;
const EFFORT: (f64, f64) = (88.0, 148.0);
const RATES: (f64, f64) = (164.0, 312.0);

/// One factor's bins, shallow above deep and warm above cold.
pub(crate) fn chart(
    rows: &[bands::Row],
    factor: &'static str,
    title: &'static str,
    styles: &Styles,
) -> Markup {
    let mut out = Markup::default();
    let factors = of_species(rows, "*");
    let Some(bins) = factors.iter().find(|bins| bins[0].factor == factor) else { return out };
    let mut bins: Vec<&bands::Row> = bins.iter().copied().filter(|bin| bin.rod_hours > 0.0).collect();
    if factor == "temp_at_depth_c" {
        bins.reverse();
    }
    if bins.is_empty() {
        return out;
    }
    let height = TOP + ROW * bins.len() as f64 + 26.0;
    put!(
        out,
        "<svg class=\"picture bands\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Bites a rod-hour by {}\">",
        WIDTH,
        height,
        title
    );
    put!(
        out,
        "<text class=\"name\" x=\"0\" y=\"14\">{}</text>\
         <text class=\"head end\" x=\"{}\" y=\"34\">rod-hours</text>\
         <text class=\"head\" x=\"{}\" y=\"34\">bites a rod-hour, 90 % sure</text>",
        title,
        Px(EFFORT.1),
        Px(RATES.0)
    );
    let hours = bins.iter().map(|bin| bin.rod_hours).fold(0.0, f64::max);
    let most = bins.iter().filter_map(|bin| bin.rate_high.or(bin.rate_per_rod_hour)).fold(0.0, f64::max);
    // a bin with next to no effort may be anything, and must not squeeze the others
    let told = not_thin(&bins).filter_map(|bin| bin.rate_per_rod_hour).fold(0.0, f64::max);
    let rate = Axis::new(Measure::Plain, 0.0..most.min(2.5 * told).max(0.1), RATES.0..RATES.1);
    let bottom = TOP + ROW * bins.len() as f64;
    for (value, label) in rate.ticks(styles.boat().units, 4.0) {
        let x = rate.at(value);
        put!(out, "<path class=\"grid\" d=\"M{} {}V{}\"/>", Px(x), TOP, Px(bottom));
        put!(out, "<text class=\"tick mid\" x=\"{}\" y=\"{}\">{}</text>", Px(x), Px(bottom + 16.0), label);
    }
    let is_sure = best(rows, factor, styles.boat()).is_some_and(|best| best.is_sure);
    for (n, bin) in bins.iter().enumerate() {
        row(&mut out, bin, TOP + ROW * n as f64, hours, &rate, is_sure, styles);
    }
    out.raw("</svg>");
    out
}

fn row(
    out: &mut Markup,
    bin: &bands::Row,
    top: f64,
    hours: f64,
    rate: &Axis,
    is_sure: bool,
    styles: &Styles,
) {
    let y = top + 0.5 * ROW;
    if bin.in_productive_band {
        put!(
            out,
            "<rect class=\"best\" x=\"0\" y=\"{}\" width=\"{}\" height=\"{}\"/>\
             <path class=\"best-edge\" d=\"M2 {}v{}\"/>",
            Px(top),
            WIDTH,
            ROW,
            Px(top),
            ROW
        );
    }
    let kind = if bin.in_productive_band { "bin best-bin" } else { "bin" };
    for style in styles.iter() {
        put!(
            out,
            "<text class=\"{} end {}\" x=\"{}\" y=\"{}\">{}</text>",
            kind,
            class(style.units),
            NAMES,
            Px(y + 4.5),
            range(&bin.factor, bin.low, bin.high, style)
        );
    }
    let long = (EFFORT.1 - EFFORT.0) * bin.rod_hours / hours.max(f64::MIN_POSITIVE);
    put!(
        out,
        "<rect class=\"effort\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"10\"/>",
        Px(EFFORT.1 - long),
        Px(y - 5.0),
        Px(long)
    );
    let (Some(mean), Some(low), Some(high)) = (bin.rate_per_rod_hour, bin.rate_low, bin.rate_high) else {
        put!(out, "<text class=\"tick\" x=\"{}\" y=\"{}\">no rate</text>", Px(RATES.0), Px(y + 4.5));
        return;
    };
    let open = if is_sure { "" } else { " unsure" };
    put!(
        out,
        "<path class=\"interval{}\" d=\"M{} {}H{}\"/><path class=\"rate{}\" d=\"M{} {}v12\"/>\
         <text class=\"tick end\" x=\"{}\" y=\"{}\">{}</text>",
        open,
        Px(rate.at(low)),
        Px(y),
        Px(rate.at(high)),
        open,
        Px(rate.at(mean)),
        Px(y - 6.0),
        Px(WIDTH - 2.0),
        Px(y + 4.5),
        format_args!("{mean:.2}")
    );
}
