//! What does the temperature sensor in the hull show?
//!
//! It lags, it is noisy, it writes tenths; now and then one reading is far off, and now and then it is silent.

use crate::days::Day;
use crate::dice::{Dice, Stream};
use crate::scenario::Knobs;

pub(crate) struct HullSensor {
    dice: Dice,
    noise_c: f64,
    bias_c: f64,
    quantum_c: f64,
    /// Share of the difference that the sensor makes up in a second.
    response: f64,
    spike_chance: f64,
    dropout_chance: f64,
    felt_c: Option<f64>,
    silent_until: usize,
    spikes: Vec<usize>,
    dropouts: Vec<(usize, usize)>,
}

impl HullSensor {
    pub(crate) fn new(day: &Day, knobs: &Knobs) -> Self {
        let interval_s = day.habits.intervals.mtw as f64;
        Self {
            dice: Dice::new(day.seed, Stream::Hull),
            noise_c: day.instruments.hull_noise_c,
            bias_c: knobs.hull_bias_c,
            quantum_c: knobs.hull_quantum_c.max(0.01),
            response: if knobs.hull_lag_s > 0.0 { 1.0 - (-1.0 / knobs.hull_lag_s).exp() } else { 1.0 },
            spike_chance: knobs.spikes_per_hour * interval_s / 3600.0,
            dropout_chance: knobs.dropouts_per_hour / 3600.0,
            felt_c: None,
            silent_until: 0,
            spikes: Vec::new(),
            dropouts: Vec::new(),
        }
    }

    /// Follows the water for a second; gives the text of a reading when one is due and the sensor speaks.
    pub(crate) fn second(&mut self, second: usize, water_c: f64, is_due: bool) -> Option<String> {
        let felt_c = self.felt_c.map_or(water_c, |felt_c| felt_c + self.response * (water_c - felt_c));
        self.felt_c = Some(felt_c);
        if second >= self.silent_until && self.dice.chance(self.dropout_chance) {
            self.silent_until = second + self.dice.whole(10, 90) as usize;
            self.dropouts.push((second, self.silent_until));
        }
        if !is_due || second < self.silent_until {
            return None;
        }
        let mut shown_c = felt_c + self.bias_c + self.noise_c * self.dice.normal();
        if self.dice.chance(self.spike_chance) {
            shown_c += self.dice.sign() * self.dice.uniform(2.0, 9.0);
            self.spikes.push(second);
        }
        Some(self.text(shown_c))
    }

    /// Seconds with a wrong reading; times of silence.
    pub(crate) fn account(self) -> (Vec<usize>, Vec<(usize, usize)>) {
        (self.spikes, self.dropouts)
    }

    fn text(&self, shown_c: f64) -> String {
        let stepped_c = (shown_c / self.quantum_c).round() * self.quantum_c;
        // + 0.0 turns -0.0 into 0.0
        if self.quantum_c < 0.1 {
            format!("{:.2}", stepped_c + 0.0)
        } else {
            format!("{:.1}", stepped_c + 0.0)
        }
    }
}
