//! Is every layer of many trips whole, of its schema, in range, and in agreement with itself?

use std::collections::BTreeSet;
use std::path::Path;

use super::part::{check_schema, check_values};
use super::{Finding, Problem};
use crate::error::Error;
use crate::file;
use crate::layer::{self, LayerId};
use crate::layout::{self, PART, entries};
use crate::table::Table;
use crate::tables::hotspots::Row;

pub(super) fn check(root: &Path) -> Result<Vec<Finding>, Error> {
    let layers = layer::list(root)?;
    let mut findings = strays(root, &layers)?;
    for layer in &layers {
        let path = root.join(layer.file());
        let problems = check_one(root, layer, &path);
        findings.extend(problems.into_iter().map(|problem| Finding::new(root, &path, problem)));
    }
    Ok(findings)
}

fn check_one(root: &Path, layer: &LayerId, path: &Path) -> Vec<Problem> {
    match layer::is_unchanged(root, layer) {
        Ok(true) => {}
        Ok(false) => return vec![Problem::SumDiffers],
        Err(e) => return vec![Problem::Unreadable { cause: e.cause() }],
    }
    let mut problems = match file::schema(path) {
        Ok(schema) => check_schema::<Row>(&schema),
        Err(e) => return vec![Problem::Unreadable { cause: e.cause() }],
    };
    match file::rows::<Row>(path) {
        Ok(rows) => {
            problems.extend(check_values(&rows));
            problems.extend(disagreement(layer, &rows));
        }
        Err(e) if problems.iter().all(|problem| !problem.is_damage()) => {
            problems.push(Problem::Unreadable { cause: e.cause() });
        }
        Err(_) => {}
    }
    problems
}

/// The first row that does not agree with itself or with the others.
fn disagreement(layer: &LayerId, rows: &[Row]) -> Option<Problem> {
    let mut seen = BTreeSet::new();
    rows.iter().enumerate().find_map(|(row, of)| {
        let in_order = |low: Option<f64>, middle: Option<f64>, high: Option<f64>| {
            [low, middle, high].iter().flatten().is_sorted() && (low.is_some() == high.is_some())
        };
        let wrong = if of.resolution != layer.resolution {
            "its resolution is not that of its folder"
        } else if !seen.insert((of.cell, &of.season_part, &of.species)) {
            "its cell, part of the season and species come twice"
        } else if (of.rod_hours > 0.0) != of.rate.is_some() || (of.rod_hours > 0.0) != of.rate_raw.is_some() {
            "it has a rate without effort, or effort without a rate"
        } else if !in_order(of.rate_low, of.rate, of.rate_high)
            || !in_order(of.times_low, of.times_average, of.times_high)
            || !in_order(of.bite_depth_low_m, of.bite_depth_m, of.bite_depth_high_m)
            || !in_order(of.bite_temp_low_c, of.bite_temp_c, of.bite_temp_high_c)
        {
            "an interval does not hold its middle"
        } else if of.years_with_bites > of.years || of.years_above > of.years || of.years > of.trips {
            "it has more years with something than years, or more years than trips"
        } else {
            return None;
        };
        Some(Problem::Disagrees { row, what: wrong })
    })
}

/// Files and folders among the layers that are none.
fn strays(root: &Path, layers: &[LayerId]) -> Result<Vec<Finding>, Error> {
    let known: BTreeSet<_> = layers.iter().map(|layer| root.join(layer.file())).collect();
    let mut findings = Vec::new();
    let mut folders = vec![root.join(Row::NAME)];
    while let Some(folder) = folders.pop() {
        for path in entries(&folder)? {
            let name = layout::name(&path);
            if path.is_dir() && (name.starts_with("cells=") || name.starts_with("parts=")) {
                folders.push(path);
            } else if !(known.contains(&path) && name == PART) {
                findings.push(Finding::new(root, &path, Problem::Stray));
            }
        }
    }
    findings.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(findings)
}
