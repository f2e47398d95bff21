//! Which of several senders of one quantity is used?
//!
//! Two instruments seldom agree, so a column that changed between them would show steps that are not in the
//! water. One sender is used for a whole trip.

use std::collections::BTreeMap;

use waterseam_logs::{NO_TALKER, Talker};

/// A better kind of reading wins although it is rarer, as long as it has this share of the commonest kind.
const SHARE_OF_THE_COMMONEST: f64 = 0.1;

/// A reading with its time and sender. `rank` orders the kinds of reading, the best first.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reading<T> {
    pub time_us: i64,
    pub rank: u8,
    pub talker: Talker,
    pub value: T,
}

/// The readings of one kind and one sender, and what the captain should know about the others.
pub(crate) struct Steady<T> {
    /// Kind of the readings; `None` where there are no readings.
    pub rank: Option<u8>,
    /// The readings in time order.
    pub readings: Vec<(i64, T)>,
    /// A sentence when another sender gave readings of the same kind.
    pub remark: Option<String>,
}

/// Keeps the best kind that is not rare, and of that the sender who gave most readings.
pub(crate) fn steady<T: Copy>(quantity: &str, readings: &[Reading<T>]) -> Steady<T> {
    let mut counts: BTreeMap<(u8, Talker), usize> = BTreeMap::new();
    for reading in readings {
        *counts.entry((reading.rank, reading.talker)).or_default() += 1;
    }
    let commonest = counts.values().copied().max().unwrap_or_default() as f64;
    let rank = counts
        .iter()
        .find(|&(_, &n)| n as f64 >= SHARE_OF_THE_COMMONEST * commonest)
        .map(|(&(rank, _), _)| rank);
    let mut senders: Vec<(Talker, usize)> = counts
        .iter()
        .filter(|((kind, _), _)| Some(*kind) == rank)
        .map(|(&(_, talker), &n)| (talker, n))
        .collect();
    // stable, so that equal counts keep the order of the talkers
    senders.sort_by_key(|&(_, n)| std::cmp::Reverse(n));
    let chosen = senders.first().map(|&(talker, _)| talker);
    let of_chosen = |r: &&Reading<T>| Some(r.rank) == rank && Some(r.talker) == chosen;
    Steady {
        rank,
        readings: readings.iter().filter(of_chosen).map(|r| (r.time_us, r.value)).collect(),
        remark: remark(quantity, &senders),
    }
}

/// The name of a sender in a sentence.
pub(crate) fn name(talker: Talker) -> String {
    if talker == NO_TALKER { "the table".to_owned() } else { String::from_utf8_lossy(&talker).into_owned() }
}

fn remark(quantity: &str, senders: &[(Talker, usize)]) -> Option<String> {
    let (&(used, n), others) = senders.split_first()?;
    if others.is_empty() {
        return None;
    }
    let others: Vec<String> =
        others.iter().map(|&(talker, n)| format!("{} ({n} readings)", name(talker))).collect();
    let (used, others) = (name(used), others.join(", "));
    Some(format!("Several instruments give the {quantity}: {used} is used ({n} readings), not {others}."))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(kinds: &[(u8, &[u8; 2], usize)]) -> Vec<Reading<usize>> {
        let of = |&(rank, &talker, n): &(u8, &[u8; 2], usize)| {
            (0..n).map(move |value| Reading { time_us: value as i64, rank, talker, value })
        };
        kinds.iter().flat_map(of).collect()
    }

    #[test]
    fn a_better_kind_wins_unless_it_is_rare() {
        let chosen = steady("heading", &readings(&[(0, b"HE", 20), (1, b"II", 100)]));
        assert_eq!((chosen.rank, chosen.readings.len(), chosen.remark), (Some(0), 20, None));
        let chosen = steady("heading", &readings(&[(0, b"HE", 2), (1, b"II", 100)]));
        assert_eq!((chosen.rank, chosen.readings.len()), (Some(1), 100));
    }

    #[test]
    fn the_sender_of_most_readings_is_used_and_the_others_are_named() {
        let chosen = steady("depth", &readings(&[(0, b"SD", 3), (0, b"II", 5)]));
        assert_eq!(chosen.readings.len(), 5);
        let remark = chosen.remark.unwrap();
        assert!(remark.contains("II is used (5 readings), not SD (3 readings)"), "{remark}");
    }

    #[test]
    fn nothing_gives_nothing() {
        let chosen = steady::<f64>("depth", &[]);
        assert!(chosen.rank.is_none() && chosen.readings.is_empty() && chosen.remark.is_none());
    }
}
