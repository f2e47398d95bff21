//! What becomes of sentences on their way to the card?
//!
//! Most arrive whole. Some are torn or garbled; the first line begins in the middle of a sentence, the last one ends in
//! one. Everything is counted.

use std::collections::BTreeMap;
use std::fmt;

use crate::clock::Clock;
use crate::dice::{Dice, Stream};
use crate::lake::HARBOUR;
use crate::nmea::{Fields, push_sentence};
use crate::truth::LogTruth;

/// The card: sentences as they arrive on it, counted.
pub(crate) struct Card {
    pub text: String,
    dice: Dice,
    dirt_chance: f64,
    counts: BTreeMap<&'static str, u64>,
    pub truth: LogTruth,
}

impl Card {
    pub(crate) fn new(seed: u64, dirt_chance: f64) -> Self {
        Self {
            text: String::with_capacity(4 << 20),
            dice: Dice::new(seed, Stream::Dirt),
            dirt_chance,
            counts: BTreeMap::new(),
            truth: LogTruth::default(),
        }
    }

    /// Writes a sentence; now and then a digit of it arrives wrong. Says whether it arrived right.
    pub(crate) fn write(&mut self, kind: &'static str, body: fmt::Arguments<'_>) -> bool {
        let start = self.text.len();
        push_sentence(&mut self.text, body);
        let is_right = !(self.dice.chance(self.dirt_chance) && self.garble(start));
        if is_right {
            *self.counts.entry(kind).or_default() += 1;
        } else {
            self.truth.checksum_wrong += 1;
        }
        is_right
    }

    /// Writes a sentence; now and then its end is lost, and sometimes the end of the line with it.
    pub(crate) fn write_tearable(&mut self, kind: &'static str, body: fmt::Arguments<'_>) {
        if !self.dice.chance(self.dirt_chance) {
            self.write(kind, body);
            return;
        }
        self.tear(body);
        if self.dice.chance(0.5) {
            self.text.push_str("\r\n");
        }
    }

    /// The first bytes of a sentence. An RMC is cut before its longitude is whole, so that nobody can take it for a fix.
    fn tear(&mut self, body: fmt::Arguments<'_>) {
        let start = self.text.len();
        push_sentence(&mut self.text, body);
        let kept = self.dice.whole(10, 34) as usize;
        self.text.truncate((start + kept).min(self.text.len() - 2));
        self.truth.torn += 1;
    }

    /// The end of the sentence before the first one.
    pub(crate) fn begin_torn(&mut self, clock: Clock) {
        if self.dirt_chance > 0.0 {
            let mut sentence = String::new();
            let (hms, dmy) = (clock.utc(-1.0, "%H%M%S"), clock.utc(-1.0, "%d%m%y"));
            push_sentence(&mut sentence, format_args!("GPRMC,{hms},V,,,,,,,{dmy},,,N"));
            self.text.push_str(&sentence["$GPRMC,hhmmss,".len()..]);
            self.truth.torn += 1;
        }
    }

    /// The sentence after the last one, as a plotter leaves it that is switched off.
    pub(crate) fn end_torn(&mut self, clock: Clock, second: usize) {
        if self.dirt_chance > 0.0 {
            let hms = clock.utc(second as f64, "%H%M%S");
            self.tear(format_args!("GPRMC,{hms},A,{},0.00,,,,,A", Fields(HARBOUR)));
        }
    }

    /// Changes one digit of the sentence that starts at a byte, so that its checksum is wrong. False: it has none.
    fn garble(&mut self, start: usize) -> bool {
        let end = self.text.len() - "*00\r\n".len();
        let digits: Vec<usize> = (start..end).filter(|&i| self.text.as_bytes()[i].is_ascii_digit()).collect();
        if digits.is_empty() {
            return false;
        }
        let place = *self.dice.pick(&digits);
        let digit = self.text.as_bytes()[place] - b'0';
        let other = (digit + self.dice.whole(1, 9) as u8) % 10;
        self.text.replace_range(place..=place, &other.to_string());
        true
    }

    pub(crate) fn account(&mut self) -> LogTruth {
        let sentences = self.counts.iter().map(|(kind, n)| ((*kind).to_owned(), *n)).collect();
        LogTruth { sentences, ..self.truth.clone() }
    }
}
