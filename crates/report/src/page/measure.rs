//! How is a quantity shown in each of the three unit systems, as words, on an axis and by the script?

use std::ops::Range;

use serde_json::{Value, json};
use waterseam_units::UnitSystem;

use super::markup::{Markup, put};
use crate::summary::Style;

/// The three systems, in the order of the switch.
pub(crate) const SYSTEMS: [UnitSystem; 3] = [UnitSystem::Imperial, UnitSystem::Metric, UnitSystem::Marine];

/// A quantity with units of its own in each system.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Measure {
    /// °C in the tables.
    Temp,
    /// m below the surface, or of water.
    Depth,
    /// m/s.
    Speed,
    /// m along the track.
    Distance,
    /// What has no unit that differs: a rate, hours.
    Plain,
}

/// A unit: what is shown is the value of the tables times `factor` plus `offset`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Unit {
    pub(crate) factor: f64,
    pub(crate) offset: f64,
    pub(crate) name: &'static str,
    pub(crate) decimals: usize,
}

impl Measure {
    pub(crate) fn unit(self, system: UnitSystem) -> Unit {
        let linear = |value: &dyn Fn(f64) -> f64, name, decimals| Unit {
            factor: value(1.0) - value(0.0),
            offset: value(0.0),
            name,
            decimals,
        };
        match self {
            Self::Temp => linear(&|c| system.temp_value(c), system.temp_unit(), 1),
            Self::Depth => {
                let decimals = usize::from(system != UnitSystem::Imperial);
                linear(&|m| system.depth_value(m), system.depth_unit(), decimals)
            }
            Self::Speed => linear(&|mps| system.speed_value(mps), system.speed_unit(), 1),
            Self::Distance => linear(&|m| system.distance_value(m), system.distance_unit(), 1),
            Self::Plain => Unit { factor: 1.0, offset: 0.0, name: "", decimals: 1 },
        }
    }

    /// What the script needs to show values: factor, offset, name and decimals in each system.
    pub(crate) fn json(self) -> Value {
        let of = |system| {
            let unit = self.unit(system);
            // no noise of the division that it comes from
            json!([(unit.factor * 1e12).round() / 1e12, unit.offset, unit.name, unit.decimals])
        };
        json!({ "imperial": of(SYSTEMS[0]), "metric": of(SYSTEMS[1]), "marine": of(SYSTEMS[2]) })
    }
}

/// Class of what is shown in one system only.
pub(crate) fn class(system: UnitSystem) -> &'static str {
    match system {
        UnitSystem::Imperial => "in-imperial",
        UnitSystem::Metric => "in-metric",
        UnitSystem::Marine => "in-marine",
    }
}

/// The style of a page in each system.
#[derive(Clone, Debug)]
pub(crate) struct Styles {
    each: [Style; 3],
    boat: Style,
}

impl Styles {
    pub(crate) fn of(style: &Style) -> Self {
        Self { each: SYSTEMS.map(|units| Style { units, ..style.clone() }), boat: style.clone() }
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = &Style> {
        self.each.iter()
    }

    /// The boat's own, where only one can be given.
    pub(crate) fn boat(&self) -> &Style {
        &self.boat
    }

    /// Words in each system.
    pub(crate) fn each<T>(&self, words: impl Fn(&Style) -> T) -> [T; 3] {
        self.each.each_ref().map(words)
    }

    /// Words in the units that are chosen on the page: once where they are the same in all.
    pub(crate) fn words(&self, words: impl Fn(&Style) -> String) -> Markup {
        let all = self.each.each_ref().map(words);
        let mut out = Markup::default();
        if all[0] == all[1] && all[0] == all[2] {
            out.text(&all[0]);
            return out;
        }
        for (style, words) in self.iter().zip(&all) {
            put!(out, "<span class=\"{}\">{}</span>", class(style.units), words);
        }
        out
    }

    /// Lines of a summary as a list. A line that is indented there belongs to the one above.
    pub(crate) fn list(&self, lines: impl Fn(&Style) -> Vec<String>) -> Markup {
        let all = self.each.each_ref().map(lines);
        let mut out = Markup::default();
        out.raw("<ul class=\"words\">");
        let mut item = |texts: [&str; 3], classes: &str| {
            let more = if texts[0].starts_with("  ") { " under" } else { "" };
            put!(out, "<li class=\"{}{}\">", classes, more);
            out.put(&self.words(|style| {
                let which = SYSTEMS.iter().position(|units| *units == style.units).unwrap_or(0);
                texts[which].trim_start().to_owned()
            }));
            out.raw("</li>");
        };
        if all[0].len() == all[1].len() && all[0].len() == all[2].len() {
            for ((a, b), c) in all[0].iter().zip(&all[1]).zip(&all[2]) {
                item([a, b, c], "");
            }
        } else {
            // what rounds to nothing in one unit may be told in another
            for (style, lines) in self.iter().zip(&all) {
                for line in lines {
                    item([line; 3], class(style.units));
                }
            }
        }
        out.raw("</ul>");
        out
    }
}

/// A straight axis of a drawing, in the units of the tables.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Axis {
    measure: Measure,
    from: f64,
    to: f64,
    from_px: f64,
    to_px: f64,
}

impl Axis {
    /// An axis over values that are not all the same; where they are, about them.
    pub(crate) fn new(measure: Measure, values: Range<f64>, px: Range<f64>) -> Self {
        let (from, to) = if values.end - values.start > 1e-9 {
            (values.start, values.end)
        } else {
            (values.start - 0.5, values.start + 0.5)
        };
        Self { measure, from, to, from_px: px.start, to_px: px.end }
    }

    /// Where a value stands; one that is off the axis at its end.
    pub(crate) fn at(&self, value: f64) -> f64 {
        let part = ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        self.from_px + part * (self.to_px - self.from_px)
    }

    /// Value and label of about `n` round values in one system's unit.
    pub(crate) fn ticks(&self, system: UnitSystem, n: f64) -> Vec<(f64, String)> {
        let unit = self.measure.unit(system);
        let (low, high) = (self.from * unit.factor + unit.offset, self.to * unit.factor + unit.offset);
        let step = round_step((high - low) / n);
        let decimals = (-step.log10().floor()).max(0.0) as usize;
        let first = (low / step - 1e-9).ceil() as i64;
        let last = (high / step + 1e-9).floor() as i64;
        (first..=last)
            .map(|k| {
                let shown = k as f64 * step;
                ((shown - unit.offset) / unit.factor, format!("{shown:.decimals$}"))
            })
            .collect()
    }

    /// Name of the axis' unit in one system.
    pub(crate) fn unit(&self, system: UnitSystem) -> &'static str {
        self.measure.unit(system).name
    }
}

/// The smallest of 1, 2, 5, 10 … that is no smaller than `step`.
pub(crate) fn round_step(step: f64) -> f64 {
    let step = step.abs().max(1e-6);
    let power = 10_f64.powf(step.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|k| k * power).find(|round| *round >= step * 0.999).unwrap_or(step)
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;

    use super::*;

    #[test]
    fn ticks_are_round_in_the_unit_that_is_shown() {
        let axis = Axis::new(Measure::Depth, 0.0..30.0, 0.0..300.0);
        let labels = |system| axis.ticks(system, 5.0).into_iter().map(|(_, label)| label).collect::<Vec<_>>();
        assert_eq!(labels(UnitSystem::Metric), ["0", "10", "20", "30"]);
        assert_eq!(labels(UnitSystem::Imperial), ["0", "20", "40", "60", "80"]);
        let (twenty_feet_m, _) = axis.ticks(UnitSystem::Imperial, 5.0)[1];
        assert!((axis.at(twenty_feet_m) - 60.96).abs() < 1e-9);
        assert_eq!(axis.at(99.0), 300.0);
    }

    #[test]
    fn an_axis_of_one_value_has_room() {
        let axis = Axis::new(Measure::Temp, 4.0..4.0, 0.0..100.0);
        assert_eq!(axis.at(4.0), 50.0);
        assert!(!axis.ticks(UnitSystem::Marine, 3.0).is_empty());
    }

    #[test]
    fn words_that_are_the_same_in_all_systems_come_once() {
        let styles =
            Styles::of(&Style { units: UnitSystem::Metric, zone: TimeZone::UTC, several_days: false });
        assert_eq!(styles.words(|_| "25 bites".to_owned()).as_str(), "25 bites");
        assert_eq!(
            styles.words(|style| style.units.speed(1.0)).as_str(),
            "<span class=\"in-imperial\">2.2 mph</span><span class=\"in-metric\">3.6 km/h</span>\
             <span class=\"in-marine\">1.9 kn</span>"
        );
    }

    #[test]
    fn the_script_shows_what_the_words_say() {
        for (measure, value, words) in [
            (Measure::Temp, 12.34, UnitSystem::temp as fn(UnitSystem, f64) -> String),
            (Measure::Depth, 14.63, UnitSystem::depth),
            (Measure::Speed, 1.03, UnitSystem::speed),
            (Measure::Distance, 34_500.0, UnitSystem::distance),
        ] {
            for system in SYSTEMS {
                let unit = &measure.json()[system.to_string()];
                let shown = value * unit[0].as_f64().unwrap() + unit[1].as_f64().unwrap();
                let decimals = unit[3].as_u64().unwrap() as usize;
                let text = format!("{shown:.decimals$} {}", unit[2].as_str().unwrap());
                assert_eq!(text, words(system, value), "{measure:?}");
            }
        }
    }
}
