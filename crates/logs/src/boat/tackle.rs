//! What does a boat file say of lines: those that are out, those that are aboard, divers, depths that were seen?

use super::entry::{Entry, Section};
use super::error::BoatFileError;
use super::{BoatFile, DiverTable, HowSeen, ObservedDepth, SpreadRod};
use crate::observation::LineMethod;
use crate::quantity::Dimension;

const SETUP: [&str; 7] = ["method", "line_out", "colors", "weight", "leader", "lure", "depth"];
const LONGEST: &str = "longest_line";
const METHODS: &str = "one of \"downrigger\", \"diver\", \"leadcore\", \"weighted_wire\", \"clip_weight\", \"keel_weight\", \
                       \"flat_line\"";
const HOW: &str =
    "\"bottom\" (the lure ticked it), \"probe\" (one on the line) or \"known\" (a depth that you know)";

/// Reads `[[spread]]`, `[[tackle]]`, `[[divers]]` and `[[observed_depths]]`.
///
/// # Errors
/// The first thing that is wrong.
pub(super) fn read(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    boat.spread = setups(top, "spread", "rod", boat)?;
    boat.tackle = setups(top, "tackle", "name", boat)?;
    boat.divers = divers(top, boat)?;
    boat.observed_depths = observed_depths(top, boat)?;
    Ok(())
}

/// Setups, each with a name of its own under the key `name`.
fn setups(
    top: &Section<'_>,
    table: &str,
    name: &str,
    boat: &BoatFile,
) -> Result<Vec<SpreadRod>, BoatFileError> {
    let Some(all) = top.get(table) else { return Ok(Vec::new()) };
    let sections = all.tables(&format!("one [[{table}]] table for each {name}"))?;
    let longest_of_all_m = longest_line_m(top, boat)?;
    let one = |section: &Section<'_>| {
        section.only(&[&[name, LONGEST], &SETUP[..]].concat())?;
        let key = section.get(name).ok_or_else(|| missing(&all, table, &format!("{name} = \"name\"")))?;
        let rod = key.text(&format!("the name of the {}", if name == "rod" { "rod" } else { "setup" }))?;
        let longest_m = longest_line_m(section, boat)?.or(longest_of_all_m);
        Ok(SpreadRod { rod: rod.to_owned(), longest_m, ..setup(section, &all, table, boat)? })
    };
    sections.iter().map(one).collect()
}

/// The longest line worth letting out, of one rod or setup, or at the top of the file of all that do not say their own.
fn longest_line_m(section: &Section<'_>, boat: &BoatFile) -> Result<Option<f64>, BoatFileError> {
    let Some(entry) = section.get(LONGEST) else { return Ok(None) };
    let longest_m = entry.amount(Dimension::Depth, boat.units)?;
    if longest_m > 0.0 { Ok(Some(longest_m)) } else { Err(entry.wrong("more than nothing, like \"300 ft\"")) }
}

fn missing(all: &Entry<'_>, table: &str, what: &str) -> BoatFileError {
    all.wrong(format!("{what} in every [[{table}]] table"))
}

fn setup(
    section: &Section<'_>,
    all: &Entry<'_>,
    table: &str,
    boat: &BoatFile,
) -> Result<SpreadRod, BoatFileError> {
    let method =
        section.get("method").ok_or_else(|| missing(all, table, "method = \"downrigger\" or another"))?;
    let amount =
        |key: &str, dimension| section.get(key).map(|entry| entry.amount(dimension, boat.units)).transpose();
    let colors = section.get("colors").map(|entry| entry.number(0.0..20.0, "the number of colours out"));
    let lure = section.get("lure").map(|entry| entry.text("what the lure is").map(str::to_owned));
    Ok(SpreadRod {
        rod: String::new(),
        method: LineMethod::from_word(method.text(METHODS)?).ok_or_else(|| method.wrong(METHODS))?,
        line_out_m: amount("line_out", Dimension::Depth)?,
        colors: colors.transpose()?,
        weight_kg: amount("weight", Dimension::Weight)?,
        leader_m: amount("leader", Dimension::Depth)?,
        longest_m: None,
        lure: lure.transpose()?,
        depth_m: amount("depth", Dimension::Depth)?,
    })
}

fn divers(top: &Section<'_>, boat: &BoatFile) -> Result<Vec<DiverTable>, BoatFileError> {
    let Some(all) = top.get("divers") else { return Ok(Vec::new()) };
    let sections = all.tables("one [[divers]] table for each diver and speed")?;
    let one = |section: &Section<'_>| {
        section.only(&["name", "rods", "speed", "table"])?;
        let need = |key: &str, what: &str| section.get(key).ok_or_else(|| missing(&all, "divers", what));
        let rods = match section.get("rods") {
            Some(rods) => rods.texts("a list of rods, like [\"port diver\", \"starboard diver\"]")?,
            None => Vec::new(),
        };
        Ok(DiverTable {
            name: need("name", "name = \"diver\"")?.text("the name of the diver and its setting")?.to_owned(),
            rods,
            speed_mps: need("speed", "speed = \"2.2 mph\"")?.amount(Dimension::Speed, boat.units)?,
            rows: diver_rows(&need("table", "table = [[line out, depth], …]")?, boat)?,
        })
    };
    sections.iter().map(one).collect()
}

/// Rows of line out and depth, both rising.
fn diver_rows(table: &Entry<'_>, boat: &BoatFile) -> Result<Vec<(f64, f64)>, BoatFileError> {
    let right = "two rows or more of [line out, depth], both rising, like [[100, 40], [150, 58]]";
    let mut rows: Vec<(f64, f64)> = Vec::new();
    for entry in table.items(right)? {
        let [out, depth] = entry.pair(right)?;
        let row = (out.amount(Dimension::Depth, boat.units)?, depth.amount(Dimension::Depth, boat.units)?);
        let rises = rows.last().is_none_or(|last| last.0 < row.0 && last.1 < row.1);
        if !rises || row.1 > row.0 {
            return Err(entry.wrong(format!("{right}; no depth is greater than its line out")));
        }
        rows.push(row);
    }
    if rows.len() < 2 { Err(table.wrong(right)) } else { Ok(rows) }
}

fn observed_depths(top: &Section<'_>, boat: &BoatFile) -> Result<Vec<ObservedDepth>, BoatFileError> {
    const TABLE: &str = "observed_depths";
    let Some(all) = top.get(TABLE) else { return Ok(Vec::new()) };
    let sections = all.tables("one [[observed_depths]] table for each depth that was seen")?;
    let one = |section: &Section<'_>| {
        section.only(&[&SETUP[..], &["rod", "speed", "how", "give_or_take"]].concat())?;
        let need = |key: &str, what: &str| section.get(key).ok_or_else(|| missing(&all, TABLE, what));
        let how = need("how", "how = \"bottom\", \"probe\" or \"known\"")?;
        let rod = section.get("rod").map(|entry| entry.text("the name of the rod")).transpose()?;
        let give_or_take = section.get("give_or_take");
        let give_or_take_m =
            give_or_take.as_ref().map(|entry| entry.amount(Dimension::Depth, boat.units)).transpose()?;
        if let (Some(entry), Some(0.0)) = (&give_or_take, give_or_take_m) {
            return Err(entry.wrong("more than nothing: no depth is seen exactly"));
        }
        let setup = setup(section, &all, TABLE, boat)?;
        let depth_m = setup.depth_m.ok_or_else(|| missing(&all, TABLE, "depth = the depth that was seen"))?;
        if setup.line_out_m.is_none() && (setup.colors.is_none() || setup.method != LineMethod::Leadcore) {
            return Err(missing(&all, TABLE, "line_out (or the colors of a cored line)"));
        }
        let weighted = matches!(setup.method, LineMethod::ClipWeight | LineMethod::KeelWeight);
        if weighted && setup.weight_kg.is_none() {
            return Err(missing(&all, TABLE, "weight, with a clip-on or keel weight,"));
        }
        Ok(ObservedDepth {
            setup: SpreadRod { rod: rod.unwrap_or_default().to_owned(), depth_m: None, ..setup },
            speed_mps: need("speed", "speed = \"2.2 mph\"")?.amount(Dimension::Speed, boat.units)?,
            depth_m,
            how: match how.text(HOW)? {
                "bottom" => HowSeen::Bottom,
                "probe" => HowSeen::Probe,
                "known" => HowSeen::Known,
                _ => return Err(how.wrong(HOW)),
            },
            give_or_take_m,
        })
    };
    sections.iter().map(one).collect()
}
