//! How deep does a diver run, by the captain's own table?

use waterseam_logs::boat::DiverTable;

use crate::gear::rod_key;
use crate::refusal::Refusal;

/// A table still speaks for a speed that is this far from its own, m/s: a plane's pull down and its drag both
/// grow with the square of the speed, so that its depth hardly depends on it (common practice, no source).
const TABLE_SPEAKS_FOR_MPS: f64 = 0.25;

/// Depth of the diver on a rod, m.
///
/// A table names its rods, or holds for every diver that no table names. Between its rows, and between tables
/// of one name at several speeds, the depth lies on straight lines.
///
/// # Errors
/// Outside the tables.
pub(crate) fn depth_m(
    tables: &[DiverTable],
    rod: Option<&str>,
    line_out_m: Option<f64>,
    stw_mps: f64,
) -> Result<f64, Refusal> {
    let (slower, faster) = around(tables, rod, stw_mps)?;
    let line_out_m = line_out_m.ok_or(Refusal::NoLineOut)?;
    let (shallow, deep) = (along(&slower.rows, line_out_m)?, along(&faster.rows, line_out_m)?);
    Ok(shallow + (deep - shallow) * share(slower, faster, stw_mps))
}

/// Line out at which the diver on a rod runs at a depth, m.
///
/// # Errors
/// Outside the tables.
pub(crate) fn line_out_m(
    tables: &[DiverTable],
    rod: Option<&str>,
    depth_m: f64,
    stw_mps: f64,
) -> Result<f64, Refusal> {
    let (slower, faster) = around(tables, rod, stw_mps)?;
    let share = share(slower, faster, stw_mps);
    // the table at this speed, at every line out that both have
    let shortest_m = slower.rows[0].0.max(faster.rows[0].0);
    let longest_m = last(slower).0.min(last(faster).0);
    let mut outs_m: Vec<f64> = slower.rows.iter().chain(&faster.rows).map(|row| row.0).collect();
    outs_m.retain(|out_m| (shortest_m..=longest_m).contains(out_m));
    outs_m.sort_by(f64::total_cmp);
    outs_m.dedup();
    let mut rows = Vec::new();
    for out_m in outs_m {
        let (one, other) = (along(&slower.rows, out_m)?, along(&faster.rows, out_m)?);
        rows.push((one + (other - one) * share, out_m));
    }
    let (Some(first), Some(deepest)) = (rows.first(), rows.last()) else {
        return Err(Refusal::TableLine { shortest_m, longest_m });
    };
    if depth_m < first.0 {
        return Err(Refusal::TooShallow { shallowest_m: first.0 });
    }
    along(&rows, depth_m).map_err(|_| Refusal::TooDeep { deepest_m: deepest.0, line_out_m: deepest.1 })
}

/// The tables of a rod's diver just below and just above a speed; the same twice where only one speaks for it.
fn around<'t>(
    tables: &'t [DiverTable],
    rod: Option<&str>,
    stw_mps: f64,
) -> Result<(&'t DiverTable, &'t DiverTable), Refusal> {
    let rod = rod.map(rod_key);
    let is_named = |table: &&DiverTable| {
        rod.as_ref().is_some_and(|rod| {
            rod_key(&table.name) == *rod || table.rods.iter().any(|name| rod_key(name) == *rod)
        })
    };
    let named: Vec<&DiverTable> = tables.iter().filter(is_named).collect();
    let mut mine =
        if named.is_empty() { tables.iter().filter(|t| t.rods.is_empty()).collect() } else { named };
    mine.sort_by(|a, b| a.speed_mps.total_cmp(&b.speed_mps));
    let (Some(&slowest), Some(&fastest)) = (mine.first(), mine.last()) else { return Err(Refusal::NoTable) };
    if mine.iter().any(|table| rod_key(&table.name) != rod_key(&slowest.name)) {
        return Err(Refusal::WhichTable);
    }
    let refused = Refusal::TableSpeed {
        slowest_mps: (slowest.speed_mps - TABLE_SPEAKS_FOR_MPS).max(0.0),
        fastest_mps: fastest.speed_mps + TABLE_SPEAKS_FOR_MPS,
    };
    if stw_mps < slowest.speed_mps - TABLE_SPEAKS_FOR_MPS
        || stw_mps > fastest.speed_mps + TABLE_SPEAKS_FOR_MPS
    {
        return Err(refused);
    }
    let above = mine.partition_point(|table| table.speed_mps <= stw_mps);
    let slower = mine[above.saturating_sub(1)];
    Ok((slower, mine[above.min(mine.len() - 1)]))
}

/// Where a speed lies between those of two tables, from 0 to 1.
fn share(slower: &DiverTable, faster: &DiverTable, stw_mps: f64) -> f64 {
    let apart_mps = faster.speed_mps - slower.speed_mps;
    if apart_mps > 0.0 { ((stw_mps - slower.speed_mps) / apart_mps).clamp(0.0, 1.0) } else { 0.0 }
}

fn last(table: &DiverTable) -> (f64, f64) {
    table.rows.last().copied().unwrap_or_default()
}

/// The second value of a row at a first one, on straight lines.
fn along(rows: &[(f64, f64)], at: f64) -> Result<f64, Refusal> {
    let first = rows.first().map_or(0.0, |row| row.0);
    let refused = Refusal::TableLine { shortest_m: first, longest_m: rows.last().map_or(0.0, |row| row.0) };
    let above = rows.partition_point(|row| row.0 < at);
    match (above.checked_sub(1).map(|below| rows[below]), rows.get(above)) {
        (_, Some(&(x, y))) if x == at => Ok(y),
        (Some((x0, y0)), Some(&(x1, y1))) => Ok(y0 + (y1 - y0) * (at - x0) / (x1 - x0)),
        _ => Err(refused),
    }
}
