//! GPX 1.1 for a plotter or a phone: waypoints, the same as a route, and lines as tracks.
//!
//! <https://www.topografix.com/GPX/1/1/>: elements in the order of its schema, WGS 84, times in UTC.

use std::fmt::Write;

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};
use waterseam_units::LatLon;
use waterseam_units::time::timestamp;

/// A place with a name.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Waypoint {
    pub at: LatLon,
    /// µs since 1970 UTC.
    pub time_us: Option<i64>,
    /// A few letters: plotters cut off the rest.
    pub name: String,
    pub desc: String,
    /// What kind of thing it is.
    pub kind: &'static str,
    /// The same in four letters at most.
    pub short: &'static str,
}

/// Places in an order to follow.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Route {
    pub name: String,
    pub desc: String,
    pub points: Vec<Waypoint>,
}

/// Lines that belong together.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Lines {
    pub name: String,
    pub desc: String,
    pub segments: Vec<Vec<TrackPoint>>,
}

/// A place of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct TrackPoint {
    pub at: LatLon,
    /// µs since 1970 UTC; `None` where nobody was there then.
    pub time_us: Option<i64>,
}

impl From<LatLon> for TrackPoint {
    fn from(at: LatLon) -> Self {
        Self { at, time_us: None }
    }
}

/// What a plotter wants.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Plotter {
    /// Names of at most ten plain letters and digits, each once: old plotters cut off the rest.
    pub has_short_names: bool,
    /// Places as one route in their order, not as waypoints.
    pub takes_a_route: bool,
}

/// A whole file.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Document {
    pub name: String,
    pub desc: String,
    pub waypoints: Vec<Waypoint>,
    pub routes: Vec<Route>,
    pub lines: Vec<Lines>,
}

/// Letters of the longest name that every plotter shows. Common practice, no source.
const SHORT_NAME: usize = 10;

type Xml = Writer<Vec<u8>>;

impl Document {
    /// The file as this plotter wants it.
    #[must_use]
    pub fn for_plotter(mut self, plotter: Plotter) -> Self {
        if plotter.has_short_names {
            let digits = self.waypoints.len().to_string().len();
            for (at, waypoint) in self.waypoints.iter_mut().enumerate() {
                waypoint.name = format!("{}{:0digits$}", waypoint.short, at + 1);
            }
            let digits = if self.lines.len() > 1 { self.lines.len().to_string().len() } else { 0 };
            for (at, lines) in self.lines.iter_mut().enumerate() {
                lines.name = short(&lines.name, SHORT_NAME - digits);
                if digits > 0 {
                    let _ = write!(lines.name, "{:0digits$}", at + 1);
                }
            }
        }
        if plotter.takes_a_route && !self.waypoints.is_empty() {
            let name =
                if plotter.has_short_names { short(&self.name, SHORT_NAME) } else { self.name.clone() };
            let points = std::mem::take(&mut self.waypoints);
            self.routes.push(Route { name, desc: self.desc.clone(), points });
        }
        self
    }

    /// The text of the file. Letters that XML 1.0 cannot hold are left out.
    pub fn text(&self) -> String {
        let mut xml = Writer::new_with_indent(Vec::new(), b' ', 1);
        // writing to memory does not fail, and what is written is UTF-8
        let _ = self.write(&mut xml);
        let mut text = String::from_utf8(xml.into_inner()).unwrap_or_default();
        text.push('\n');
        text
    }

    fn write(&self, xml: &mut Xml) -> std::io::Result<()> {
        xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
        let root = xml.create_element("gpx").with_attributes([
            ("version", "1.1"),
            ("creator", "Waterseam"),
            ("xmlns", "http://www.topografix.com/GPX/1/1"),
        ]);
        root.write_inner_content(|xml| {
            xml.create_element("metadata").write_inner_content(|xml| {
                leaf(xml, "name", &self.name)?;
                leaf(xml, "desc", &self.desc)
            })?;
            for waypoint in &self.waypoints {
                waypoint.write("wpt", xml)?;
            }
            self.routes.iter().try_for_each(|route| route.write(xml))?;
            self.lines.iter().try_for_each(|lines| lines.write(xml))
        })?;
        Ok(())
    }
}

impl Waypoint {
    fn write(&self, element: &'static str, xml: &mut Xml) -> std::io::Result<()> {
        place(xml, element, self.at).write_inner_content(|xml| {
            if let Some(time_us) = self.time_us {
                leaf(xml, "time", &timestamp(time_us).to_string())?;
            }
            leaf(xml, "name", &self.name)?;
            leaf(xml, "desc", &self.desc)?;
            leaf(xml, "type", self.kind)
        })?;
        Ok(())
    }
}

impl Route {
    fn write(&self, xml: &mut Xml) -> std::io::Result<()> {
        xml.create_element("rte").write_inner_content(|xml| {
            leaf(xml, "name", &self.name)?;
            leaf(xml, "desc", &self.desc)?;
            self.points.iter().try_for_each(|point| point.write("rtept", xml))
        })?;
        Ok(())
    }
}

impl Lines {
    fn write(&self, xml: &mut Xml) -> std::io::Result<()> {
        xml.create_element("trk").write_inner_content(|xml| {
            leaf(xml, "name", &self.name)?;
            leaf(xml, "desc", &self.desc)?;
            self.segments.iter().try_for_each(|segment| {
                xml.create_element("trkseg")
                    .write_inner_content(|xml| segment.iter().try_for_each(|point| point.write(xml)))?;
                Ok(())
            })
        })?;
        Ok(())
    }
}

impl TrackPoint {
    fn write(&self, xml: &mut Xml) -> std::io::Result<()> {
        let element = place(xml, "trkpt", self.at);
        match self.time_us {
            None => element.write_empty(),
            Some(time_us) => {
                element.write_inner_content(|xml| leaf(xml, "time", &timestamp(time_us).to_string()))
            }
        }?;
        Ok(())
    }
}

/// The first plain letters and digits of a name.
fn short(name: &str, most: usize) -> String {
    name.chars().filter(char::is_ascii_alphanumeric).take(most).collect()
}

/// Seven decimals are a centimetre.
fn place<'a>(
    xml: &'a mut Xml,
    element: &'static str,
    at: LatLon,
) -> quick_xml::writer::ElementWriter<'a, Vec<u8>> {
    let (lat, lon) = (format!("{:.7}", at.lat_deg), format!("{:.7}", at.lon_deg));
    xml.create_element(element).with_attributes([("lat", lat.as_str()), ("lon", lon.as_str())])
}

fn leaf(xml: &mut Xml, element: &'static str, text: &str) -> std::io::Result<()> {
    let text: String = text.chars().filter(|&letter| is_xml(letter)).collect();
    xml.create_element(element).write_text_content(BytesText::new(&text))?;
    Ok(())
}

/// Production 2 (Char) of XML 1.0.
fn is_xml(letter: char) -> bool {
    matches!(letter, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn document() -> Document {
        let at = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
        Document {
            name: "Currents & edges".to_owned(),
            desc: "Mind".to_owned(),
            waypoints: vec![Waypoint {
                at,
                time_us: Some(1_800_000_000_000_000),
                name: "Edge 08:00".to_owned(),
                desc: "fast <left>, \u{1b}slow right".to_owned(),
                kind: "current edge",
                short: "EDGE",
            }],
            routes: Vec::new(),
            lines: vec![Lines {
                name: "Current".to_owned(),
                desc: "15 min".to_owned(),
                segments: vec![vec![
                    at.into(),
                    TrackPoint {
                        at: LatLon { lat_deg: 46.25, lon_deg: -29.375 },
                        time_us: Some(1_800_000_900_000_000),
                    },
                ]],
            }],
        }
    }

    #[test]
    fn a_file_with_everything() {
        let document = document();
        insta::assert_snapshot!(document.text(), @r#"
        <?xml version="1.0" encoding="UTF-8"?>
        <gpx version="1.1" creator="Waterseam" xmlns="http://www.topografix.com/GPX/1/1">
         <metadata>
          <name>Currents &amp; edges</name>
          <desc>Mind</desc>
         </metadata>
         <wpt lat="46.2000000" lon="-29.4000000">
          <time>2027-01-15T08:00:00Z</time>
          <name>Edge 08:00</name>
          <desc>fast &lt;left&gt;, slow right</desc>
          <type>current edge</type>
         </wpt>
         <trk>
          <name>Current</name>
          <desc>15 min</desc>
          <trkseg>
           <trkpt lat="46.2000000" lon="-29.4000000"/>
           <trkpt lat="46.2500000" lon="-29.3750000">
            <time>2027-01-15T08:15:00Z</time>
           </trkpt>
          </trkseg>
         </trk>
        </gpx>
        "#);
    }

    #[test]
    fn an_old_plotter_gets_short_names_and_a_route() {
        let mut document = document();
        document.waypoints = vec![document.waypoints[0].clone(); 12];
        let old = document.clone().for_plotter(Plotter { has_short_names: true, takes_a_route: true });
        assert!(old.waypoints.is_empty());
        let [route] = &old.routes[..] else { panic!("{old:?}") };
        let names: std::collections::BTreeSet<&str> = route.points.iter().map(|p| p.name.as_str()).collect();
        assert_eq!((names.len(), names.first(), names.last()), (12, Some(&"EDGE01"), Some(&"EDGE12")));
        for name in names.into_iter().chain([route.name.as_str(), old.lines[0].name.as_str()]) {
            assert!(name.len() <= SHORT_NAME && name.chars().all(|c| c.is_ascii_alphanumeric()), "{name}");
        }
        assert_eq!(document.clone().for_plotter(Plotter::default()), document);
        assert!(old.text().contains("<rtept lat="));
    }
}
