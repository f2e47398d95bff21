//! GPX 1.1 for a plotter or a phone: waypoints, and lines as tracks.
//!
//! <https://www.topografix.com/GPX/1/1/>: elements in the order of its schema, WGS 84, times in UTC.

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
}

/// Lines that belong together. Their points have no times: nobody was there then.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Lines {
    pub name: String,
    pub desc: String,
    pub segments: Vec<Vec<LatLon>>,
}

/// A whole file.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Document {
    pub name: String,
    pub desc: String,
    pub waypoints: Vec<Waypoint>,
    pub lines: Vec<Lines>,
}

type Xml = Writer<Vec<u8>>;

impl Document {
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
                waypoint.write(xml)?;
            }
            self.lines.iter().try_for_each(|lines| lines.write(xml))
        })?;
        Ok(())
    }
}

impl Waypoint {
    fn write(&self, xml: &mut Xml) -> std::io::Result<()> {
        place(xml, "wpt", self.at).write_inner_content(|xml| {
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

impl Lines {
    fn write(&self, xml: &mut Xml) -> std::io::Result<()> {
        xml.create_element("trk").write_inner_content(|xml| {
            leaf(xml, "name", &self.name)?;
            leaf(xml, "desc", &self.desc)?;
            self.segments.iter().try_for_each(|segment| {
                xml.create_element("trkseg").write_inner_content(|xml| {
                    segment.iter().try_for_each(|&at| place(xml, "trkpt", at).write_empty().map(drop))
                })?;
                Ok(())
            })
        })?;
        Ok(())
    }
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

    #[test]
    fn a_file_with_everything() {
        let at = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
        let document = Document {
            name: "Currents & edges".to_owned(),
            desc: "Mind".to_owned(),
            waypoints: vec![Waypoint {
                at,
                time_us: Some(1_800_000_000_000_000),
                name: "Edge 08:00".to_owned(),
                desc: "fast <left>, \u{1b}slow right".to_owned(),
                kind: "current edge",
            }],
            lines: vec![Lines {
                name: "Current".to_owned(),
                desc: "15 min".to_owned(),
                segments: vec![vec![at, LatLon { lat_deg: 46.25, lon_deg: -29.375 }]],
            }],
        };
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
           <trkpt lat="46.2500000" lon="-29.3750000"/>
          </trkseg>
         </trk>
        </gpx>
        "#);
    }
}
