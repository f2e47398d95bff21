//! When was which rod's line in the water, and how deep did it run?

use waterseam_logs::boat::SpreadRod;
use waterseam_logs::{GearEntry, NoteTime};

use crate::setup::{Setup, Tow};
use crate::spell::Spell;
use crate::tackle::Tackle;

/// A trip as the gear log is laid over it.
#[derive(Clone, Copy)]
pub struct TripContext<'a> {
    /// Start of the trip, µs since 1970 UTC.
    pub start_us: i64,
    /// End of the trip, µs since 1970 UTC.
    pub end_us: i64,
    /// The instant behind a time of the log; `None` where it has none in this trip.
    pub resolve: &'a dyn Fn(NoteTime) -> Option<i64>,
    /// How the lines were towed between two instants.
    pub tow: &'a dyn Fn(i64, i64) -> Tow<'static>,
    /// What is known of the tackle.
    pub tackle: &'a Tackle,
}

/// What a gear log says about a trip.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GearSpells {
    /// Spells in order of their start, then of the rod. No two of one rod overlap.
    pub spells: Vec<Spell>,
    /// Rows that gave no spell of this trip and ended none, in the order of the log.
    pub unused: Vec<UnusedRow>,
}

/// A row of the gear log that this trip has no use for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UnusedRow {
    /// Index of the row.
    pub entry: usize,
    /// Why.
    pub reason: UnusedReason,
}

/// Why a row of the gear log gave nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum UnusedReason {
    /// Its time has no instant in this trip.
    NoTime,
    /// The line came out before it went in.
    OutBeforeIn,
    /// Wholly before the trip's start or after its end.
    OutsideTrip,
    /// The line came in, and no row says that it had gone out.
    NeverWentOut,
    /// Another row of the rod begins at the same instant and stands instead.
    Replaced,
}

impl UnusedReason {
    /// The reason in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::NoTime => "the time does not fall in the trip",
            Self::OutBeforeIn => "the line came out of the water before it went in",
            Self::OutsideTrip => "the line was out before or after the trip, not in it",
            Self::NeverWentOut => "the line came in, and no row says when it went out",
            Self::Replaced => "a later row of the same rod begins at the same time",
        }
    }
}

/// Before the trip's start, a line that nobody logged in again is taken for this trip's only if it went out
/// within this time: the plotter may come on late, yesterday's forgotten line must not fish today (common
/// practice, no source).
const EARLY_US: i64 = 3_600_000_000;

/// Spells of one trip from its gear log.
///
/// Rows with both times are a spell; a row `out` is one until the rod's next `in`. Where nobody logged the
/// line in again it ends when the rod goes out next, or with the trip. Spells of one rod that overlap are
/// cut where the later begins. Spells are clipped to the trip. Rod names are compared without case and
/// outer blanks. The running depth is that of [`Tackle::depth`] with the tow over the clipped spell.
pub fn spells(gear: &[GearEntry], trip: &TripContext) -> GearSpells {
    let mut result = GearSpells::default();
    let mut rods: Vec<(String, Vec<Event>)> = Vec::new();
    for (index, entry) in gear.iter().enumerate() {
        let name = rod_key(&entry.rod);
        match events_of(index, entry, trip) {
            Ok(events) => match rods.iter_mut().find(|(rod, _)| *rod == name) {
                Some((_, list)) => list.extend(events),
                None => rods.push((name, events)),
            },
            Err(reason) => result.unused.push(UnusedRow { entry: index, reason }),
        }
    }
    for (_, mut events) in rods {
        // at one instant a line comes in before it goes out again; the sort keeps the order of the log
        // otherwise
        events.sort_by_key(|event| (event.time_us, !event.is_in));
        let (stretches, unused) = pair(&events, trip);
        result.unused.extend(unused);
        result.spells.extend(stretches.iter().map(|s| spell(&gear[s.entry], s, trip)));
    }
    result.unused.sort_by_key(|row| row.entry);
    result.unused.dedup_by_key(|row| row.entry);
    result.spells.sort_by(|a, b| (a.start_us, &a.rod).cmp(&(b.start_us, &b.rod)));
    result
}

/// Spells of the usual spread: every rod is out through every trolling stretch (start and end, µs since
/// 1970 UTC).
///
/// In order of the stretches, then of the spread.
pub fn assumed_spells(
    spread: &[SpreadRod],
    trolling: &[(i64, i64)],
    tow: &dyn Fn(i64, i64) -> Tow<'static>,
    tackle: &Tackle,
) -> Vec<Spell> {
    let stretches = trolling.iter().filter(|(start, end)| start < end);
    stretches
        .flat_map(|&(start_us, end_us)| {
            let towed = tow(start_us, end_us);
            spread.iter().map(move |rod| {
                let depth = tackle.running_depth(&Setup::from(rod), &towed);
                Spell {
                    rod: rod.rod.clone(),
                    start_us,
                    end_us,
                    method: Some(rod.method),
                    line_out_m: rod.line_out_m,
                    weight_kg: rod.weight_kg,
                    lure: rod.lure.clone(),
                    running_depth_m: depth.map(|d| d.depth_m),
                    running_depth_se_m: depth.map(|d| d.depth_se_m),
                    depth_source: depth.map(|d| d.source),
                    assumed: true,
                }
            })
        })
        .collect()
}

/// The name of a rod as it is compared: lower case, no outer blanks.
pub fn rod_key(rod: &str) -> String {
    rod.trim().to_lowercase()
}

/// The line of a rod goes out or comes in.
#[derive(Clone, Copy)]
struct Event {
    time_us: i64,
    entry: usize,
    /// Comes in.
    is_in: bool,
    /// The row says both times, so an `in` ends its own spell and no other.
    both: bool,
}

/// A line in the water from one instant to another, by the row that put it out.
struct Stretch {
    entry: usize,
    start_us: i64,
    end_us: i64,
}

fn events_of(index: usize, entry: &GearEntry, trip: &TripContext) -> Result<Vec<Event>, UnusedReason> {
    let instant = |time: Option<NoteTime>| match time {
        Some(time) => (trip.resolve)(time).map(Some).ok_or(UnusedReason::NoTime),
        None => Ok(None),
    };
    let (start, end) = (instant(entry.start), instant(entry.end));
    let event = |time_us, is_in, both| Event { time_us, entry: index, is_in, both };
    match (start?, end) {
        // an unreadable `in` beside a good `out` is a forgotten one
        (Some(start), Ok(None) | Err(_)) => Ok(vec![event(start, false, false)]),
        (Some(start), Ok(Some(end))) if start < end => {
            Ok(vec![event(start, false, true), event(end, true, true)])
        }
        (Some(_), Ok(Some(_))) => Err(UnusedReason::OutBeforeIn),
        (None, Ok(Some(end))) => Ok(vec![event(end, true, false)]),
        (None, _) => Err(UnusedReason::NoTime),
    }
}

/// Stretches of one rod from its events in order of time.
fn pair(events: &[Event], trip: &TripContext) -> (Vec<Stretch>, Vec<UnusedRow>) {
    let (mut stretches, mut unused) = (Vec::new(), Vec::new());
    let mut open: Option<Event> = None;
    let mut close = |out: Event, end_us: i64, forgotten: bool| {
        let early = forgotten && out.time_us < trip.start_us - EARLY_US;
        let (start_us, clipped_end_us) = (out.time_us.max(trip.start_us), end_us.min(trip.end_us));
        let reason = if out.time_us == end_us { UnusedReason::Replaced } else { UnusedReason::OutsideTrip };
        if early || clipped_end_us <= start_us {
            unused.push(UnusedRow { entry: out.entry, reason });
        } else {
            stretches.push(Stretch { entry: out.entry, start_us, end_us: clipped_end_us });
        }
    };
    let mut lone_ins = Vec::new();
    for &event in events {
        match (event.is_in, open) {
            (false, previous) => {
                if let Some(out) = previous {
                    close(out, event.time_us, !out.both);
                }
                open = Some(event);
            }
            (true, Some(out)) if !event.both || out.entry == event.entry => {
                close(out, event.time_us, false);
                open = None;
            }
            // the end of a spell that a later one has already cut
            (true, _) if event.both => {}
            (true, _) => lone_ins.push(event.entry),
        }
    }
    if let Some(out) = open {
        close(out, trip.end_us.max(out.time_us), true);
    }
    unused.extend(lone_ins.into_iter().map(|entry| UnusedRow { entry, reason: UnusedReason::NeverWentOut }));
    (stretches, unused)
}

fn spell(entry: &GearEntry, stretch: &Stretch, trip: &TripContext) -> Spell {
    let tow = (trip.tow)(stretch.start_us, stretch.end_us);
    let depth = trip.tackle.running_depth(&Setup::from(entry), &tow);
    Spell {
        rod: entry.rod.trim().to_owned(),
        start_us: stretch.start_us,
        end_us: stretch.end_us,
        method: entry.method,
        line_out_m: entry.line_out_m,
        weight_kg: entry.weight_kg,
        lure: entry.lure.clone(),
        running_depth_m: depth.map(|d| d.depth_m),
        running_depth_se_m: depth.map(|d| d.depth_se_m),
        depth_source: depth.map(|d| d.source),
        assumed: false,
    }
}

#[cfg(test)]
#[path = "gear_tests.rs"]
mod tests;
