//! How deep is the water, counted from its surface?
//!
//! Sounders count from the transducer, the surface or the keel, and some say how deep they sit. What the captain
//! states comes before what somebody once set in the sounder.

use std::ops::Range;

use waterseam_logs::DepthReference;

use crate::readings::Sounding;
use crate::settings::Settings;
use crate::steady::BySender;
use crate::stream::{Stream, chosen};
use crate::track::{TransducerDepth, Trip};

/// Added to a depth before its logarithm is taken, m: tenths at the berth are no jumps.
const DEPTH_FLOOR_M: f64 = 5.0;
/// Two depths of the transducer that differ by less are one, m: sounders write tenths, captains measure in inches.
const SAME_TRANSDUCER_M: f64 = 0.06;

/// What depths count from, the best first: where the depth of the transducer is stated, and where it is not.
fn order(is_transducer_stated: bool) -> [DepthReference; 3] {
    if is_transducer_stated {
        [DepthReference::Transducer, DepthReference::Surface, DepthReference::Keel]
    } else {
        [DepthReference::Surface, DepthReference::Transducer, DepthReference::Keel]
    }
}

/// A sounding with its rank. Where the depth of the transducer is stated, it counts from there if the sounder says how
/// deep it thinks that it sits.
pub(crate) fn ranked(mut sounding: Sounding, is_transducer_stated: bool) -> (u8, Sounding) {
    if let Some(offset_m) = sounding.offset_m.filter(|_| is_transducer_stated) {
        sounding.depth_m -= offset_m;
        sounding.reference = DepthReference::Transducer;
    }
    let rank = order(is_transducer_stated).iter().position(|&other| other == sounding.reference);
    (rank.map_or(u8::MAX, |at| at as u8), sounding)
}

/// The depth of the water in the rows.
pub(crate) fn depth(
    trip: &mut Trip,
    windows: &[Range<i64>],
    soundings: BySender<Sounding>,
    logs: &[String],
    settings: &Settings,
) {
    let stated_m = settings.transducer_depth_m;
    let chosen = chosen(trip, "water depth", soundings, logs);
    let order = order(stated_m.is_some());
    let reference = chosen.rank.and_then(|rank| order.get(usize::from(rank)).copied());
    let reference = reference.unwrap_or(DepthReference::Surface);
    let mut said: Vec<f64> = chosen.samples.values.iter().filter_map(|sounding| sounding.offset_m).collect();
    said.retain(|offset_m| *offset_m > 0.0);
    let middle = said.len() / 2;
    let said_m = (!said.is_empty()).then(|| *said.select_nth_unstable_by(middle, f64::total_cmp).1);
    let (below, depth_m) = match reference {
        DepthReference::Transducer => ("transducer", stated_m),
        DepthReference::Keel => ("keel", settings.keel_depth_m),
        DepthReference::Surface => ("surface", Some(0.0)),
    };
    trip.transducer_depth = match reference {
        DepthReference::Transducer => stated_m.map(|depth_m| TransducerDepth { depth_m, is_stated: true }),
        DepthReference::Surface => said_m.map(|depth_m| TransducerDepth { depth_m, is_stated: false }),
        DepthReference::Keel => None,
    };
    if depth_m.is_none() {
        trip.remarks.push(format!(
            "The water depth counts from the {below}, whose own depth is not known: the water is a little deeper."
        ));
    }
    if let Some((stated_m, said_m)) = stated_m.zip(said_m).filter(|(a, b)| (a - b).abs() > SAME_TRANSDUCER_M)
    {
        trip.remarks.push(format!(
            "The boat file has the transducer {stated_m:.2} m below the surface, the sounder {said_m:.2} m: the boat \
             file's is used."
        ));
    }
    let add_m = depth_m.unwrap_or(0.0);
    let depths = chosen.samples.series(|sounding| sounding.depth_m + add_m);
    let relative = |depth_m: f64| (depth_m.max(0.0) + DEPTH_FLOOR_M).ln();
    let depths = Stream::judged(trip, "water_depth", depths, &settings.water_depth, relative);
    (trip.track.water_depth_m, trip.track.water_depth_qc) = depths.means(windows);
}
