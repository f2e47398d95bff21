//! What of a file's observations speaks about clocks?

use waterseam_logs::{FixKind, Observation, Value};
use waterseam_units::time::US_PER_S;

use crate::{Boat, Sample};

fn seconds(time_us: i64) -> f64 {
    time_us as f64 / US_PER_S as f64
}

/// The samples of a probe log in file order, and for each observation the sample that it belongs to: the observations of a
/// row stand together, and a position goes before the values of the probe.
pub fn samples(observations: &[Observation]) -> (Vec<Sample>, Vec<usize>) {
    let mut samples: Vec<Sample> = Vec::new();
    let mut sample_of = Vec::with_capacity(observations.len());
    let mut place = None;
    for observation in observations {
        sample_of.push(samples.len());
        match observation.value {
            Value::Fix { at, from: FixKind::Row } => place = Some((observation.time_us, at)),
            Value::Probe { depth_m, temp_c, speed_mps } => {
                let own = place.take().filter(|(time_us, _)| *time_us == observation.time_us);
                let at = own.map(|(_, at)| at);
                samples.push(Sample { time_s: seconds(observation.time_us), depth_m, temp_c, speed_mps, at });
            }
            _ => {}
        }
    }
    let last = samples.len().saturating_sub(1);
    for sample in &mut sample_of {
        *sample = (*sample).min(last);
    }
    (samples, sample_of)
}

impl Boat {
    /// Whether a value speaks about clocks; the others may be left out.
    pub fn asks_for(value: &Value) -> bool {
        kind(value).is_some()
    }

    /// Adds what the boat recorded after what is there already. Of several senders of a quantity the busiest is taken.
    pub fn add(&mut self, observations: &mut [Observation]) {
        observations.sort_by_key(|o| o.time_us);
        let mut senders = [Senders::default(), Senders::default(), Senders::default()];
        for o in observations.iter() {
            if let Some(kind) = kind(&o.value) {
                senders[kind].count(o.talker);
            }
        }
        let busiest = senders.map(Senders::busiest);
        let n = |kind: usize| busiest[kind].map_or(0, |(_, n)| n);
        self.fixes.reserve(n(FIX));
        self.velocity.reserve(n(VELOCITY));
        self.temp.reserve(n(TEMP));
        for o in observations.iter() {
            let is_busiest = |kind: usize| busiest[kind].is_some_and(|(talker, _)| talker == o.talker);
            match o.value {
                Value::Fix { at, .. } if is_busiest(FIX) => self.fixes.push((seconds(o.time_us), at)),
                Value::GroundVelocity { sog_mps, cog_deg } if is_busiest(VELOCITY) => {
                    self.velocity.push((seconds(o.time_us), sog_mps, cog_deg));
                }
                Value::WaterTemp { temp_c } if is_busiest(TEMP) => {
                    self.temp.push((seconds(o.time_us), temp_c));
                }
                _ => {}
            }
        }
    }
}

const FIX: usize = 0;
const VELOCITY: usize = 1;
const TEMP: usize = 2;

/// Which of the quantities that speak about clocks a value is.
fn kind(value: &Value) -> Option<usize> {
    match value {
        Value::Fix { .. } => Some(FIX),
        Value::GroundVelocity { .. } => Some(VELOCITY),
        Value::WaterTemp { .. } => Some(TEMP),
        _ => None,
    }
}

/// How often each sender of a quantity wrote; they are few.
#[derive(Default)]
struct Senders(Vec<([u8; 2], usize)>);

impl Senders {
    fn count(&mut self, talker: [u8; 2]) {
        match self.0.iter_mut().find(|(known, _)| *known == talker) {
            Some((_, n)) => *n += 1,
            None => self.0.push((talker, 1)),
        }
    }

    /// The one that wrote most, of several the last by name.
    fn busiest(self) -> Option<([u8; 2], usize)> {
        self.0.into_iter().max_by_key(|&(talker, n)| (n, talker))
    }
}
