//! The water column as colours and isotherms, where the table of sections says what it was.

use waterseam_tables::sections;
use waterseam_units::UnitSystem;

use super::along::Along;
use super::colour::Thermal;
use super::markup::{Markup, Px, path, put};
use super::measure::{Axis, Measure, SYSTEMS, class, round_step};

/// About so many isotherms are drawn.
const ISOTHERMS: f64 = 7.0;
/// A label of an isotherm has no other within this.
const LABEL_APART: f64 = 18.0;

/// One column of a section: where it stands, how wide it is, and its cells from the top.
struct Column<'a> {
    x: f64,
    left: f64,
    right: f64,
    cells: &'a [sections::Row],
}

/// Colours and isotherms of every section.
pub(crate) fn field(out: &mut Markup, rows: &[sections::Row], along: &Along, axis: &Axis, thermal: Thermal) {
    for section in rows.chunk_by(|a, b| a.section_id == b.section_id) {
        let columns = columns(section, along);
        colours(out, &columns, axis, thermal);
        for system in [SYSTEMS[0], SYSTEMS[1]] {
            // degrees Celsius are those of two systems
            let classes = if system == UnitSystem::Imperial { class(system) } else { "in-metric-marine" };
            put!(out, "<g class=\"isotherms {}\">", classes);
            isotherms(out, &columns, axis, thermal, system);
            out.raw("</g>");
        }
    }
}

fn columns<'a>(section: &'a [sections::Row], along: &Along) -> Vec<Column<'a>> {
    let cells: Vec<&[sections::Row]> = section.chunk_by(|a, b| a.column == b.column).collect();
    let xs: Vec<f64> = cells.iter().map(|cells| along.x(cells[0].distance_m)).collect();
    let half = |i: usize, j: usize| 0.5 * (xs[i] + xs[j]);
    cells
        .iter()
        .enumerate()
        .map(|(i, cells)| Column {
            x: xs[i],
            left: if i == 0 { xs[0] } else { half(i - 1, i) },
            right: if i + 1 == xs.len() { xs[i] } else { half(i, i + 1) },
            cells,
        })
        .collect()
}

/// Cells of one colour that touch are one rectangle.
fn colours(out: &mut Markup, columns: &[Column], axis: &Axis, thermal: Thermal) {
    let mut of_step = vec![String::new(); Thermal::steps()];
    for column in columns {
        let cells = column.cells;
        let edge = |i: usize| match i {
            0 => axis.at(cells[0].depth_m - 0.5 * height_m(cells)),
            i if i == cells.len() => axis.at(cells[i - 1].depth_m + 0.5 * height_m(cells)),
            i => axis.at(0.5 * (cells[i - 1].depth_m + cells[i].depth_m)),
        };
        let steps: Vec<Option<usize>> =
            cells.iter().map(|cell| cell.temp_c.map(|t| thermal.step(t))).collect();
        let mut from = 0;
        for run in steps.chunk_by(|a, b| a == b) {
            let to = from + run.len();
            if let Some(step) = run[0] {
                let (top, bottom) = (edge(from), edge(to));
                of_step[step].push_str(&path([
                    (column.left, top),
                    (column.right, top),
                    (column.right, bottom),
                    (column.left, bottom),
                ]));
            }
            from = to;
        }
    }
    out.raw("<g class=\"field\">");
    for (step, d) in of_step.iter().enumerate().filter(|(_, d)| !d.is_empty()) {
        put!(out, "<path fill=\"{}\" d=\"{}\"/>", Thermal::colour(step), d);
    }
    out.raw("</g>");
}

fn height_m(cells: &[sections::Row]) -> f64 {
    cells.windows(2).map(|pair| pair[1].depth_m - pair[0].depth_m).fold(f64::MAX, f64::min).min(10.0)
}

fn isotherms(out: &mut Markup, columns: &[Column], axis: &Axis, thermal: Thermal, system: UnitSystem) {
    let unit = Measure::Temp.unit(system);
    let (low_c, high_c) = thermal.ends_c();
    let step = round_step((high_c - low_c) * unit.factor / ISOTHERMS);
    let first = ((low_c * unit.factor + unit.offset) / step).ceil() as i64;
    let last = ((high_c * unit.factor + unit.offset) / step).floor() as i64;
    let mut labels: Vec<(f64, f64)> = Vec::new();
    for k in first..=last {
        let shown = k as f64 * step;
        let temp_c = (shown - unit.offset) / unit.factor;
        let points: Vec<Option<(f64, f64)>> =
            columns.iter().map(|column| Some((column.x, axis.at(depth_of(column.cells, temp_c)?)))).collect();
        let mut longest: Option<Vec<(f64, f64)>> = None;
        for piece in points.split(Option::is_none).filter(|piece| piece.len() > 1) {
            let line: Vec<(f64, f64)> = piece.iter().flatten().copied().collect();
            put!(out, "<path d=\"{}\"/>", path(line.iter().copied()));
            if longest.as_ref().is_none_or(|longest| longest.len() < line.len()) {
                longest = Some(line);
            }
        }
        let Some(line) = longest else { continue };
        let free = line.iter().copied().find(|at| {
            labels.iter().all(|label| {
                (at.0 - label.0).abs() > 2.0 * LABEL_APART || (at.1 - label.1).abs() > LABEL_APART
            })
        });
        if let Some((x, y)) = free {
            labels.push((x, y));
            put!(
                out,
                "<text x=\"{}\" y=\"{}\">{}</text>",
                Px(x + 3.0),
                Px(y + 4.0),
                format_args!("{shown:.0}")
            );
        }
    }
}

/// Depth at which the temperature is first passed from the top; `None` where it is not, or where nobody measured.
fn depth_of(cells: &[sections::Row], temp_c: f64) -> Option<f64> {
    cells.windows(2).find_map(|pair| {
        let (a, b) = (pair[0].temp_c?, pair[1].temp_c?);
        let between = (a - temp_c) * (b - temp_c) <= 0.0 && a != b;
        between.then(|| pair[0].depth_m + (pair[1].depth_m - pair[0].depth_m) * (a - temp_c) / (a - b))
    })
}
