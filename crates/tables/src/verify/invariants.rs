//! Do the tables of a trip agree with each other and with themselves?

use std::collections::{BTreeMap, BTreeSet};

use waterseam_units::time::utc_year;

use super::{Finding, Problem};
use crate::layout::Partition;
use crate::table::Table;
use crate::tables::{
    bites, break_lines, breaks, current_edges, effort, layers, profiles, rod_spells, sources, track, trips,
};
use crate::trip::TripTables;

/// Checks a trip. What rests on a table that could not be read is left out.
pub(super) fn check(tables: &TripTables, partition: &Partition, unread: &[&str]) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut check = |table: &'static str, needs: &[&str], problem: Option<Problem>| {
        if needs.iter().chain([&table]).all(|needed| !unread.contains(needed)) {
            findings.extend(problem.map(|problem| Finding { path: partition.file(table), problem }));
        }
    };
    check(trips::Row::NAME, &[], one_trip(tables));
    check(trips::Row::NAME, &[], year(tables, partition));
    check(trips::Row::NAME, &[bites::Row::NAME], bite_count(tables));
    check(track::Row::NAME, &[], increasing(&tables.track));
    for source in &tables.sources {
        check(sources::Row::NAME, &[], account(source));
        check(sources::Row::NAME, &[], reasons(source));
    }

    let lines = ids(&tables.break_lines, |row| &row.break_line_id);
    let named = tables.breaks.iter().map(|row| row.break_line_id.as_deref());
    check(
        breaks::Row::NAME,
        &[break_lines::Row::NAME],
        dangling(named, "break_line_id", &lines, break_lines::Row::NAME),
    );

    let crossings = ids(&tables.breaks, |row| &row.break_id);
    let named = tables.current_edges.iter().map(|row| row.break_id.as_deref());
    check(
        current_edges::Row::NAME,
        &[breaks::Row::NAME],
        dangling(named, "break_id", &crossings, breaks::Row::NAME),
    );

    let spells = ids(&tables.rod_spells, |row| &row.spell_id);
    let named = tables.bites.iter().map(|row| row.spell_id.as_deref());
    check(
        bites::Row::NAME,
        &[rod_spells::Row::NAME],
        dangling(named, "spell_id", &spells, rod_spells::Row::NAME),
    );
    let named = tables.effort.iter().map(|row| Some(row.spell_id.as_str()));
    check(
        effort::Row::NAME,
        &[rod_spells::Row::NAME],
        dangling(named, "spell_id", &spells, rod_spells::Row::NAME),
    );

    let profile_ids = ids(&tables.profiles, |row| &row.profile_id);
    let named = tables.layers.iter().map(|row| Some(row.profile_id.as_str()));
    check(
        layers::Row::NAME,
        &[profiles::Row::NAME],
        dangling(named, "profile_id", &profile_ids, profiles::Row::NAME),
    );
    findings
}

fn one_trip(tables: &TripTables) -> Option<Problem> {
    let found = tables.trips.len();
    (found != 1).then_some(Problem::NotOneTrip { found })
}

fn year(tables: &TripTables, partition: &Partition) -> Option<Problem> {
    let found = utc_year(tables.trips.first()?.time_start);
    (Some(found) != partition.year).then_some(Problem::OtherYear { found })
}

fn bite_count(tables: &TripTables) -> Option<Problem> {
    let counted = tables.trips.first()?.bites;
    let rows = tables.bites.len();
    (counted != rows as i64).then_some(Problem::BiteCount { counted, rows })
}

fn increasing(track: &[track::Row]) -> Option<Problem> {
    let row = track.windows(2).position(|pair| pair[1].time <= pair[0].time)?;
    Some(Problem::TimeNotIncreasing { row: row + 1 })
}

fn account(source: &sources::Row) -> Option<Problem> {
    let parts = [source.records_used, source.records_not_needed, source.records_set_aside];
    let sum = parts.iter().try_fold(0_i64, |sum, &n| sum.checked_add(n));
    (sum != Some(source.records_read)).then(|| Problem::Account {
        file_name: source.file_name.clone(),
        read: source.records_read,
        used: source.records_used,
        not_needed: source.records_not_needed,
        set_aside: source.records_set_aside,
    })
}

fn reasons(source: &sources::Row) -> Option<Problem> {
    let counts: Option<BTreeMap<String, i64>> = serde_json::from_str(&source.set_aside_reasons).ok();
    let sum = counts.and_then(|counts| counts.values().try_fold(0_i64, |sum, &n| sum.checked_add(n)));
    (sum != Some(source.records_set_aside)).then(|| Problem::Reasons {
        file_name: source.file_name.clone(),
        set_aside: source.records_set_aside,
        reasons: source.set_aside_reasons.clone(),
    })
}

fn ids<R>(rows: &[R], id: fn(&R) -> &String) -> BTreeSet<&str> {
    rows.iter().map(|row| id(row).as_str()).collect()
}

/// The first name that the other table does not have.
fn dangling<'a>(
    named: impl Iterator<Item = Option<&'a str>>,
    column: &'static str,
    known: &BTreeSet<&str>,
    table: &'static str,
) -> Option<Problem> {
    let (row, id) =
        named.enumerate().find_map(|(row, id)| Some((row, id.filter(|id| !known.contains(id))?)))?;
    Some(Problem::Dangling { row, column, id: id.to_owned(), table })
}
