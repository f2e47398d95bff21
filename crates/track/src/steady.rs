//! Which of several senders of one quantity is used?
//!
//! Two instruments seldom agree, so a column that changed between them would show steps that are not in the
//! water. One sender is used for a whole trip.

use std::collections::BTreeMap;

use waterseam_logs::{NO_TALKER, Talker};

/// A better kind of reading wins although it is rarer, as long as it has this share of the commonest kind.
const SHARE_OF_THE_COMMONEST: f64 = 0.1;

/// An instrument: a talker in one log, for two of one talker may write into two logs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Sender {
    pub source: u16,
    pub talker: Talker,
}

/// A reading with its time and sender. `rank` orders the kinds of reading, the best first.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reading<T> {
    pub time_us: i64,
    pub rank: u8,
    pub sender: Sender,
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
pub(crate) fn steady<T: Copy>(quantity: &str, readings: &[Reading<T>], logs: &[String]) -> Steady<T> {
    let mut counts: BTreeMap<(u8, Sender), usize> = BTreeMap::new();
    let kind = |reading: &Reading<T>| (reading.rank, reading.sender);
    for alike in readings.chunk_by(|a, b| kind(a) == kind(b)) {
        *counts.entry(kind(&alike[0])).or_default() += alike.len();
    }
    let commonest = counts.values().copied().max().unwrap_or_default() as f64;
    let rank = counts
        .iter()
        .find(|&(_, &n)| n as f64 >= SHARE_OF_THE_COMMONEST * commonest)
        .map(|(&(rank, _), _)| rank);
    let mut senders: Vec<(Sender, usize)> = counts
        .iter()
        .filter(|((kind, _), _)| Some(*kind) == rank)
        .map(|(&(_, sender), &n)| (sender, n))
        .collect();
    // stable, so that equal counts keep the order of the senders
    senders.sort_by_key(|&(_, n)| std::cmp::Reverse(n));
    let chosen = senders.first().map(|&(sender, _)| sender);
    let of_chosen = |r: &&Reading<T>| Some(r.rank) == rank && Some(r.sender) == chosen;
    Steady {
        rank,
        readings: readings.iter().filter(of_chosen).map(|r| (r.time_us, r.value)).collect(),
        remark: remark(quantity, &senders, logs),
    }
}

/// The readings of every sender that gave at least [`SHARE_OF_THE_COMMONEST`] of the commonest's, most readings first.
pub(crate) fn apart<T: Copy>(readings: &[Reading<T>]) -> Vec<(Sender, Vec<(i64, T)>)> {
    let mut of: BTreeMap<Sender, Vec<(i64, T)>> = BTreeMap::new();
    for own in readings.chunk_by(|a, b| a.sender == b.sender) {
        of.entry(own[0].sender).or_default().extend(own.iter().map(|r| (r.time_us, r.value)));
    }
    let most = of.values().map(Vec::len).max().unwrap_or_default() as f64;
    let mut senders: Vec<_> =
        of.into_iter().filter(|(_, own)| own.len() as f64 >= SHARE_OF_THE_COMMONEST * most).collect();
    // stable, so that equal counts keep the order of the senders
    senders.sort_by_key(|(_, own)| std::cmp::Reverse(own.len()));
    senders
}

/// The name of a sender in a sentence; `logs` are the names of the sources, empty where there is one or none is known.
pub(crate) fn name(sender: Sender, logs: &[String]) -> String {
    let talker = String::from_utf8_lossy(&sender.talker);
    match logs.get(usize::from(sender.source)) {
        Some(log) if sender.talker == NO_TALKER => log.clone(),
        Some(log) => format!("{talker} of {log}"),
        None if sender.talker == NO_TALKER => "the table".to_owned(),
        None => talker.into_owned(),
    }
}

fn remark(quantity: &str, senders: &[(Sender, usize)], logs: &[String]) -> Option<String> {
    let (&(used, n), others) = senders.split_first()?;
    if others.is_empty() {
        return None;
    }
    let others: Vec<String> =
        others.iter().map(|&(sender, n)| format!("{} ({n} readings)", name(sender, logs))).collect();
    let (used, others) = (name(used, logs), others.join(", "));
    Some(format!("Several instruments give the {quantity}: {used} is used ({n} readings), not {others}."))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(kinds: &[(u8, &[u8; 2], usize)]) -> Vec<Reading<usize>> {
        let of = |&(rank, &talker, n): &(u8, &[u8; 2], usize)| {
            (0..n).map(move |value| Reading {
                time_us: value as i64,
                rank,
                sender: Sender { source: 0, talker },
                value,
            })
        };
        kinds.iter().flat_map(of).collect()
    }

    #[test]
    fn a_better_kind_wins_unless_it_is_rare() {
        let chosen = steady("heading", &readings(&[(0, b"HE", 20), (1, b"II", 100)]), &[]);
        assert_eq!((chosen.rank, chosen.readings.len(), chosen.remark), (Some(0), 20, None));
        let chosen = steady("heading", &readings(&[(0, b"HE", 2), (1, b"II", 100)]), &[]);
        assert_eq!((chosen.rank, chosen.readings.len()), (Some(1), 100));
    }

    #[test]
    fn the_sender_of_most_readings_is_used_and_the_others_are_named() {
        let chosen = steady("depth", &readings(&[(0, b"SD", 3), (0, b"II", 5)]), &[]);
        assert_eq!(chosen.readings.len(), 5);
        let remark = chosen.remark.unwrap();
        assert!(remark.contains("II is used (5 readings), not SD (3 readings)"), "{remark}");
    }

    #[test]
    fn two_instruments_of_one_talker_in_two_logs_are_not_mixed() {
        let mut both = readings(&[(0, b"VD", 3), (0, b"VD", 5)]);
        both[3..].iter_mut().for_each(|reading| reading.sender.source = 1);
        let logs = ["log.txt", "doppler.txt"].map(str::to_owned);
        let chosen = steady("speed", &both, &logs);
        assert_eq!(chosen.readings.len(), 5);
        let remark = chosen.remark.unwrap();
        assert!(
            remark.contains("VD of doppler.txt is used (5 readings), not VD of log.txt (3 readings)"),
            "{remark}"
        );
    }

    #[test]
    fn nothing_gives_nothing() {
        let chosen = steady::<f64>("depth", &[], &[]);
        assert!(chosen.rank.is_none() && chosen.readings.is_empty() && chosen.remark.is_none());
    }
}
