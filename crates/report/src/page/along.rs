//! How far along the track was the boat at a time, and where does that stand on the drawings along it?

use waterseam_tables::TripTables;

use super::markup::{Markup, Px, put};
use super::measure::{Axis, Measure, SYSTEMS, class};
use super::seconds::{Second, fished, span};

/// Width of every drawing.
pub(crate) const WIDTH: f64 = 720.0;
/// Room at the left, for labels.
pub(crate) const LEFT: f64 = 54.0;
/// Room at the right.
pub(crate) const RIGHT: f64 = 12.0;

/// Way run before and after what is drawn that is still shown, part of the rest.
const BESIDE: f64 = 0.03;

/// The track as the drawings along it need it: from where lines, bites, casts or breaks begin to where they end, as the
/// run out and home would take half of the paper. Distances never fall.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Along<'a> {
    rows: &'a [Second],
    framed: &'a [Second],
    axis: Axis,
}

impl<'a> Along<'a> {
    /// `None` without a track.
    pub(crate) fn new(tables: &TripTables, rows: &'a [Second]) -> Option<Self> {
        let end_m = rows.last()?.distance_m;
        let axis = |low, high| Axis::new(Measure::Distance, low..high, LEFT..WIDTH - RIGHT);
        let whole = Self { rows, framed: rows, axis: axis(0.0, end_m) };
        let fished = fished(rows).map(|row| row.distance_m);
        let times = tables.bites.iter().map(|row| row.time).chain(tables.layers.iter().map(|row| row.time));
        let seen = fished
            .chain(times.map(|time| whole.row_at(time).distance_m))
            .chain(tables.breaks.iter().map(|row| row.distance_m));
        let Some((low, high)) = span(seen).filter(|(low, high)| high > low) else { return Some(whole) };
        let beside = BESIDE * (high - low);
        let (low, high) = ((low - beside).max(0.0), (high + beside).min(end_m));
        let from = rows.partition_point(|row| row.distance_m < low);
        let to = rows.partition_point(|row| row.distance_m <= high).max(from);
        Some(Self { rows, framed: &rows[from..to], axis: axis(low, high) })
    }

    /// All of the track.
    pub(crate) fn rows(&self) -> &'a [Second] {
        self.rows
    }

    /// What of it is drawn.
    pub(crate) fn framed(&self) -> &'a [Second] {
        self.framed
    }

    /// Where a distance stands.
    pub(crate) fn x(&self, distance_m: f64) -> f64 {
        self.axis.at(distance_m)
    }

    /// Where the boat at a time stands.
    pub(crate) fn x_at(&self, time_us: i64) -> f64 {
        self.x(self.row_at(time_us).distance_m)
    }

    /// The row of the track that is nearest to a time, from after it where both are.
    pub(crate) fn row_at(&self, time_us: i64) -> &'a Second {
        let after = self.rows.partition_point(|row| row.time < time_us).min(self.rows.len() - 1);
        let before = after.saturating_sub(1);
        let away = |i: usize| (self.rows[i].time - time_us).abs();
        &self.rows[if away(before) < away(after) { before } else { after }]
    }

    /// A quantity along the track as points of a drawing, broken where it is missing for longer than `gap_s`.
    pub(crate) fn curves(
        &self,
        value: impl Fn(&Second) -> Option<f64>,
        y: impl Fn(f64) -> f64,
        gap_s: f64,
    ) -> Vec<Vec<(f64, f64)>> {
        let gap_us = (gap_s * 1e6) as i64;
        let known: Vec<(i64, f64, f64)> = self
            .framed
            .iter()
            .filter_map(|row| Some((row.time, self.x(row.distance_m), y(value(row)?))))
            .collect();
        known
            .chunk_by(|a, b| b.0 - a.0 <= gap_us)
            .map(|piece| piece.iter().map(|&(_, x, y)| (x, y)).collect())
            .collect()
    }

    /// Ticks along the bottom of a drawing, from `top` to `bottom`, with labels where `labelled`.
    pub(crate) fn draw(&self, out: &mut Markup, top: f64, bottom: f64, labelled: bool) {
        for system in SYSTEMS {
            put!(out, "<g class=\"{}\">", class(system));
            let ticks = self.axis.ticks(system, 8.0);
            for (k, (value, label)) in ticks.iter().enumerate() {
                let x = Px(self.axis.at(*value));
                put!(out, "<path class=\"grid\" d=\"M{} {}V{}\"/>", x, Px(top), Px(bottom));
                if labelled {
                    let thin = if k % 2 == 1 { " odd" } else { "" };
                    let unit = if k + 1 == ticks.len() { self.axis.unit(system) } else { "" };
                    put!(
                        out,
                        "<text class=\"tick mid{}\" x=\"{}\" y=\"{}\">{} {}</text>",
                        thin,
                        x,
                        Px(bottom + 16.0),
                        label,
                        unit
                    );
                }
            }
            out.raw("</g>");
        }
    }
}

/// Ticks at the left of a panel from `LEFT` to the right end.
pub(crate) fn draw_left(out: &mut Markup, axis: &Axis, n: f64, right: f64) {
    for system in SYSTEMS {
        put!(out, "<g class=\"{}\">", class(system));
        let ticks = axis.ticks(system, n);
        let top = ticks.iter().map(|(value, _)| axis.at(*value)).min_by(f64::total_cmp);
        for (value, label) in &ticks {
            let y = axis.at(*value);
            put!(out, "<path class=\"grid\" d=\"M{} {}H{}\"/>", Px(LEFT), Px(y), Px(right));
            let unit = if Some(y) == top { axis.unit(system) } else { "" };
            put!(
                out,
                "<text class=\"tick end\" x=\"{}\" y=\"{}\">{}<tspan class=\"unit\">{}</tspan></text>",
                Px(LEFT - 5.0),
                Px(y + 4.0),
                label,
                unit
            );
        }
        out.raw("</g>");
    }
}
