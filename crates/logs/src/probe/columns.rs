//! Which column holds what?

use waterseam_units::convert::Unit;

use crate::table::heading::Heading;
use crate::table::moment::Zone;
use crate::table::vocabulary::{Sample, sample};

/// A column with the unit that its heading names.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Column {
    /// Place in the row, from 0.
    pub at: usize,
    /// Unit; `None` where the heading names none.
    pub unit: Option<Unit>,
}

/// The columns that are read. Of several with the same content the first one is taken; a time in UTC before
/// another, a depth before a pressure, one with a unit before one without.
#[derive(Clone, Debug, Default)]
pub(super) struct Columns {
    pub time: Option<usize>,
    pub date: Option<usize>,
    /// Column of the time since the start, and the seconds in its unit.
    pub elapsed: Option<(usize, f64)>,
    pub lat: Option<usize>,
    pub lon: Option<usize>,
    /// Depth or pressure of the probe.
    pub depth: Option<Column>,
    pub temp: Option<Column>,
    pub surface_temp: Option<Column>,
    pub speed: Option<Column>,
    pub ground_speed: Option<Column>,
    pub course: Option<usize>,
    pub water_depth: Option<Column>,
    /// Zone that the heading of the time names.
    pub zone: Zone,
}

impl Columns {
    /// The columns of a table with these headings.
    pub fn of(headings: &[Heading]) -> Self {
        let all = |content: Sample| {
            headings.iter().enumerate().filter(move |(_, heading)| sample(heading) == Some(content))
        };
        let first = |content| all(content).map(|(at, _)| at).next();
        let measured = |content| {
            let column = |(at, heading): (usize, &Heading)| Column { at, unit: heading.unit };
            all(content)
                .find(|(_, heading)| heading.unit.is_some())
                .or_else(|| all(content).next())
                .map(column)
        };
        let time = all(Sample::Time)
            .min_by_key(|(_, heading)| (heading.zone == Zone::Unsaid, heading.has(&["local"])))
            .map(|(at, _)| at);
        let date = first(Sample::Date);
        let zone =
            [time, date].into_iter().flatten().map(|at| headings[at].zone).find(|zone| *zone != Zone::Unsaid);
        let elapsed = all(Sample::Elapsed).next().map(|(at, heading)| (at, seconds_in(heading)));
        Self {
            time,
            date,
            elapsed,
            lat: first(Sample::Lat),
            lon: first(Sample::Lon),
            depth: measured(Sample::Depth).or_else(|| measured(Sample::Pressure)),
            temp: measured(Sample::Temp),
            surface_temp: measured(Sample::SurfaceTemp),
            speed: measured(Sample::Speed),
            ground_speed: measured(Sample::GroundSpeed),
            course: first(Sample::Course),
            water_depth: measured(Sample::WaterDepth),
            zone: zone.unwrap_or_default(),
        }
    }

    /// The columns with a measured value, each with the unit in which it is read.
    pub fn measured(&self) -> impl Iterator<Item = Column> {
        [self.depth, self.temp, self.surface_temp, self.speed, self.ground_speed, self.water_depth]
            .into_iter()
            .flatten()
    }

    pub fn has_position(&self) -> bool {
        self.lat.is_some() && self.lon.is_some()
    }

    pub fn has_temp(&self) -> bool {
        self.temp.is_some() || self.surface_temp.is_some()
    }

    /// Whether a row says when it was written.
    pub fn has_time(&self) -> bool {
        self.time.is_some() || self.date.is_some() || self.elapsed.is_some()
    }

    /// Columns with numbers that may have decimal commas.
    pub fn numbers(&self) -> impl Iterator<Item = usize> {
        let measured =
            [self.depth, self.temp, self.surface_temp, self.speed, self.ground_speed, self.water_depth];
        let plain = [self.lat, self.lon, self.course, self.elapsed.map(|(at, _)| at)];
        measured.into_iter().flatten().map(|column| column.at).chain(plain.into_iter().flatten())
    }
}

fn seconds_in(heading: &Heading) -> f64 {
    if heading.has(&["ms", "milliseconds"]) {
        0.001
    } else if heading.has(&["min", "mins", "minutes"]) {
        60.0
    } else if heading.has(&["h", "hours"]) {
        3600.0
    } else {
        1.0
    }
}
