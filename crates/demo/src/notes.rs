//! What do the captain and the mate write down?
//!
//! Bite notes and gear log. Clocks are read to the minute; a bite is written down when the rod is in hand, up to a minute
//! late.

use std::fmt::Write;

use waterseam_units::convert::{KG_PER_LB, M_PER_FT};

use crate::clock::Clock;
use crate::days::{Day, NoteStyle};
use crate::dice::{Dice, Stream};
use crate::fish::Bite;
use crate::lines::{DOWNRIGGER_LB, DROP_BACK_FT, Method, SPREAD, Spell};

/// From the bite to the look at the clock, at most, s.
const NOTED_WITHIN_S: f64 = 45.0;
/// Share of bites whose depth is noted.
const DEPTH_NOTED: f64 = 0.85;
/// Share of landed fish that are weighed.
const WEIGHED: f64 = 0.6;
/// Share of lost fish whose species was seen.
const LOST_SEEN: f64 = 0.5;

/// The bite notes.
pub(crate) fn bites(day: &Day, spells: &[Spell], bites: &[Bite], clock: Clock) -> String {
    let mut dice = Dice::new(day.seed, Stream::Notes);
    let style = day.habits.notes;
    let mut out = String::from("time,species,outcome,rod,lure,depth,line_out,weight,note\n");
    for bite in bites {
        let spell = &spells[bite.spell];
        let rod = &SPREAD[spell.rod];
        let time = style.time(clock, bite.second + dice.uniform(0.0, NOTED_WITHIN_S));
        let seen = bite.outcome != "lost" || dice.chance(LOST_SEEN);
        let species = if seen { bite.species.as_str() } else { "" };
        let depth_ft = spell.setup.counter_ft.unwrap_or((bite.depth_m / M_PER_FT / 5.0).round() * 5.0);
        let depth = if dice.chance(DEPTH_NOTED) { style.feet(depth_ft) } else { String::new() };
        let line_out = spell.setup.line_out_ft.map(|ft| style.feet(ft)).unwrap_or_default();
        let weighed = bite.outcome == "landed" && dice.chance(WEIGHED);
        let weight = if weighed { style.pounds(bite.weight_kg / KG_PER_LB) } else { String::new() };
        let note =
            if bite.outcome == "lost" { *dice.pick(&["", "came off at the boat", "short hit"]) } else { "" };
        // writing to a string cannot fail
        let _ = writeln!(
            out,
            "{time},{species},{},{},{},{depth},{line_out},{weight},{note}",
            bite.outcome, rod.name, rod.lure
        );
    }
    out
}

/// The gear log.
pub(crate) fn gear(day: &Day, spells: &[Spell], clock: Clock) -> String {
    let style = day.habits.notes;
    match style {
        NoteStyle::ClockOnly => gear_events(style, spells, clock),
        NoteStyle::FullDate | NoteStyle::MonthFirst => gear_spells(style, spells, clock),
    }
}

/// One row for each spell.
fn gear_spells(style: NoteStyle, spells: &[Spell], clock: Clock) -> String {
    let mut out = String::from("rod,method,time_in,time_out,line_out,colors,weight,leader,lure,depth\n");
    for spell in spells {
        let rod = &SPREAD[spell.rod];
        let (time_in, time_out) = (style.nearest(clock, spell.start), style.nearest(clock, spell.end));
        let gear = gear_fields(style, spell);
        let _ = writeln!(out, "{},{},{time_in},{time_out},{gear}", rod.name, rod.method.word());
    }
    out
}

/// One row when a line goes out, one when it comes in.
fn gear_events(style: NoteStyle, spells: &[Spell], clock: Clock) -> String {
    let mut rows: Vec<(usize, String)> = Vec::with_capacity(2 * spells.len());
    for spell in spells {
        let Spell { rod, start, end, .. } = *spell;
        let (name, method) = (SPREAD[rod].name, SPREAD[rod].method.word());
        let gear = gear_fields(style, spell);
        rows.push((start, format!("{},out,{name},{method},{gear}\n", style.nearest(clock, start))));
        rows.push((end, format!("{},in,{name},,,,,,,\n", style.nearest(clock, end))));
    }
    rows.sort_by_key(|(second, _)| *second);
    let head = "time,event,rod,method,line_out,colors,weight,leader,lure,depth\n";
    std::iter::once(head).chain(rows.iter().map(|(_, row)| row.as_str())).collect()
}

/// `line_out,colors,weight,leader,lure,depth`; the depth is the counter's, where there is a counter.
fn gear_fields(style: NoteStyle, spell: &Spell) -> String {
    let rod = &SPREAD[spell.rod];
    let feet = |ft: Option<f64>| ft.map(|ft| style.feet(ft)).unwrap_or_default();
    let colors = spell.setup.colors.map(|colors| format!("{colors}")).unwrap_or_default();
    let on_cable = rod.method == Method::Downrigger;
    let weight = if on_cable { style.pounds(DOWNRIGGER_LB) } else { String::new() };
    let leader = feet(on_cable.then_some(DROP_BACK_FT));
    let Spell { setup, .. } = spell;
    format!("{},{colors},{weight},{leader},{},{}", feet(setup.line_out_ft), rod.lure, feet(setup.counter_ft))
}

impl NoteStyle {
    /// Name of a file of notes.
    pub(crate) fn file_name(self, what: &str, date: &str) -> String {
        match self {
            Self::ClockOnly => format!("{what} {date}.csv"),
            Self::FullDate | Self::MonthFirst => format!("{what}.csv"),
        }
    }

    /// The minute that a clock shows.
    fn time(self, clock: Clock, second: f64) -> String {
        clock.local(
            second,
            match self {
                Self::FullDate => "%Y-%m-%d %H:%M",
                Self::ClockOnly => "%H:%M",
                Self::MonthFirst => "%-m/%-d/%Y %-I:%M %p",
            },
        )
    }

    /// The nearest minute.
    fn nearest(self, clock: Clock, second: usize) -> String {
        self.time(clock, second as f64 + 30.0)
    }

    fn feet(self, ft: f64) -> String {
        match self {
            Self::FullDate => format!("{ft:.0} ft"),
            Self::ClockOnly | Self::MonthFirst => format!("{ft:.0}"),
        }
    }

    fn pounds(self, lb: f64) -> String {
        match self {
            Self::FullDate => format!("{lb:.1} lb"),
            Self::ClockOnly | Self::MonthFirst => format!("{lb:.1}"),
        }
    }
}
