//! How is this file to be read, given all that it and the boat file say?

use jiff::civil::Date;
use waterseam_units::convert::Unit;
use waterseam_units::{LatLon, UnitSystem};

use super::columns::{Column, Columns};
use super::preamble;
use crate::boat::BoatFile;
use crate::quantity::Dimension;
use crate::stamp;
use crate::table::layout::Layout;
use crate::table::moment::DateOrder;
use crate::table::number::{CommaEvidence, Commas, number};
use crate::table::when::{Clock, When, see_date, utc_day};

/// Below this no water is liquid in °F (27 °F is -2.8 °C; sea water of salinity 35 freezes at -1.9 °C).
const COLD_FOR_F: f64 = 27.0;
/// Above this no lake or sea is in °C.
const HOT_FOR_C: f64 = 45.0;
/// Readings above or below the surface that are told apart by their sign, in whatever unit the depth has.
const CLEARLY_OFF_THE_SURFACE: f64 = 2.0;

/// What the whole file says.
#[derive(Clone, Debug, Default)]
pub(crate) struct Survey {
    pub(super) order: DateOrder,
    commas: CommaEvidence,
    temp: TempEvidence,
    surface_temp: TempEvidence,
    depths_positive: u64,
    depths_negative: u64,
}

#[derive(Clone, Copy, Debug, Default)]
struct TempEvidence {
    too_cold_for_f: u64,
    too_hot_for_c: u64,
}

impl TempEvidence {
    fn see(&mut self, cell: &str) {
        if let Some(value) = number_of(cell) {
            self.too_cold_for_f += u64::from(value < COLD_FOR_F);
            self.too_hot_for_c += u64::from(value > HOT_FOR_C);
        }
    }

    /// The unit that fits more of the values; `None` where they all fit both.
    fn unit(self) -> Option<Unit> {
        match self.too_cold_for_f.cmp(&self.too_hot_for_c) {
            std::cmp::Ordering::Greater => Some(Unit::Celsius),
            std::cmp::Ordering::Less => Some(Unit::Fahrenheit),
            std::cmp::Ordering::Equal => None,
        }
    }
}

/// A number before it is known what its comma is. Good enough to tell 8 from 46.
fn number_of(cell: &str) -> Option<f64> {
    number(cell, Commas::Thousands).or_else(|| number(cell, Commas::Decimals))
}

impl Survey {
    pub(super) fn new(layout: &Layout) -> Self {
        let mut survey = Self::default();
        preamble::see_dates(layout, &mut survey.order);
        survey
    }

    /// Takes a row into account.
    pub(super) fn see<'f>(&mut self, columns: &Columns, get: impl Fn(usize) -> &'f str) {
        for at in [columns.time, columns.date].into_iter().flatten() {
            see_date(&mut self.order, get(at));
        }
        columns.numbers().for_each(|at| self.commas.see(get(at)));
        if let Some(column) = columns.temp {
            self.temp.see(get(column.at));
        }
        if let Some(column) = columns.surface_temp {
            self.surface_temp.see(get(column.at));
        }
        if let Some(depth) = columns.depth.and_then(|column| number_of(get(column.at))) {
            self.depths_positive += u64::from(depth > CLEARLY_OFF_THE_SURFACE);
            self.depths_negative += u64::from(depth < -CLEARLY_OFF_THE_SURFACE);
        }
    }
}

/// How the rows are to be read.
#[derive(Clone, Debug)]
pub(super) struct Settled {
    /// The columns; every measured one has a unit.
    pub columns: Columns,
    pub commas: Commas,
    pub clock: Clock,
    /// Start of the log by its preamble: time, what was added to the clock, how that was known.
    pub start: Option<(i64, i64, &'static str)>,
    /// Day of clock times without a date.
    pub first_day: Option<Date>,
    /// Depths are written as heights, negative down.
    pub depth_negative_down: bool,
    /// Positions of the start and the end of a cast, where no row has one.
    pub cast_positions: (Option<LatLon>, Option<LatLon>),
    /// A plain temperature is that of the surface.
    pub temp_is_surface: bool,
    /// Why no row of this table can be used.
    pub unusable: Option<&'static str>,
    pub salinity_psu: f64,
    pub remarks: Vec<String>,
}

impl Settled {
    pub fn new(columns: Columns, layout: &Layout, survey: &Survey, boat: &BoatFile, file_name: &str) -> Self {
        let clock = Clock::new(columns.zone, survey.order, boat);
        let start = preamble::start(layout, &clock);
        let first_day = preamble::day(layout, &clock).or_else(|| start_day(start.map(|(when, _)| when)));
        let mut settled = Self {
            commas: survey.commas.settle(),
            start: start.and_then(|(when, _)| match when {
                When::Instant { time_us, added_us, method } => Some((time_us, added_us, method)),
                When::Clock(_) => None,
            }),
            first_day: first_day.or_else(|| stamp::date_in(file_name).and_then(utc_day)),
            depth_negative_down: survey.depths_negative > survey.depths_positive,
            cast_positions: if columns.has_position() { (None, None) } else { preamble::positions(layout) },
            temp_is_surface: columns.depth.is_none(),
            unusable: None,
            salinity_psu: boat.salinity_psu,
            remarks: Vec::new(),
            clock,
            columns,
        };
        settled.settle_units(layout, survey, boat.units);
        settled.settle_usability(layout, start.map(|(_, key)| key));
        settled
    }

    /// Gives every measured column a unit, and says what was not stated.
    fn settle_units(&mut self, layout: &Layout, survey: &Survey, units: UnitSystem) {
        let columns = &mut self.columns;
        let mut remarks = Vec::new();
        let name = |column: &Column| layout.headings[column.at].text.as_str();
        for (column, evidence) in
            [(&mut columns.temp, survey.temp), (&mut columns.surface_temp, survey.surface_temp)]
        {
            let Some(column) = column.as_mut().filter(|column| column.unit.is_none()) else { continue };
            let (unit, why) = match evidence.unit() {
                Some(unit) => (unit, "only that fits its values"),
                None => (Dimension::Temperature.usual_unit(units), "the unit of the boat file"),
            };
            column.unit = Some(unit);
            let degrees = if unit == Unit::Celsius { "°C" } else { "°F" };
            remarks.push(format!(
                "Column `{}` names no unit: numbers alone are read in {degrees}, {why}.",
                name(column)
            ));
        }
        for (column, dimension) in [
            (&mut columns.depth, Dimension::Depth),
            (&mut columns.water_depth, Dimension::Depth),
            (&mut columns.speed, Dimension::Speed),
            (&mut columns.ground_speed, Dimension::Speed),
        ] {
            let Some(column) = column.as_mut() else { continue };
            let admitted = column.unit.filter(|unit| dimension.admits(*unit) || *unit == Unit::Decibar);
            if admitted.is_none() {
                let unit = dimension.usual_unit(units);
                column.unit = Some(unit);
                remarks.push(format!(
                    "Column `{}` names no unit: numbers alone are read in {}, the unit of the boat file.",
                    name(column),
                    unit_name(unit)
                ));
            }
        }
        if columns.depth.is_some_and(|column| column.unit == Some(Unit::Decibar)) {
            let water = match self.salinity_psu {
                0.0 => "fresh water".to_owned(),
                salinity => format!("water of salinity {salinity}"),
            };
            remarks.push(format!("Depth is worked out from the pressure, for {water} (boat file)."));
        }
        let from_boat = columns.ground_speed.is_some() || columns.course.is_some();
        if let Some(column) = columns.depth.filter(|column| from_boat && column.unit != Some(Unit::Decibar)) {
            remarks.push(format!(
                "Column `{0}` was read as the depth of the probe. If it is the depth of the water under the boat, write \
                 in the boat file [columns] \"{0}\" = \"water_depth_ft\" or \"water_depth_m\".",
                name(&column)
            ));
        }
        if self.depth_negative_down {
            remarks.push("Depths are written negative: read as metres or feet down.".to_owned());
        }
        self.remarks.extend(remarks);
    }

    /// Finds out whether rows can be used at all, and says what is missing.
    fn settle_usability(&mut self, layout: &Layout, start_key: Option<&str>) {
        let columns = &self.columns;
        let headings = || format!("Its headings: {}.", layout.heading_list());
        let (reason, remark) = if !columns.has_temp()
            && !columns.has_position()
            && columns.water_depth.is_none()
        {
            let say = "No column was recognised as a temperature. If one is, name it in the boat file: [columns] \
                       \"its heading\" = \"temp_c\" or \"temp_f\".";
            ("no_temperature_column", format!("{say} {}", headings()))
        } else if columns.depth.is_none()
            && columns.surface_temp.is_none()
            && !columns.has_position()
            && columns.water_depth.is_none()
        {
            let say = "There is a temperature, but no column was recognised as a depth. Name it in the boat file: \
                       [columns] \"its heading\" = \"depth_ft\" or \"depth_m\"; if this is the temperature of the \
                       surface, name that column \"surface_temp_c\" or \"surface_temp_f\".";
            ("no_depth_column", format!("{say} {}", headings()))
        } else if !columns.has_time() && self.start.is_none() {
            let say = "No column was recognised as a time, and no line before the headings says when it starts. Name \
                       it in the boat file: [columns] \"its heading\" = \"time\".";
            ("no_time_column", format!("{say} {}", headings()))
        } else {
            if !columns.has_temp() {
                let say = "No column was recognised as a temperature: positions and depths alone are used.";
                self.remarks.push(format!("{say} {}", headings()));
            }
            if columns.time.is_none()
                && columns.date.is_none()
                && let Some(key) = start_key
            {
                self.remarks.push(if columns.elapsed.is_some() {
                    format!("Times count from `{key}` of the lines before the headings.")
                } else {
                    format!(
                        "Rows have no time of their own: they are put one second apart from `{key}`, so depths and \
                         temperatures hold, but not the time of a single row."
                    )
                });
            }
            return;
        };
        self.unusable = Some(reason);
        self.remarks.push(remark);
    }
}

fn unit_name(unit: Unit) -> &'static str {
    match unit {
        Unit::Foot => "ft",
        Unit::Metre => "m",
        Unit::MilePerHour => "mph",
        Unit::KilometrePerHour => "km/h",
        _ => "kn",
    }
}

/// The day of the file's own clock on which it starts.
fn start_day(start: Option<When>) -> Option<Date> {
    match start? {
        When::Instant { time_us, added_us, .. } => utc_day(time_us - added_us),
        When::Clock(_) => None,
    }
}
