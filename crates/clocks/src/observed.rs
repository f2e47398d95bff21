//! What of a file's observations speaks about clocks?

use std::collections::BTreeMap;

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
    /// Adds what the boat recorded after what is there already. Of several senders of a quantity the busiest is taken.
    pub fn add(&mut self, observations: &mut [Observation]) {
        observations.sort_by_key(|o| o.time_us);
        let busiest = |is: fn(&Value) -> bool| {
            let mut counts = BTreeMap::new();
            let of_kind = observations.iter().filter(|o| is(&o.value));
            of_kind.for_each(|o| *counts.entry(o.talker).or_insert(0) += 1);
            counts.into_iter().max_by_key(|(_, n)| *n).map(|(talker, _)| talker)
        };
        let fixes = busiest(|value| matches!(value, Value::Fix { .. }));
        let velocity = busiest(|value| matches!(value, Value::GroundVelocity { .. }));
        let temp = busiest(|value| matches!(value, Value::WaterTemp { .. }));
        for o in observations.iter() {
            let (time_s, talker) = (seconds(o.time_us), Some(o.talker));
            match o.value {
                Value::Fix { at, .. } if talker == fixes => self.fixes.push((time_s, at)),
                Value::GroundVelocity { sog_mps, cog_deg } if talker == velocity => {
                    self.velocity.push((time_s, sog_mps, cog_deg));
                }
                Value::WaterTemp { temp_c } if talker == temp => self.temp.push((time_s, temp_c)),
                _ => {}
            }
        }
    }
}
