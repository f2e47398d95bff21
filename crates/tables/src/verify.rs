//! Is every table of a logbook whole, of its schema, in range, and in agreement with the others?

mod finding;
mod invariants;
mod layers;
mod part;

use std::collections::BTreeSet;
use std::path::Path;

use crate::error::Error;
use crate::format;
use crate::layout::{self, PART, Partition};
use crate::lock;
use crate::sums::{self, Sums};
use crate::trip::{SCHEMAS, TripTables};

pub use finding::{Finding, Problem};

/// Checks a logbook: every file against its sum, its schema and its ranges, and the tables of each trip against
/// each other. Changes nothing. A finding that is no damage ([`Finding::is_damage`]) says what is worth knowing.
///
/// # Errors
/// Where there is no logbook, it is of a newer format, another program is writing it, or its folder cannot be
/// listed. Damage is no error but a finding.
pub fn verify(root: &Path) -> Result<Vec<Finding>, Error> {
    format::version(root)?;
    let _lock = lock::shared(root)?;
    let mut findings = strays(root)?;
    for partition in trips_found(root)? {
        let by_sum = check_sums(root, &partition);
        let changed = by_sum.iter().filter(|finding| finding.problem == Problem::SumDiffers);
        let changed = changed.map(|finding| finding.path.clone()).collect();
        findings.extend(by_sum);
        let mut checked = part::Checked::new(root, &partition, changed);
        let tables = match TripTables::collect(&mut checked) {
            Ok(tables) => tables,
            Err(never) => match never {},
        };
        findings.extend(checked.findings);
        findings.extend(invariants::check(&tables, &partition, &checked.unread));
    }
    findings.extend(layers::check(root)?);
    Ok(findings)
}

/// Every pair of year and trip that any table or list of sums knows. A trip without a row in `trips` is one, too.
fn trips_found(root: &Path) -> Result<BTreeSet<Partition>, Error> {
    let mut found = BTreeSet::new();
    for schema in SCHEMAS {
        found.extend(layout::every_partition(root, schema.name)?);
    }
    for list in layout::entries(&layout::sums_folder(root))? {
        let Ok(sums) = Sums::read(&list) else { continue };
        found.extend(sums.0.keys().filter_map(|path| Partition::of_file(path)));
    }
    Ok(found)
}

/// The files of a trip against the sums that were kept when it was written.
fn check_sums(root: &Path, partition: &Partition) -> Vec<Finding> {
    let list = layout::sums_file(root, &partition.trip_id);
    let sums = match Sums::read(&list) {
        Ok(sums) => sums,
        Err(cause) => return vec![Finding::new(root, &list, Problem::NoSums { cause: cause.to_string() })],
    };
    let mut findings = Vec::new();
    for schema in SCHEMAS {
        let path = partition.file(schema.name);
        let file = root.join(&path);
        let problem = match (sums.0.get(&path), sums::hash_of(&file)) {
            (Some(kept), Ok(hash)) if *kept == hash => continue,
            (Some(_), Ok(_)) => Problem::SumDiffers,
            (None, Ok(_)) => Problem::NotInSums,
            // a file that is not there is found where it is read
            (_, Err(_)) => continue,
        };
        findings.push(Finding::new(root, &file, problem));
    }
    findings
}

/// What interrupted writes left behind, and files that an engine would read as part of a table.
fn strays(root: &Path) -> Result<Vec<Finding>, Error> {
    let mut findings = Vec::new();
    for staging in layout::entries(&layout::staging_root(root))? {
        findings.push(Finding::new(root, &staging, Problem::InterruptedWrite));
    }
    let mut folders = vec![root.to_owned()];
    folders.extend(SCHEMAS.iter().map(|schema| root.join(schema.name)));
    while let Some(folder) = folders.pop() {
        for path in layout::entries(&folder)? {
            let name = layout::name(&path);
            let extension = path.extension().and_then(|extension| extension.to_str());
            let temporary = name.starts_with('.') && matches!(extension, Some("tmp" | "parquet"));
            let inside_table = folder != root;
            let visible = !name.starts_with('.') && name != PART;
            if inside_table && path.is_dir() && (name.starts_with("year=") || name.starts_with("trip=")) {
                folders.push(path);
            } else if temporary || (inside_table && visible) {
                findings.push(Finding::new(root, &path, Problem::Stray));
            }
        }
    }
    findings.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(findings)
}
