//! Which notes and gear rows do several files hold?
//!
//! A captain copies a file, types more rows into it, and copies it again. A row that another file of the trip holds
//! too counts once: the fish did not bite twice. Two equal rows of one file are two, for two fish may bite at once.

use std::collections::{BTreeMap, BTreeSet};

use waterseam_logs::{BiteNote, GearEntry, NoteTime};
use waterseam_units::time::US_PER_S;

/// Word of the table `set_aside` for a row that another file holds too.
pub const SAME_AS_IN_ANOTHER_FILE: &str = "same_as_in_another_file";

/// Rows with their files.
pub type Rows<N> = Vec<(usize, N)>;

/// Separates bites that count from those that another file holds too. What a double says more goes to the bite that
/// stays. `instant` gives the instant of a time.
///
/// Two bites are one when they have the same second, the same rod and the same species; where rod or species is not
/// said in one of them, when nothing else in them differs.
pub fn bites(
    rows: &[(usize, BiteNote)],
    instant: &dyn Fn(NoteTime) -> Option<i64>,
) -> (Rows<BiteNote>, Rows<BiteNote>) {
    let keys = |note: &BiteNote| second(Some(note.time), instant).into_iter().collect();
    merge(rows, &keys, &|a, b| is_same_bite(a, b), &fill_bite)
}

/// The same for gear rows: one rod that goes out, or comes in, in the same second.
pub fn gear(
    rows: &[(usize, GearEntry)],
    instant: &dyn Fn(NoteTime) -> Option<i64>,
) -> (Rows<GearEntry>, Rows<GearEntry>) {
    let ends = |row: &GearEntry| (second(row.start, instant), second(row.end, instant));
    let keys = |row: &GearEntry| {
        let (start, end) = ends(row);
        start.into_iter().chain(end).collect()
    };
    let is_same = |a: &GearEntry, b: &GearEntry| {
        let ((start_a, end_a), (start_b, end_b)) = (ends(a), ends(b));
        let same_start = start_a.is_some() && start_a == start_b;
        // a row that only says that the line came in, beside one that says both
        let same_end = end_a.is_some() && end_a == end_b && (start_a.is_none() || start_b.is_none());
        is_same_word(&a.rod, &b.rod) && agree(a.method, b.method) && (same_start || same_end)
    };
    merge(rows, &keys, &is_same, &fill_gear)
}

/// Rows that stay, in their order, and doubles. The file with most rows is the newest copy: its rows stay.
fn merge<N: Clone>(
    rows: &[(usize, N)],
    keys: &dyn Fn(&N) -> Vec<i64>,
    is_same: &dyn Fn(&N, &N) -> bool,
    fill: &dyn Fn(&mut N, &N),
) -> (Rows<N>, Rows<N>) {
    let mut rows_of: BTreeMap<usize, usize> = BTreeMap::new();
    for (file, _) in rows {
        *rows_of.entry(*file).or_default() += 1;
    }
    if rows_of.len() < 2 {
        return (rows.to_vec(), Vec::new());
    }
    let mut order: Vec<usize> = (0..rows.len()).collect();
    order.sort_by_key(|&row| (std::cmp::Reverse(rows_of[&rows[row].0]), rows[row].0));

    let mut kept: BTreeMap<usize, (N, BTreeSet<usize>)> = BTreeMap::new();
    let mut by_key: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    let mut doubles = Vec::new();
    for row in order {
        let (file, note) = &rows[row];
        let keys = keys(note);
        let same = keys.iter().flat_map(|key| by_key.get(key).into_iter().flatten().copied()).find(|at| {
            let (other, taken_by) = &kept[at];
            rows[*at].0 != *file && !taken_by.contains(file) && is_same(other, note)
        });
        if let Some((other, taken_by)) = same.and_then(|at| kept.get_mut(&at)) {
            taken_by.insert(*file);
            fill(other, note);
            doubles.push((*file, note.clone()));
        } else {
            kept.insert(row, (note.clone(), BTreeSet::new()));
            for key in keys {
                by_key.entry(key).or_default().push(row);
            }
        }
    }
    (kept.into_iter().map(|(row, (note, _))| (rows[row].0, note)).collect(), doubles)
}

fn second(time: Option<NoteTime>, instant: &dyn Fn(NoteTime) -> Option<i64>) -> Option<i64> {
    Some(instant(time?)?.div_euclid(US_PER_S))
}

fn is_same_bite(a: &BiteNote, b: &BiteNote) -> bool {
    let same = |a: &Option<String>, b: &Option<String>| match (a, b) {
        (Some(a), Some(b)) => Some(is_same_word(a, b)),
        _ => None,
    };
    match (same(&a.rod, &b.rod), same(&a.species, &b.species)) {
        (Some(false), _) | (_, Some(false)) => false,
        (Some(true), Some(true)) => true,
        _ => {
            same(&a.lure, &b.lure) != Some(false)
                && same(&a.note, &b.note) != Some(false)
                && agree(a.outcome, b.outcome)
                && agree(a.depth_m, b.depth_m)
                && agree(a.weight_kg, b.weight_kg)
                && agree(a.length_m, b.length_m)
        }
    }
}

fn is_same_word(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

fn agree<T: PartialEq + Copy>(a: Option<T>, b: Option<T>) -> bool {
    a.is_none() || b.is_none() || a == b
}

fn fill_bite(note: &mut BiteNote, more: &BiteNote) {
    let BiteNote {
        species,
        outcome,
        rod,
        lure,
        depth_m,
        line_out_m,
        weight_kg,
        length_m,
        at,
        note: text,
        ..
    } = more.clone();
    note.species = note.species.take().or(species);
    note.outcome = note.outcome.or(outcome);
    note.rod = note.rod.take().or(rod);
    note.lure = note.lure.take().or(lure);
    note.depth_m = note.depth_m.or(depth_m);
    note.line_out_m = note.line_out_m.or(line_out_m);
    note.weight_kg = note.weight_kg.or(weight_kg);
    note.length_m = note.length_m.or(length_m);
    note.at = note.at.or(at);
    note.note = note.note.take().or(text);
}

fn fill_gear(row: &mut GearEntry, more: &GearEntry) {
    let GearEntry { start, end, method, line_out_m, colors, weight_kg, leader_m, lure, depth_m, .. } =
        more.clone();
    row.start = row.start.or(start);
    row.end = row.end.or(end);
    row.method = row.method.or(method);
    row.line_out_m = row.line_out_m.or(line_out_m);
    row.colors = row.colors.or(colors);
    row.weight_kg = row.weight_kg.or(weight_kg);
    row.leader_m = row.leader_m.or(leader_m);
    row.lure = row.lure.take().or(lure);
    row.depth_m = row.depth_m.or(depth_m);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Any clock time is a time of the first day; none is known before it.
    fn instant(time: NoteTime) -> Option<i64> {
        match time {
            NoteTime::Instant(time_us) | NoteTime::Clock(time_us) => (time_us >= 0).then_some(time_us),
        }
    }

    fn bite(minute: i64, rod: &str, species: &str) -> BiteNote {
        let said = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        BiteNote {
            time: NoteTime::Clock(minute * 60 * US_PER_S),
            rod: said(rod),
            species: said(species),
            ..BiteNote::default()
        }
    }

    /// Number of bites that stay and of doubles.
    fn check(files: &[&[BiteNote]], expected: (usize, usize)) -> Rows<BiteNote> {
        let rows: Rows<BiteNote> = files
            .iter()
            .enumerate()
            .flat_map(|(file, notes)| notes.iter().map(move |note| (file, note.clone())))
            .collect();
        let (kept, doubles) = bites(&rows, &instant);
        assert_eq!((kept.len(), doubles.len()), expected);
        kept
    }

    #[test]
    fn a_copy_with_more_rows_adds_only_these() {
        let old = [bite(1, "port", "coho"), bite(2, "port", "coho")];
        let new = [bite(1, "port", "coho"), bite(2, "Port ", "coho"), bite(9, "port", "chinook")];
        let kept = check(&[&old, &new], (3, 2));
        assert!(kept.iter().all(|(file, _)| *file == 1), "the longer file's rows stay");
    }

    #[test]
    fn two_fish_at_once_in_one_file_are_two() {
        let twice = [bite(1, "port", "coho"), bite(1, "port", "coho")];
        check(&[&twice], (2, 0));
        check(&[&twice, &twice], (2, 2));
        check(&[&twice[..1], &twice], (2, 1));
    }

    #[test]
    fn another_rod_or_species_is_another_fish() {
        check(&[&[bite(1, "port", "coho")], &[bite(1, "starboard", "coho")]], (2, 0));
        check(&[&[bite(1, "port", "coho")], &[bite(1, "port", "chinook")]], (2, 0));
        check(&[&[bite(1, "port", "coho")], &[bite(2, "port", "coho")]], (2, 0));
    }

    #[test]
    fn what_the_double_says_more_is_kept() {
        let weighed = BiteNote { weight_kg: Some(4.0), ..bite(1, "port", "") };
        let kept = check(&[&[bite(1, "port", "coho"), bite(2, "", "")], &[weighed]], (2, 1));
        assert_eq!((kept[0].1.weight_kg, kept[0].1.species.as_deref()), (Some(4.0), Some("coho")));
    }

    #[test]
    fn gear_rows_of_two_copies() {
        let minute = |m: i64| Some(NoteTime::Clock(m * 60 * US_PER_S));
        let row = |start, end| GearEntry { rod: "port".to_owned(), start, end, ..GearEntry::default() };
        let old = [(0, row(minute(1), None))];
        let new = [(1, row(minute(1), minute(9))), (1, row(minute(12), minute(20)))];
        let (kept, doubles) = gear(&[&old[..], &new[..]].concat(), &instant);
        assert_eq!((kept.len(), doubles.len()), (2, 1));
        assert_eq!(kept[0].1.end, minute(9));
        // the line came in: said alone in one file
        let (kept, doubles) = gear(&[(0, row(None, minute(9))), new[0].clone(), new[1].clone()], &instant);
        assert_eq!((kept.len(), doubles.len()), (2, 1));
    }
}
