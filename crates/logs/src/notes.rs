//! What do the columns of a hand-written table say: bite notes, gear logs?

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::io::{self, BufRead};

use jiff::civil::Date;
use waterseam_units::{LatLon, UnitSystem};

use crate::boat::BoatFile;
use crate::observation::NoteTime;
use crate::quantity::quantity;
use crate::source::SourceReport;
use crate::stamp;
use crate::table::fields::Fields;
use crate::table::heading::Heading;
use crate::table::layout::Layout;
use crate::table::moment::{Civil, DateOrder, Moment, Zone, compact_clock_us, moment};
use crate::table::number::{CommaEvidence, Commas, degrees, is_missing, number};
use crate::table::rows::{self, Row};
use crate::table::vocabulary::{Note, note};
use crate::table::when::{Clock, ClockUse, Midnights, When, see_date, utc_day};

/// What the whole table says.
#[derive(Clone, Debug, Default)]
pub(crate) struct Survey {
    order: DateOrder,
    commas: CommaEvidence,
    /// Rows in which a line comes out of the water after it went in, by the names of the columns.
    in_before_out: u64,
    /// Rows in which it is the other way round.
    out_before_in: u64,
}

/// Gathers what only the whole file can tell.
///
/// # Errors
/// What the input reports.
pub(crate) fn survey(input: &mut dyn BufRead, layout: &Layout) -> io::Result<Survey> {
    let columns = Columns::of(&layout.headings);
    let mut survey = Survey::default();
    rows::each(input, layout, |_, row| {
        let Row::Values(fields) = row else { return };
        let cell = |column| columns.cell(fields, column);
        for column in [Note::Time, Note::Date, Note::TimeIn, Note::TimeOut] {
            see_date(&mut survey.order, cell(column));
        }
        for column in
            [Note::Depth, Note::LineOut, Note::Weight, Note::Length, Note::Leader, Note::Lat, Note::Lon]
        {
            survey.commas.see(cell(column));
        }
        match order_of(cell(Note::TimeIn), cell(Note::TimeOut)) {
            Some(std::cmp::Ordering::Less) => survey.in_before_out += 1,
            Some(std::cmp::Ordering::Greater) => survey.out_before_in += 1,
            _ => {}
        }
    })?;
    Ok(survey)
}

/// Which of two times on the same day comes first; `None` where that cannot be told.
fn order_of(a: &str, b: &str) -> Option<std::cmp::Ordering> {
    let read = |text: &str| {
        let clock_alone = || {
            compact_clock_us(text).map(|us| Moment::Civil(Civil { clock_us: Some(us), ..Civil::default() }))
        };
        moment(text).or_else(clock_alone)
    };
    match (read(a)?, read(b)?) {
        (Moment::Epoch(a), Moment::Epoch(b)) => Some(a.cmp(&b)),
        (Moment::Civil(a), Moment::Civil(b)) if a.day == b.day => Some(a.clock_us?.cmp(&b.clock_us?)),
        _ => None,
    }
}

/// Which column holds what.
pub(crate) struct Columns {
    places: BTreeMap<Note, usize>,
    headings: Vec<Heading>,
}

impl Columns {
    /// The columns of a table with these headings; of several with the same content the first one.
    pub fn of(headings: &[Heading]) -> Self {
        let mut places = BTreeMap::new();
        for (at, heading) in headings.iter().enumerate() {
            if let Some(content) = note(heading) {
                places.entry(content).or_insert(at);
            }
        }
        Self { places, headings: headings.to_vec() }
    }

    /// Whether there is such a column.
    pub fn has(&self, content: Note) -> bool {
        self.places.contains_key(&content)
    }

    /// The cell of a row, empty where there is none.
    pub fn cell<'f>(&self, fields: Fields<'f>, content: Note) -> &'f str {
        self.places.get(&content).map_or("", |&at| fields.get(at))
    }
}

/// Reads the cells of notes.
pub(crate) struct Reader {
    /// Columns of the table.
    pub columns: Columns,
    clock: Clock,
    commas: Commas,
    units: UnitSystem,
    order: DateOrder,
    file_day: Option<Date>,
    midnights: Midnights,
    clock_use: ClockUse,
    clocks_alone: u64,
    unread: BTreeMap<String, u64>,
    surplus: u64,
}

impl Reader {
    /// A reader of a table of which `survey` was taken.
    pub fn new(layout: &Layout, survey: &Survey, boat: &BoatFile, file_name: &str) -> Self {
        let columns = Columns::of(&layout.headings);
        let zones =
            [Note::Time, Note::TimeIn, Note::Date].into_iter().filter_map(|time| columns.places.get(&time));
        let zone = zones.map(|&at| columns.headings[at].zone).find(|zone| *zone != Zone::Unsaid);
        Self {
            clock: Clock::new(zone.unwrap_or_default(), survey.order, boat),
            commas: survey.commas.settle(),
            units: boat.units,
            order: survey.order,
            file_day: stamp::date_in(file_name).and_then(utc_day),
            midnights: Midnights::default(),
            clock_use: ClockUse::default(),
            clocks_alone: 0,
            unread: BTreeMap::new(),
            surplus: 0,
            columns,
        }
    }

    /// The time in a column, the first one of its row. A clock time alone is on the day of the file's name, if
    /// that has one, or behind the midnights that passed since.
    ///
    /// # Errors
    /// The reason why it cannot be told.
    pub fn time(&mut self, fields: Fields<'_>, content: Note) -> Result<NoteTime, &'static str> {
        self.time_on(fields, content, Midnights::day)
    }

    /// The time of an end, which is not before `start`: a clock time alone is on the same day or the next one.
    ///
    /// # Errors
    /// The reason why it cannot be told.
    pub fn end_time(
        &mut self,
        fields: Fields<'_>,
        content: Note,
        start: Option<NoteTime>,
    ) -> Result<NoteTime, &'static str> {
        let end = self.time_on(fields, content, |midnights, first_day, _| midnights.same_day(first_day))?;
        Ok(match (start, end) {
            (Some(NoteTime::Instant(start_us)), NoteTime::Instant(end_us))
                if end_us < start_us && self.file_day.is_some() =>
            {
                NoteTime::Instant(end_us + stamp::US_PER_DAY)
            }
            _ => end,
        })
    }

    fn time_on(
        &mut self,
        fields: Fields<'_>,
        content: Note,
        day: impl FnOnce(&mut Midnights, Date, i64) -> Option<Date>,
    ) -> Result<NoteTime, &'static str> {
        let cell = |content| self.columns.cell(fields, content);
        let time = cell(content);
        if is_missing(time) && content != Note::Time {
            return Err("no_time");
        }
        match (self.clock.read(time, cell(Note::Date))?, self.file_day) {
            (When::Clock(clock_us), None) => {
                self.clocks_alone += 1;
                Ok(NoteTime::Clock(clock_us))
            }
            (When::Clock(clock_us), Some(first_day)) => {
                let day = day(&mut self.midnights, first_day, clock_us).ok_or("bad_time")?;
                self.settle(self.clock.instant(day, clock_us, Zone::Unsaid).ok_or("bad_time")?)
            }
            (when, _) => self.settle(when),
        }
    }

    fn settle(&mut self, when: When) -> Result<NoteTime, &'static str> {
        let When::Instant { time_us, added_us, method } = when else { return Err("no_date") };
        self.clock_use.see(added_us, method);
        Ok(NoteTime::Instant(time_us))
    }

    /// An amount in SI; `None` where there is none or where it cannot be read, which is counted.
    pub fn amount(&mut self, fields: Fields<'_>, content: Note) -> Option<f64> {
        let dimension = content.dimension()?;
        let cell = self.columns.cell(fields, content);
        if is_missing(cell) {
            return None;
        }
        let heading = &self.columns.headings[*self.columns.places.get(&content)?];
        let unit =
            heading.unit.filter(|unit| dimension.admits(*unit)).unwrap_or(dimension.usual_unit(self.units));
        let amount = match number(cell, self.commas) {
            Some(value) => Some(dimension.to_si(value, unit)),
            None => quantity(cell, dimension, unit),
        };
        self.counted(content, amount.filter(|amount| *amount >= 0.0))
    }

    /// A plain number that is not negative.
    pub fn count(&mut self, fields: Fields<'_>, content: Note) -> Option<f64> {
        let cell = self.columns.cell(fields, content);
        if is_missing(cell) {
            return None;
        }
        self.counted(content, number(cell, self.commas).filter(|value| *value >= 0.0))
    }

    /// The position of a row.
    pub fn position(&mut self, fields: Fields<'_>) -> Option<LatLon> {
        let cells = [Note::Lat, Note::Lon].map(|content| self.columns.cell(fields, content));
        if cells.iter().all(|cell| is_missing(cell)) {
            return None;
        }
        let [lat, lon] = cells.map(|cell| degrees(cell, self.commas));
        self.counted(Note::Lat, lat.zip(lon).and_then(|(lat, lon)| LatLon::new(lat, lon)))
    }

    /// The text of a column, `None` where there is none.
    pub fn text(&self, fields: Fields<'_>, content: Note) -> Option<String> {
        let cell = self.columns.cell(fields, content);
        (!is_missing(cell)).then(|| cell.to_owned())
    }

    /// The free text of a row. In a last column it goes on over delimiters that nobody quoted.
    pub fn free_text(&mut self, fields: Fields<'_>) -> Option<String> {
        let n_headings = self.columns.headings.len();
        let surplus: Vec<&str> = fields.iter().skip(n_headings).filter(|field| !field.is_empty()).collect();
        let text = self.text(fields, Note::Text);
        if surplus.is_empty() {
            return text;
        }
        if self.columns.places.get(&Note::Text) != Some(&(n_headings - 1)) {
            self.surplus += 1;
            return text;
        }
        Some(
            text.into_iter()
                .chain(surplus.iter().map(|&field| field.to_owned()))
                .collect::<Vec<_>>()
                .join(", "),
        )
    }

    /// Counts a cell that says something that is not understood, and passes its value on.
    pub fn counted<T>(&mut self, content: Note, value: Option<T>) -> Option<T> {
        if value.is_none()
            && let Some(&at) = self.columns.places.get(&content)
        {
            *self.unread.entry(self.columns.headings[at].text.clone()).or_default() += 1;
        }
        value
    }

    /// Writes what was found out about the table as a whole into the report.
    pub fn report(&self, boat: &BoatFile, report: &mut SourceReport) {
        self.clock_use.report(self.order, boat, report);
        if self.clocks_alone > 0 {
            let zone = if boat.time_zone_stated {
                "in the boat file's zone"
            } else {
                "in UTC (no `time_zone` is set)"
            };
            let n = self.clocks_alone;
            report
                .remarks
                .push(format!("{n} clock times have no date: read {zone}, on the day of the trip."));
        }
        for (heading, n) in &self.unread {
            report.remarks.push(format!("Column `{heading}`: {n} entries were not understood and left out."));
        }
        if self.surplus > 0 {
            let n = self.surplus;
            report
                .remarks
                .push(format!("{n} rows have more fields than there are headings; those were left out."));
        }
    }
}

impl Survey {
    /// Whether the column named for the time out holds the start: in most rows it is the earlier one.
    pub fn out_is_start(&self) -> bool {
        self.out_before_in > self.in_before_out
    }
}
