//! How fast did the lures go through the water at the depth of the probe, and what does the water do there?

use waterseam_currents::{AtProbe, Known, Look, LureSettings, Velocity, Window, at_probe};
use waterseam_tables::lure_speeds;
use waterseam_track::{Activity, Track};
use waterseam_units::angle::turn_deg;

use crate::currents::{Found, median};
use crate::place;

/// Course, speed and the probe's depth must be what they were so long ago, s: the probe trails the boat by the length of
/// its cable and comes round after her.
const SETTLED_S: f64 = 30.0;
/// … to this, degrees,
const SAME_COURSE_DEG: f64 = 20.0;
/// … this, m/s,
const SAME_SPEED_MPS: f64 = 0.3;
/// … and this, m: a probe on its way up or down shows that too.
const SAME_DEPTH_M: f64 = 0.8;
/// A look takes so long, s, and so much of it must be there.
const LOOK_S: f64 = 60.0;
const LEAST_OF_A_LOOK: usize = 15;
/// Depths of the probe within so much of each other are one, m.
const DEPTH_BIN_M: f64 = 5.0;
/// A window's probe readings are those of looks within this time of its middle, s.
const OF_WINDOW_S: f64 = 150.0;
/// Courses that speeds are given for.
const COURSES: usize = 8;

/// A look with its time, depth and what the speed log showed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DeepLook {
    /// Middle, seconds since the track's first row.
    pub time_s: f64,
    /// Mean depth of the probe, m.
    pub depth_m: f64,
    /// Motion and the probe's speed.
    pub look: Look,
    /// What the speed log showed, m/s.
    pub log_mps: Option<f64>,
}

/// The water at one depth of the probe.
#[derive(Clone, Debug, PartialEq)]
pub struct Deep {
    /// Looks, in order of time.
    pub looks: Vec<DeepLook>,
    /// What they say together.
    pub water: AtProbe,
    /// The current at the surface then, with the standard error of its components, m/s.
    pub surface: Option<(Velocity, f64)>,
}

/// What a probe showed in a window of the current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InWindow {
    /// Speed that the probe showed, m/s.
    pub probe_mps: f64,
    /// Its depth, m.
    pub depth_m: f64,
    /// Speed there minus speed at the hull, m/s.
    pub minus_log: Option<Known>,
}

/// The depths at which the probe was long enough, shallowest first. Empty where it logged no speed.
pub fn find(track: &Track, found: &Found) -> Vec<Deep> {
    let looks = looks(track);
    let bin = |look: &DeepLook| (look.depth_m / DEPTH_BIN_M).floor() as i64;
    let mut bins: Vec<i64> = looks.iter().map(bin).collect();
    bins.sort_unstable();
    bins.dedup();
    bins.into_iter()
        .filter_map(|depth| {
            let looks: Vec<DeepLook> = looks.iter().copied().filter(|look| bin(look) == depth).collect();
            let surface = surface(&looks, &found.currents.windows);
            let seen: Vec<Look> = looks.iter().map(|look| look.look).collect();
            let water = at_probe(&seen, surface, &LureSettings::default())?;
            Some(Deep { looks, water, surface })
        })
        .collect()
}

/// The mean current at the surface over the looks, each with the window that is nearest in time.
fn surface(looks: &[DeepLook], windows: &[Window]) -> Option<(Velocity, f64)> {
    let near = looks.iter().filter_map(|look| {
        windows
            .iter()
            .min_by(|a, b| (a.time_s - look.time_s).abs().total_cmp(&(b.time_s - look.time_s).abs()))
    });
    let near: Vec<Window> = near.copied().collect();
    crate::currents::mean(&near)
}

/// Minutes of steady motion with the probe at one depth.
fn looks(track: &Track) -> Vec<DeepLook> {
    let time_s = place::seconds(track);
    let row = |row: usize| Row::of(track, row, time_s[row]);
    let rows: Vec<Row> = (0..track.len()).filter_map(row).collect();
    let mut before = 0;
    let settled = |index: usize| {
        while rows[index].time_s - rows[before].time_s > SETTLED_S {
            before += 1;
        }
        let (then, now) = (&rows[before], &rows[index]);
        (now.time_s - then.time_s > 0.5 * SETTLED_S && now.is_as(then)).then_some(*now)
    };
    let settled: Vec<Row> = (0..rows.len()).filter_map(settled).collect();
    let piece = |row: &Row| (row.time_s / LOOK_S).floor();
    settled
        .chunk_by(|a, b| piece(a) == piece(b) && b.is_as(a))
        .filter(|rows| rows.len() >= LEAST_OF_A_LOOK)
        .map(look)
        .collect()
}

#[derive(Clone, Copy)]
struct Row {
    time_s: f64,
    ground: Velocity,
    course_deg: f64,
    depth_m: f64,
    probe_mps: f64,
    log_mps: Option<f64>,
}

impl Row {
    fn of(track: &Track, row: usize, time_s: f64) -> Option<Self> {
        // a probe that shows nothing hangs still or is stuck
        let probe_mps = track.probe_speed_mps[row].filter(|&mps| mps > 0.0)?;
        let depth_m = track.probe_depth_m[row]?;
        let (sog_mps, course_deg) = (track.sog_mps[row]?, track.cog_deg[row]?);
        let is_good = track.activity[row] == Activity::Troll && track.sog_qc[row].is_usable();
        is_good.then(|| Self {
            time_s,
            ground: Velocity::toward(sog_mps, course_deg),
            course_deg,
            depth_m,
            probe_mps,
            log_mps: track.stw_mps[row].filter(|_| track.stw_qc[row].is_usable()),
        })
    }

    fn is_as(&self, other: &Self) -> bool {
        turn_deg(other.course_deg, self.course_deg).abs() <= SAME_COURSE_DEG
            && (self.ground.speed_mps() - other.ground.speed_mps()).abs() <= SAME_SPEED_MPS
            && (self.depth_m - other.depth_m).abs() <= SAME_DEPTH_M
    }
}

fn look(rows: &[Row]) -> DeepLook {
    let part = (rows.len() as f64).recip();
    let mean = |value: fn(&Row) -> f64| rows.iter().map(value).sum::<f64>() * part;
    let logged: Vec<f64> = rows.iter().filter_map(|row| row.log_mps).collect();
    DeepLook {
        time_s: mean(|row| row.time_s),
        depth_m: mean(|row| row.depth_m),
        look: Look {
            ground: rows.iter().map(|row| row.ground).sum::<Velocity>() * part,
            probe_mps: mean(|row| row.probe_mps),
        },
        log_mps: (2 * logged.len() > rows.len()).then(|| logged.iter().sum::<f64>() / logged.len() as f64),
    }
}

/// Mean and its standard error.
fn mean_and_error(values: &[f64]) -> Option<Known> {
    let n = values.len() as f64;
    if values.len() < 2 {
        return None;
    }
    let value = values.iter().sum::<f64>() / n;
    let square: f64 = values.iter().map(|v| (v - value).powi(2)).sum();
    Some(Known { value, se: (square / (n - 1.0) / n).sqrt() })
}

/// What the probe showed in a window whose middle is at `time_s`.
pub fn in_window(deep: &[Deep], found: &Found, time_s: f64) -> Option<InWindow> {
    let of = |deep: &Deep| -> Vec<DeepLook> {
        deep.looks.iter().copied().filter(|look| (look.time_s - time_s).abs() <= OF_WINDOW_S).collect()
    };
    let (deep, looks) = deep.iter().map(|deep| (deep, of(deep))).max_by_key(|(_, looks)| looks.len())?;
    let part = (looks.len() as f64).recip();
    let mean = |value: fn(&DeepLook) -> f64| looks.iter().map(value).sum::<f64>() * part;
    let scale = deep.water.probe_scale;
    let calibration = found.tried.first().and_then(|log| log.calibration.as_ref());
    let minus = |look: &DeepLook| {
        let log = look.log_mps?;
        let hull =
            calibration.map_or(Known { value: log, se: 0.0 }, |calibration| calibration.speed_mps(log));
        Some((
            scale.value * look.look.probe_mps - hull.value,
            (scale.se * look.look.probe_mps).hypot(hull.se),
        ))
    };
    let differences: Vec<(f64, f64)> = looks.iter().filter_map(minus).collect();
    let scatter = mean_and_error(&differences.iter().map(|d| d.0).collect::<Vec<_>>());
    let systematic = differences.iter().map(|d| d.1).fold(0.0, f64::max);
    (!looks.is_empty()).then(|| InWindow {
        probe_mps: mean(|look| look.look.probe_mps),
        depth_m: mean(|look| look.depth_m),
        minus_log: scatter.map(|mean| Known { value: mean.value, se: mean.se.hypot(systematic) }),
    })
}

/// Speeds over ground for the speed that was run, on eight courses at each depth.
pub fn rows(trip_id: &str, deep: &[Deep]) -> Vec<lure_speeds::Row> {
    deep.iter().flat_map(|deep| (0..COURSES).filter_map(|course| row(trip_id, deep, course))).collect()
}

fn row(trip_id: &str, deep: &Deep, course: usize) -> Option<lure_speeds::Row> {
    let course_deg = 360.0 * course as f64 / COURSES as f64;
    let Deep { looks, water, surface } = deep;
    let probe_mps = median(looks.iter().map(|look| look.look.probe_mps))?;
    let sog = water.sog_mps(course_deg, probe_mps);
    let shear = surface.map(|(surface, _)| water.current - surface);
    let minus_log: Vec<f64> =
        looks.iter().filter_map(|look| Some(look.look.probe_mps - look.log_mps?)).collect();
    let minus_log = mean_and_error(&minus_log);
    let (east_se_mps, north_se_mps) = water.current_se_mps();
    Some(lure_speeds::Row {
        trip_id: trip_id.to_owned(),
        depth_m: looks.iter().map(|look| look.depth_m).sum::<f64>() / looks.len() as f64,
        looks: looks.len() as i64,
        course_deg,
        probe_mps,
        lure_speed_mps: water.probe_scale.value * probe_mps,
        sog_mps: sog.map(|sog| sog.value),
        sog_se_mps: sog.map(|sog| sog.se),
        probe_scale: water.probe_scale.value,
        probe_scale_se: water.probe_scale.se,
        east_mps: water.current.east_mps,
        north_mps: water.current.north_mps,
        east_se_mps,
        north_se_mps,
        shear_east_mps: shear.map(|shear| shear.east_mps),
        shear_north_mps: shear.map(|shear| shear.north_mps),
        probe_minus_log_mps: minus_log.map(|minus| minus.value),
        probe_minus_log_se_mps: minus_log.map(|minus| minus.se),
    })
}
