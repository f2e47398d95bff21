//! Which readings of each quantity does a stretch of observations hold?

use waterseam_logs::{DepthReference, North, Observation, Value, WindReference};
use waterseam_units::LatLon;

use crate::distance::is_within;
use crate::sounding;
use crate::steady::{BySender, Sender};
use crate::track::Mark;
use crate::wind::Wind;

/// Instants of this crate: from 1970 …
const FIRST_US: i64 = 0;
/// … to 2100, µs.
const LAST_US: i64 = 4_102_444_800_000_000;
/// Every quantity here is a small number in SI units; a larger one is a fault and could not even be averaged.
const LARGEST: f64 = 1e6;

/// Marks of two logs no further apart than this are one, m: logs write places with different numbers of decimals …
const SAME_MARK_M: f64 = 5.0;
/// … and than this, µs: a plotter sends a mark up to some time after it was pressed (common practice, no source).
const SAME_MARK_US: i64 = 60_000_000;

/// Nobody presses more marks than this in that time.
const RECENT_MARKS_MAX: usize = 1_000;

/// A probe reading, not flagged yet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ProbeReading {
    pub time_us: i64,
    pub depth_m: f64,
    pub temp_c: Option<f64>,
    pub speed_mps: Option<f64>,
}

/// A speed through the water, as a log gives it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct HullSpeed {
    /// Ahead.
    pub along_mps: f64,
    /// To starboard, where the log has two axes.
    pub across_mps: Option<f64>,
}

/// A set and drift, as an instrument gives it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SetDrift {
    pub time_us: i64,
    pub set_deg: f64,
    pub north: North,
    pub drift_mps: f64,
}

/// A depth of the water, as the sounder gives it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sounding {
    pub depth_m: f64,
    pub reference: DepthReference,
    /// What the sounder added to the depth below its transducer.
    pub offset_m: Option<f64>,
}

/// The observations by quantity, each in time order.
#[derive(Debug)]
pub(crate) struct Readings {
    /// Speed and course over ground.
    pub velocity: BySender<(f64, Option<f64>)>,
    pub surface_temp: BySender<f64>,
    pub water_depth: BySender<Sounding>,
    pub water_speed: BySender<HullSpeed>,
    pub heading: BySender<f64>,
    pub wind: BySender<Wind>,
    pub probe: Vec<ProbeReading>,
    pub currents: Vec<SetDrift>,
    pub marks: Vec<Mark>,
}

impl Readings {
    fn of_so_many(observations: usize) -> Self {
        let expected = observations / KINDS;
        Self {
            velocity: BySender::expecting(expected),
            surface_temp: BySender::expecting(expected),
            water_depth: BySender::expecting(expected),
            water_speed: BySender::expecting(expected),
            heading: BySender::expecting(expected),
            wind: BySender::expecting(expected),
            probe: Vec::new(),
            currents: Vec::new(),
            marks: Vec::new(),
        }
    }
}

/// No sender of a log with all instruments gives more than about this part of its readings.
pub(crate) const KINDS: usize = 5;

/// Rank of a magnetic heading; a true one is better.
pub(crate) const MAGNETIC: u8 = 1;
/// Rank of an apparent wind; one from true north is better.
pub(crate) const APPARENT: u8 = 1;
/// Rank of a wind from the bow over the water, which leans on the log.
pub(crate) const FROM_BOW: u8 = 2;

/// Sorts observations by quantity. `positions_from` are the senders of the fixes: velocities of theirs rank first.
/// `is_transducer_stated`: see [`sounding::ranked`].
pub(crate) fn readings(
    observations: &[Observation],
    positions_from: &[Sender],
    is_transducer_stated: bool,
) -> Readings {
    let mut of = Readings::of_so_many(observations.len());
    let mut marks: Vec<(u16, Mark)> = Vec::new();
    for observation in observations {
        let &Observation { time_us, talker, source, .. } = observation;
        let sender = Sender { source, talker };
        match observation.value {
            Value::Fix { .. } => {}
            Value::GroundVelocity { sog_mps, cog_deg } => {
                let rank = u8::from(!positions_from.contains(&sender));
                of.velocity.push(rank, sender, time_us, (sog_mps, cog_deg));
            }
            Value::WaterTemp { temp_c } => of.surface_temp.push(0, sender, time_us, temp_c),
            Value::WaterDepth { depth_m, reference, offset_m } => {
                let said = Sounding { depth_m, reference, offset_m };
                let (rank, sounding) = sounding::ranked(said, is_transducer_stated);
                of.water_depth.push(rank, sender, time_us, sounding);
            }
            Value::WaterSpeed { stw_mps, across_mps } => {
                of.water_speed.push(0, sender, time_us, HullSpeed { along_mps: stw_mps, across_mps });
            }
            Value::Heading { heading_deg, north } => {
                let rank = if north == North::True { 0 } else { MAGNETIC };
                of.heading.push(rank, sender, time_us, heading_deg);
            }
            Value::Wind { speed_mps, from_deg, reference } => {
                let rank = match reference {
                    WindReference::TrueNorth => 0,
                    WindReference::Apparent => APPARENT,
                    WindReference::WaterFromBow => FROM_BOW,
                };
                of.wind.push(rank, sender, time_us, Wind { speed_mps, from_deg });
            }
            Value::ReportedCurrent { set_deg, north, drift_mps } => {
                of.currents.push(SetDrift { time_us, set_deg, north, drift_mps });
            }
            Value::Mark { at } => marks.push((source, Mark { time_us, at })),
            Value::Probe { depth_m, temp_c, speed_mps } => {
                of.probe.push(ProbeReading { time_us, depth_m, temp_c, speed_mps });
            }
        }
    }
    of.marks = without_doubles(marks);
    of
}

/// A mark that two logs hold is one mark.
fn without_doubles(marks: Vec<(u16, Mark)>) -> Vec<Mark> {
    if marks.windows(2).all(|pair| pair[0].0 == pair[1].0) {
        return marks.into_iter().map(|(_, mark)| mark).collect();
    }
    let mut kept: Vec<(u16, Mark)> = Vec::new();
    for (source, mark) in marks {
        let mut recent = kept
            .iter()
            .rev()
            .take(RECENT_MARKS_MAX)
            .take_while(|(_, other)| mark.time_us - other.time_us <= SAME_MARK_US);
        let is_same =
            |(from, other): &(u16, Mark)| *from != source && is_within(other.at, mark.at, SAME_MARK_M);
        if !recent.any(is_same) {
            kept.push((source, mark));
        }
    }
    kept.into_iter().map(|(_, mark)| mark).collect()
}

/// Whether an observation is a number, of our time and on the earth. The readers see to that; this is the guard
/// that nothing else can stop the pipeline.
#[inline]
pub(crate) fn is_sound(observation: &Observation) -> bool {
    let number = |value: f64| value.abs() <= LARGEST;
    let perhaps = |value: Option<f64>| value.is_none_or(number);
    let place = |at: LatLon| LatLon::new(at.lat_deg, at.lon_deg).is_some();
    let is_number = match observation.value {
        Value::Fix { at, .. } | Value::Mark { at } => place(at),
        Value::GroundVelocity { sog_mps, cog_deg } => number(sog_mps) && perhaps(cog_deg),
        Value::WaterTemp { temp_c } => number(temp_c),
        Value::WaterDepth { depth_m, offset_m, .. } => number(depth_m) && perhaps(offset_m),
        Value::WaterSpeed { stw_mps, across_mps } => number(stw_mps) && perhaps(across_mps),
        Value::Heading { heading_deg, .. } => number(heading_deg),
        Value::ReportedCurrent { set_deg, drift_mps, .. } => number(set_deg) && number(drift_mps),
        Value::Wind { speed_mps, from_deg, .. } => number(speed_mps) && number(from_deg),
        Value::Probe { depth_m, temp_c, speed_mps } => {
            number(depth_m) && perhaps(temp_c) && perhaps(speed_mps)
        }
    };
    is_number && (FIRST_US..LAST_US).contains(&observation.time_us)
}
