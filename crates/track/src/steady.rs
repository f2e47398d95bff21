//! Which of several senders of one quantity is used?
//!
//! Two instruments seldom agree, so a column that changed between them would show steps that are not in the
//! water. One sender is used for a whole trip.

use waterseam_logs::{NO_TALKER, Talker};

use crate::keyed::Keyed;
use crate::series::Samples;

/// A better kind of reading wins although it is rarer, as long as it has this share of the commonest kind.
const SHARE_OF_THE_COMMONEST: f64 = 0.1;

/// An instrument: a talker in one log, for two of one talker may write into two logs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Sender {
    pub source: u16,
    pub talker: Talker,
}

/// The readings of one quantity, apart by kind and sender. `rank` orders the kinds of reading, the best first.
#[derive(Debug)]
pub(crate) struct BySender<T> {
    groups: Keyed<(u8, Sender), Samples<T>>,
    /// How many readings a sender has, about: room is made for them at once.
    expected: usize,
}

impl<T> BySender<T> {
    pub fn expecting(expected: usize) -> Self {
        Self { groups: Keyed::new(), expected }
    }

    #[inline]
    pub fn push(&mut self, rank: u8, sender: Sender, time_us: i64, value: T) {
        let expected = self.expected;
        self.groups.of((rank, sender), || Samples::with_capacity(expected)).push(time_us, value);
    }

    /// The times of the readings, group by group.
    pub fn times_us(&self) -> impl Iterator<Item = &[i64]> {
        self.groups.iter().map(|(_, samples)| samples.time_us.as_slice())
    }
}

/// The readings of one kind and one sender, and what the captain should know about the others.
pub(crate) struct Steady<T> {
    /// Kind of the readings; `None` where there are no readings.
    pub rank: Option<u8>,
    /// The readings in time order.
    pub samples: Samples<T>,
    /// A sentence when another sender gave readings of the same kind.
    pub remark: Option<String>,
}

/// Keeps the best kind that is not rare, and of that the sender who gave most readings.
pub(crate) fn steady<T>(quantity: &str, readings: BySender<T>, logs: &[String]) -> Steady<T> {
    let mut groups = readings.groups.into_vec();
    groups.sort_by_key(|(key, _)| *key);
    let commonest = groups.iter().map(|(_, samples)| samples.len()).max().unwrap_or_default() as f64;
    let is_common = |samples: &Samples<T>| samples.len() as f64 >= SHARE_OF_THE_COMMONEST * commonest;
    let rank = groups.iter().find(|(_, samples)| is_common(samples)).map(|((rank, _), _)| *rank);
    groups.retain(|((kind, _), _)| Some(*kind) == rank);
    // stable, so that equal counts keep the order of the senders
    groups.sort_by_key(|(_, samples)| std::cmp::Reverse(samples.len()));
    let senders: Vec<(Sender, usize)> =
        groups.iter().map(|((_, sender), samples)| (*sender, samples.len())).collect();
    let none = || Samples { time_us: Vec::new(), values: Vec::new() };
    let samples = groups.into_iter().next().map_or_else(none, |(_, samples)| samples);
    Steady { rank, samples, remark: remark(quantity, &senders, logs) }
}

/// The readings of every sender that gave at least [`SHARE_OF_THE_COMMONEST`] of the commonest's, most readings first. They
/// are all of one kind.
pub(crate) fn apart<T>(readings: BySender<T>) -> Vec<(Sender, Samples<T>)> {
    let mut of = readings.groups.into_vec();
    of.sort_by_key(|(key, _)| *key);
    let most = of.iter().map(|(_, own)| own.len()).max().unwrap_or_default() as f64;
    of.retain(|(_, own)| own.len() as f64 >= SHARE_OF_THE_COMMONEST * most);
    // stable, so that equal counts keep the order of the senders
    of.sort_by_key(|(_, own)| std::cmp::Reverse(own.len()));
    of.into_iter().map(|((_, sender), own)| (sender, own)).collect()
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

    fn readings(kinds: &[(u8, &[u8; 2], usize)]) -> BySender<usize> {
        let mut by_sender = BySender::expecting(0);
        for &(rank, &talker, n) in kinds {
            for value in 0..n {
                by_sender.push(rank, Sender { source: 0, talker }, value as i64, value);
            }
        }
        by_sender
    }

    #[test]
    fn a_better_kind_wins_unless_it_is_rare() {
        let chosen = steady("heading", readings(&[(0, b"HE", 20), (1, b"II", 100)]), &[]);
        assert_eq!((chosen.rank, chosen.samples.len(), chosen.remark), (Some(0), 20, None));
        let chosen = steady("heading", readings(&[(0, b"HE", 2), (1, b"II", 100)]), &[]);
        assert_eq!((chosen.rank, chosen.samples.len()), (Some(1), 100));
    }

    #[test]
    fn the_sender_of_most_readings_is_used_and_the_others_are_named() {
        let chosen = steady("depth", readings(&[(0, b"SD", 3), (0, b"II", 5)]), &[]);
        assert_eq!(chosen.samples.len(), 5);
        let remark = chosen.remark.unwrap();
        assert!(remark.contains("II is used (5 readings), not SD (3 readings)"), "{remark}");
    }

    #[test]
    fn two_instruments_of_one_talker_in_two_logs_are_not_mixed() {
        let mut both = readings(&[(0, b"VD", 3)]);
        for time_us in 0..5 {
            both.push(0, Sender { source: 1, talker: *b"VD" }, time_us, 0);
        }
        let logs = ["log.txt", "doppler.txt"].map(str::to_owned);
        let chosen = steady("speed", both, &logs);
        assert_eq!(chosen.samples.len(), 5);
        let remark = chosen.remark.unwrap();
        assert!(
            remark.contains("VD of doppler.txt is used (5 readings), not VD of log.txt (3 readings)"),
            "{remark}"
        );
    }

    #[test]
    fn nothing_gives_nothing() {
        let chosen = steady::<f64>("depth", BySender::expecting(0), &[]);
        assert!(chosen.rank.is_none() && chosen.samples.time_us.is_empty() && chosen.remark.is_none());
    }
}
