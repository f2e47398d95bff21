//! How deep is the water, counted from its surface?
//!
//! Sounders count from the transducer, the surface or the keel, and some say how deep they sit. What the captain
//! states comes before what somebody once set in the sounder.

use std::ops::Range;

use waterseam_logs::DepthReference;

use crate::readings::Sounding;
use crate::settings::Settings;
use crate::steady::Reading;
use crate::stream::{Stream, chosen};
use crate::track::{TransducerDepth, Trip};

/// Added to a depth before its logarithm is taken, m: tenths at the berth are no jumps.
const DEPTH_FLOOR_M: f64 = 5.0;
/// Two depths of the transducer that differ by less are one, m: sounders write tenths, captains measure in inches.
const SAME_TRANSDUCER_M: f64 = 0.06;

/// The depth of the water in the rows.
pub(crate) fn depth(
    trip: &mut Trip,
    windows: &[Range<i64>],
    soundings: &[Reading<Sounding>],
    logs: &[String],
    settings: &Settings,
) {
    let stated_m = settings.transducer_depth_m;
    let from_transducer = |mut reading: Reading<Sounding>| {
        if let Some(offset_m) = reading.value.offset_m {
            reading.value.depth_m -= offset_m;
            reading.value.reference = DepthReference::Transducer;
        }
        reading
    };
    let (best, order): (Vec<_>, _) = match stated_m {
        Some(_) => (
            soundings.iter().copied().map(from_transducer).collect(),
            [DepthReference::Transducer, DepthReference::Surface, DepthReference::Keel],
        ),
        None => {
            (soundings.to_vec(), [DepthReference::Surface, DepthReference::Transducer, DepthReference::Keel])
        }
    };
    let rank = |reading: Reading<Sounding>| Reading {
        rank: order.iter().position(|&other| other == reading.value.reference).map_or(u8::MAX, |at| at as u8),
        ..reading
    };
    let ranked: Vec<Reading<Sounding>> = best.into_iter().map(rank).collect();
    let chosen = chosen(trip, "water depth", &ranked, logs);
    let reference = chosen.rank.and_then(|rank| order.get(usize::from(rank)).copied());
    let reference = reference.unwrap_or(DepthReference::Surface);
    let mut said: Vec<f64> = chosen.readings.iter().filter_map(|(_, sounding)| sounding.offset_m).collect();
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
    let depths = chosen.readings.into_iter().map(|(time_us, sounding)| (time_us, sounding.depth_m + add_m));
    let relative = |depth_m: f64| (depth_m.max(0.0) + DEPTH_FLOOR_M).ln();
    let depths = Stream::judged(trip, "water_depth", depths.collect(), &settings.water_depth, relative);
    (trip.track.water_depth_m, trip.track.water_depth_qc) = depths.means(windows);
}
