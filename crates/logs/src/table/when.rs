//! When was a row written, in UTC?

use jiff::civil::Date;
use jiff::tz::TimeZone;
use waterseam_units::time::US_PER_S;

use super::moment::{Civil, DateOrder, DayError, Moment, Zone, compact_clock_us, instant_us, moment};
use super::number::is_missing;
use crate::boat::BoatFile;
use crate::source::SourceReport;

/// How the clock of a file is to be read.
#[derive(Clone, Debug)]
pub(crate) struct Clock {
    /// Whether the day comes first in dates of numbers; `None`: not known.
    pub day_first: Option<bool>,
    /// Zone that the heading names.
    pub heading_zone: Zone,
    /// Zone of the boat.
    pub boat_zone: TimeZone,
    /// Whether the boat file names it.
    pub boat_zone_stated: bool,
}

/// Time of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum When {
    /// An instant.
    Instant {
        /// Microseconds since 1970 UTC.
        time_us: i64,
        /// Microseconds that were added to the clock to reach UTC.
        added_us: i64,
        /// How that was known, as in [`SourceReport::clock_offset_method`].
        method: &'static str,
    },
    /// A clock time without a date, microseconds since midnight.
    Clock(i64),
}

impl Clock {
    /// The clock of a file whose dates are in this order.
    pub fn new(heading_zone: Zone, order: DateOrder, boat: &BoatFile) -> Self {
        Self {
            day_first: order.settle(boat.day_first),
            heading_zone,
            boat_zone: boat.time_zone.clone(),
            boat_zone_stated: boat.time_zone_stated,
        }
    }

    /// The time that a cell for time and a cell for the date say together; either may be empty.
    ///
    /// # Errors
    /// The reason to set the row aside.
    pub fn read(&self, time: &str, date: &str) -> Result<When, &'static str> {
        let civil = match together(time, date)? {
            Moment::Epoch(time_us) => {
                return Ok(When::Instant { time_us, added_us: 0, method: "utc_stated" });
            }
            Moment::Civil(civil) => civil,
        };
        let clock_us = civil.clock_us.ok_or("no_clock_time")?;
        let Some(day) = civil.day else { return Ok(When::Clock(clock_us)) };
        let date = day.resolve(self.day_first).map_err(|error| match error {
            DayError::Ambiguous => "date_order_ambiguous",
            DayError::Impossible => "bad_time",
        })?;
        self.instant(date, clock_us, civil.zone).ok_or("bad_time")
    }

    /// The instant of a clock time on a day.
    pub fn instant(&self, date: Date, clock_us: i64, zone: Zone) -> Option<When> {
        let as_utc_us = instant_us(date, clock_us, &TimeZone::UTC)?;
        let zone = if zone == Zone::Unsaid { self.heading_zone } else { zone };
        let (time_us, method) = match zone {
            Zone::Utc => (as_utc_us, "utc_stated"),
            Zone::OffsetS(offset_s) => (as_utc_us - i64::from(offset_s) * US_PER_S, "offset_stated"),
            Zone::Unsaid if self.boat_zone_stated => {
                (instant_us(date, clock_us, &self.boat_zone)?, "boat_file_zone")
            }
            Zone::Unsaid => (as_utc_us, "assumed_utc"),
        };
        Some(When::Instant { time_us, added_us: time_us - as_utc_us, method })
    }
}

/// What the two cells say together: the date cell may hold the time as well, and the other way round.
fn together(time: &str, date: &str) -> Result<Moment, &'static str> {
    if is_missing(time) && is_missing(date) {
        return Err("no_time");
    }
    let date = match moment(date) {
        Some(Moment::Epoch(us)) => return Ok(Moment::Epoch(us)),
        Some(Moment::Civil(civil)) => civil,
        None if is_missing(date) => Civil::default(),
        None => return Err("bad_time"),
    };
    let time = match moment(time) {
        Some(Moment::Epoch(us)) => return Ok(Moment::Epoch(us)),
        Some(Moment::Civil(civil)) => civil,
        None if is_missing(time) => Civil::default(),
        None => Civil { clock_us: Some(compact_clock_us(time).ok_or("bad_time")?), ..Civil::default() },
    };
    let zone = if time.zone == Zone::Unsaid { date.zone } else { time.zone };
    Ok(Moment::Civil(Civil { day: time.day.or(date.day), clock_us: time.clock_us.or(date.clock_us), zone }))
}

/// Counts the midnights that a clock without a date passes.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Midnights {
    last_us: i64,
    passed: i64,
}

/// A clock that goes back by more than this passed midnight, µs. Not half a day: notes of a long day that are sorted
/// by rod go back from the evening to the morning.
const BACK_US: i64 = 16 * 3600 * US_PER_S;

impl Midnights {
    /// The day of a clock time in a file that starts on `first_day`.
    pub fn day(&mut self, first_day: Date, clock_us: i64) -> Option<Date> {
        self.passed += i64::from(clock_us < self.last_us - BACK_US);
        self.last_us = clock_us;
        self.same_day(first_day)
    }

    /// The day of the last clock time.
    pub fn same_day(&self, first_day: Date) -> Option<Date> {
        first_day.checked_add(jiff::Span::new().try_days(self.passed).ok()?).ok()
    }
}

/// Day of the calendar in UTC.
pub(crate) fn utc_day(time_us: i64) -> Option<Date> {
    Some(jiff::Timestamp::from_microsecond(time_us).ok()?.to_zoned_datetime(TimeZone::UTC).date())
}

/// Takes the date of a row into account.
pub(crate) fn see_date(order: &mut DateOrder, text: &str) {
    if let Some(Moment::Civil(Civil { day: Some(day), .. })) = moment(text) {
        order.see(day);
    }
}

/// What was added to the clock of a file, row by row.
#[derive(Clone, Debug, Default)]
pub(crate) struct ClockUse {
    first: Option<(i64, &'static str)>,
    differs: bool,
}

impl ClockUse {
    /// Takes a used row into account.
    pub fn see(&mut self, added_us: i64, method: &'static str) {
        let first = *self.first.get_or_insert((added_us, method));
        self.differs |= first.0 != added_us;
    }

    /// Writes offset and method into the report, and says what was assumed.
    pub fn report(&self, order: DateOrder, boat: &BoatFile, report: &mut SourceReport) {
        if let Some((added_us, method)) = self.first {
            report.clock_offset_s = (!self.differs).then_some(added_us as f64 / US_PER_S as f64);
            report.clock_offset_method = Some(method);
            if method == "assumed_utc" {
                report.remarks.push(
                    "The clock names no time zone and the boat file has no `time_zone`: taken as UTC."
                        .to_owned(),
                );
            }
        }
        if report.records_used == 0 && report.set_aside.contains_key("bad_time") {
            report.remarks.push(
                "None of its times could be read. Times are read as 2026-06-14T05:12:03Z, 14.06.2026 05:12, 6/14/2026 \
                 5:12 PM, 05:12, 0512 or seconds since 1970."
                    .to_owned(),
            );
        }
        if let Some(n) = report.set_aside.get("date_order_ambiguous") {
            report.remarks.push(format!(
                "{n} rows have dates that can be read two ways (is 03/04 in March or in April?) and nothing in the \
                 file settles it. Write `date_order = \"day-first\"` or `date_order = \"month-first\"` in the boat \
                 file and read it again."
            ));
        }
        if let (Some(said), Some(settled)) = (boat.day_first, order.settle(None))
            && said != settled
        {
            let word = if settled { "day-first" } else { "month-first" };
            report
                .remarks
                .push(format!("Its dates can only be {word}, against `date_order` of the boat file."));
        }
    }
}
