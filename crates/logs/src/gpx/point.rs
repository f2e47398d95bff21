//! What does one point say?

use quick_xml::XmlVersion;
use quick_xml::events::{BytesRef, BytesStart};
use waterseam_units::convert::Unit;

use crate::boat::BoatFile;
use crate::observation::{DepthReference, FixKind, Value};
use crate::quantity::{Dimension, quantity};
use crate::source::MARKS_TAKEN_MAX;
use crate::table::account::{Account, Place};
use crate::table::moment::{DateOrder, Zone};
use crate::table::number::{Commas, degrees, number, position};
use crate::table::when::{Clock, ClockUse, When};

/// Longest text of an element that is kept, characters.
const TEXT_CHARACTERS_MAX: usize = 100;

/// Points of a file, one after another.
pub(super) struct Points<'a> {
    account: Account<'a>,
    /// Added to every time, µs.
    add_us: i64,
    clock: Clock,
    clock_use: ClockUse,
    point: Option<Point>,
    /// The file has a document type, in which entities could stand.
    pub has_document_type: bool,
    is_closed: bool,
    bad_values: u64,
    bad_positions: u64,
    /// Marks that were taken.
    marks: u64,
}

/// Which list a point stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum List {
    Track,
    Waypoints,
    Route,
}

/// A point that has begun.
struct Point {
    list: List,
    line: u64,
    byte: u64,
    /// Its tag.
    raw: String,
    lat: String,
    lon: String,
    /// Elements that are open inside it.
    depth: u32,
    leaf: Option<(Leaf, Option<Unit>)>,
    text: String,
    time: Option<String>,
    sog_mps: Option<f64>,
    cog_deg: Option<f64>,
    water_temp_c: Option<f64>,
    temp_c: Option<f64>,
    depth_m: Option<f64>,
    n_bad: u64,
    needs_entity: bool,
}

/// An element with a value that is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Leaf {
    Time,
    Speed,
    Course,
    WaterTemp,
    /// A temperature that does not say of what.
    Temp,
    Depth,
}

impl Leaf {
    /// The element of a local name, `depth` levels below its point.
    fn of(name: &str, depth: u32) -> Option<Self> {
        let name = name.to_ascii_lowercase().replace(['_', '-'], "");
        match name.as_str() {
            "time" if depth == 1 => Some(Self::Time),
            "speed" | "sog" | "groundspeed" => Some(Self::Speed),
            "course" | "cog" => Some(Self::Course),
            "wtemp" | "watertemp" | "watertemperature" | "seatemp" | "surfacetemp" | "sst" => {
                Some(Self::WaterTemp)
            }
            "temp" | "temperature" => Some(Self::Temp),
            "depth" | "waterdepth" => Some(Self::Depth),
            _ => None,
        }
    }
}

impl<'a> Points<'a> {
    pub fn new(account: Account<'a>, add_us: i64, boat: &BoatFile) -> Self {
        Self {
            account,
            add_us,
            clock: Clock::new(Zone::Utc, DateOrder::default(), boat),
            clock_use: ClockUse::default(),
            point: None,
            has_document_type: false,
            is_closed: false,
            bad_values: 0,
            bad_positions: 0,
            marks: 0,
        }
    }

    /// A start tag at a line and byte.
    pub fn start(&mut self, tag: &BytesStart<'_>, place: (u64, u64)) {
        let name = tag.local_name().into_inner();
        if let Some(list) = List::of(name) {
            // the one before was never closed
            self.finish_point();
            self.point = Some(Point::new(list, tag, place));
        } else if let Some(point) = &mut self.point {
            point.depth += 1;
            point.text.clear();
            point.leaf = Leaf::of(name, point.depth).map(|leaf| (leaf, unit(tag)));
        }
    }

    /// An end tag.
    pub fn end(&mut self, name: &str) {
        let is_outside = matches!(name, "trkseg" | "trk" | "rte" | "gpx");
        self.is_closed |= name == "gpx";
        if List::of(name).is_some() || is_outside {
            self.finish_point();
        } else if let Some(point) = &mut self.point {
            point.depth = point.depth.saturating_sub(1);
            point.take_leaf();
        }
    }

    /// Text between tags.
    pub fn text(&mut self, text: &str) {
        if let Some(point) = self.point.as_mut().filter(|point| point.leaf.is_some()) {
            let room = TEXT_CHARACTERS_MAX.saturating_sub(point.text.len());
            // a degree sign is no longer one
            point.text.extend(text.chars().filter(|letter| *letter != '?').take(room));
        }
    }

    /// `&name;` between tags.
    pub fn reference(&mut self, reference: &BytesRef<'_>) {
        let Some(point) = self.point.as_mut().filter(|point| point.leaf.is_some()) else { return };
        match reference.resolve_char_ref() {
            Ok(Some(letter)) if point.text.len() < TEXT_CHARACTERS_MAX => point.text.push(letter),
            Ok(Some(_)) => {}
            _ => point.needs_entity = true,
        }
    }

    /// The XML is broken: what is left, with the point that has begun, is one record.
    pub fn break_off(&mut self, reason: &'static str, place: Place<'_>) {
        self.point = None;
        self.is_closed = true;
        self.account.set_aside(reason, place);
        let remark = format!(
            "Its XML is broken in line {}: the points before that were used, the rest was not.",
            place.line
        );
        self.account.report.remarks.push(remark);
    }

    /// The file ends.
    pub fn end_early(&mut self) {
        if let Some(point) = self.point.take() {
            self.account.set_aside("file_ends_early", point.place());
        }
    }

    /// Writes what was found out about the file as a whole into the report.
    pub fn report(mut self, boat: &BoatFile) {
        self.clock_use.report(DateOrder::default(), boat, self.account.report);
        let report = &mut *self.account.report;
        for (n, what) in
            [(self.bad_values, "values are no numbers"), (self.bad_positions, "positions are none")]
        {
            if n > 0 {
                report.remarks.push(format!("{n} {what}: taken as missing, the rest of the point was used."));
            }
        }
        if report.set_aside.contains_key("waypoint_without_time") {
            report.remarks.push(
                "Waypoints without a time were set aside: nothing says on which trip they were made."
                    .to_owned(),
            );
        }
        if self.has_document_type {
            report.remarks.push("It has a document type: its entities are not expanded.".to_owned());
        }
        if !self.is_closed {
            report.remarks.push("The file ends early: its last lines are missing.".to_owned());
        }
        self.point = None;
    }

    /// The account of the point that has begun, if one has.
    fn finish_point(&mut self) {
        let Some(mut point) = self.point.take() else { return };
        point.take_leaf();
        self.account.count(point.list.name());
        if point.list == List::Route {
            return self.account.not_needed();
        }
        if let Err(reason) = self.use_point(&point) {
            self.account.set_aside(reason, point.place());
        }
    }

    fn use_point(&mut self, point: &Point) -> Result<(), &'static str> {
        if point.needs_entity {
            return Err("entity_not_expanded");
        }
        let (time_us, added_us, method) = match (&point.time, point.list) {
            (None, List::Waypoints) => return Err("waypoint_without_time"),
            (None, _) => return Err("no_time"),
            (Some(text), _) => match self.clock.read(text, "")? {
                When::Instant { time_us, added_us, method } => {
                    (time_us.saturating_add(self.add_us), added_us, method)
                }
                When::Clock(_) => return Err("no_date"),
            },
        };
        let values = point.values();
        if values.iter().all(Option::is_none) {
            return Err("bad_position");
        }
        if point.list == List::Waypoints {
            if self.marks >= MARKS_TAKEN_MAX {
                return Err("too_many_marks");
            }
            self.marks += 1;
        }
        self.bad_values += point.n_bad;
        self.bad_positions += u64::from(values[0].is_none());
        self.clock_use.see(added_us, method);
        self.account.used();
        self.account.seen_at(time_us);
        values.into_iter().flatten().for_each(|value| self.account.hand_out(time_us, value));
        Ok(())
    }
}

impl List {
    fn of(name: &str) -> Option<Self> {
        match name {
            "trkpt" => Some(Self::Track),
            "wpt" => Some(Self::Waypoints),
            "rtept" => Some(Self::Route),
            _ => None,
        }
    }

    fn name(self) -> &'static str {
        match self {
            Self::Track => "track point",
            Self::Waypoints => "waypoint",
            Self::Route => "route point",
        }
    }
}

impl Point {
    fn new(list: List, tag: &BytesStart<'_>, (line, byte): (u64, u64)) -> Self {
        let mut needs_entity = false;
        let mut cell = |name: &str| {
            let attribute = attribute(tag, &[name])?;
            needs_entity |= attribute.is_err();
            attribute.ok()
        };
        let (lat, lon) = (cell("lat").unwrap_or_default(), cell("lon").unwrap_or_default());
        Self {
            list,
            line,
            byte,
            raw: format!("<{}{}>", tag.name().as_ref(), tag.attributes_raw()).chars().take(200).collect(),
            lat,
            lon,
            depth: 0,
            leaf: None,
            text: String::new(),
            time: None,
            sog_mps: None,
            cog_deg: None,
            water_temp_c: None,
            temp_c: None,
            depth_m: None,
            n_bad: 0,
            needs_entity,
        }
    }

    fn place(&self) -> Place<'_> {
        Place { line: self.line, byte: self.byte, raw: &self.raw }
    }

    /// Takes the value of the element that ends. The first of a name counts.
    fn take_leaf(&mut self) {
        let Some((leaf, unit)) = self.leaf.take() else { return };
        let text = self.text.trim();
        if text.is_empty() {
            return;
        }
        let (value, into) = match leaf {
            Leaf::Time => {
                self.time.get_or_insert_with(|| text.to_owned());
                return;
            }
            Leaf::Course => {
                let course = number(text, Commas::Decimals).filter(|course| (0.0..=360.0).contains(course));
                (course.map(|course| course % 360.0), &mut self.cog_deg)
            }
            Leaf::Speed => {
                (quantity(text, Dimension::Speed, unit.unwrap_or(Unit::MetrePerSecond)), &mut self.sog_mps)
            }
            Leaf::WaterTemp | Leaf::Temp => (
                quantity(text, Dimension::Temperature, unit.unwrap_or(Unit::Celsius)),
                if leaf == Leaf::Temp { &mut self.temp_c } else { &mut self.water_temp_c },
            ),
            Leaf::Depth => (quantity(text, Dimension::Depth, unit.unwrap_or(Unit::Metre)), &mut self.depth_m),
        };
        self.n_bad += u64::from(value.is_none());
        *into = into.or(value);
    }

    /// The values, the position first. A depth of zero is a lost bottom.
    fn values(&self) -> [Option<Value>; 4] {
        let read = |cell: &str| degrees(cell, Commas::Decimals);
        let at = read(&self.lat).zip(read(&self.lon)).and_then(|(lat, lon)| position(lat, lon));
        if self.list == List::Waypoints {
            return [at.map(|at| Value::Mark { at }), None, None, None];
        }
        [
            at.map(|at| Value::Fix { at, from: FixKind::Row }),
            self.sog_mps
                .filter(|sog_mps| *sog_mps >= 0.0)
                .map(|sog_mps| Value::GroundVelocity { sog_mps, cog_deg: self.cog_deg }),
            self.water_temp_c.or(self.temp_c).map(|temp_c| Value::WaterTemp { temp_c }),
            self.depth_m.filter(|depth_m| *depth_m > 0.0).map(|depth_m| Value::WaterDepth {
                depth_m,
                reference: DepthReference::Surface,
                offset_m: None,
            }),
        ]
    }
}

/// The value of the first attribute of one of these local names; `Err` where it needs an entity that is not expanded.
fn attribute(tag: &BytesStart<'_>, names: &[&str]) -> Option<Result<String, ()>> {
    let mut all = tag.attributes();
    let found = all
        .with_checks(false)
        .flatten()
        .find(|attribute| names.contains(&attribute.key.local_name().into_inner()))?;
    Some(found.normalized_value(XmlVersion::Explicit1_0).map(std::borrow::Cow::into_owned).map_err(|_| ()))
}

fn unit(tag: &BytesStart<'_>) -> Option<Unit> {
    Unit::from_word(&attribute(tag, &["unit", "units", "uom"])?.ok()?)
}
