//! Which band produced, which side of the breaks, which lure; and where that is not known, what would settle it.

use std::collections::BTreeSet;

use waterseam_tables::{TripTables, bands, break_sides, tackle_rates};

use crate::summary::Style;
use crate::words::{chance, count, depth_range, list, temp_range};

/// Everything that rates are told from: of a trip, a season or all years.
#[derive(Clone, Copy, Debug)]
pub struct Produced<'a> {
    /// Bins of every factor.
    pub bands: &'a [bands::Row],
    /// Lures and rods.
    pub tackle_rates: &'a [tackle_rates::Row],
    /// Sides of the breaks.
    pub break_sides: &'a [break_sides::Row],
}

impl<'a> Produced<'a> {
    /// Those of one trip.
    pub fn of(tables: &'a TripTables) -> Self {
        Self { bands: &tables.bands, tackle_rates: &tables.tackle_rates, break_sides: &tables.break_sides }
    }
}

/// Factors that always have a line, whether a band stands out or not.
const ALWAYS: [&str; 2] = ["depth_m", "temp_at_depth_c"];
/// Most lines about single species in a short account.
const SPECIES_LINES: usize = 2;
/// Most lures that are named.
const LURES_NAMED: usize = 3;

/// How much is said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// What stands out, so that a trip fits a page.
    Short,
    /// Also what does not.
    Full,
}

/// Lines for all bites together, and what stands out for one species.
pub fn produced(produced: &Produced, detail: Detail, style: &Style) -> Vec<String> {
    let mut lines = Vec::new();
    let mut silent = Vec::new();
    let factors = of_species(produced.bands, "*");
    for bins in &factors {
        let name = name(&bins[0].factor);
        if let Some(band) = Band::of(bins) {
            // about the break itself: what the distance has said
            if bins[0].factor == "break_side_m" && band.low < 0.0 && band.high > 0.0 {
                continue;
            }
            lines.push(format!("{name}: {}", band.words(style)));
        } else if ALWAYS.contains(&bins[0].factor.as_str()) {
            lines.push(format!("{name}: {}", not_told(bins)));
        } else if bins.len() > 1 {
            silent.push(name.to_owned());
        }
    }
    if !silent.is_empty() && detail == Detail::Full {
        lines.push(format!("{}: no band stands out", list(&silent)));
    }
    lines.extend(sides(produced.break_sides, detail, style));
    lines.extend(lures(produced.tackle_rates, detail));
    let mut of_each = of_each_species(produced.bands, style);
    if detail == Detail::Short && of_each.len() > SPECIES_LINES {
        let more = of_each.len() - SPECIES_LINES;
        of_each.truncate(SPECIES_LINES);
        of_each.push(format!("and {more} more of single species (table bands)"));
    }
    lines.extend(of_each);
    lines.extend(more(&factors));
    lines
}

/// The bands that stand out for one species.
fn of_each_species(bands: &[bands::Row], style: &Style) -> Vec<String> {
    let species: BTreeSet<&str> = bands.iter().map(|band| band.species.as_str()).collect();
    let mut lines = Vec::new();
    for species in species.into_iter().filter(|species| *species != "*") {
        for bins in of_species(bands, species) {
            let band = Band::of(&bins);
            lines.extend(
                band.map(|band| format!("{species}, {}: {}", name(&bins[0].factor), band.words(style))),
            );
        }
    }
    lines
}

/// Which run of bins gave most bites a rod-hour over all species, and how sure that is.
pub(crate) struct Best {
    /// Its range in words.
    pub(crate) range: String,
    /// Whether it stands out by more than luck.
    pub(crate) is_sure: bool,
    /// The numbers behind it.
    pub(crate) words: String,
}

/// A bin with a smaller share of the rod-hours is thin: one bite makes any rate of it.
const LEAST_SHARE: f64 = 0.05;

/// The bins that are not thin.
pub(crate) fn not_thin<'a>(bins: &[&'a bands::Row]) -> impl Iterator<Item = &'a bands::Row> {
    let least_hours = LEAST_SHARE * bins.iter().map(|bin| bin.rod_hours).sum::<f64>();
    bins.iter().copied().filter(move |bin| bin.rod_hours >= least_hours)
}

/// Best run of one factor's bins: the productive band, or where none stands out the bin that is surest to be good (its interval begins
/// highest), said to be unsure. `None` where no bin has bites.
pub(crate) fn best(bands: &[bands::Row], factor: &str, style: &Style) -> Option<Best> {
    let factors = of_species(bands, "*");
    let bins = factors.iter().find(|bins| bins[0].factor == factor)?;
    if let Some(band) = Band::of(bins) {
        let range = range(factor, band.low, band.high, style);
        return Some(Best { range, is_sure: true, words: band.numbers() });
    }
    let rated = not_thin(bins).filter(|bin| bin.bites > 0);
    let (rate, _, bin) = rated
        .filter_map(|bin| Some((bin.rate_per_rod_hour?, bin.rate_low?, bin)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let interval = bin
        .rate_low
        .zip(bin.rate_high)
        .map_or(String::new(), |(low, high)| format!(" (90 % sure: {low:.2} to {high:.2})"));
    Some(Best {
        range: range(factor, bin.low, bin.high, style),
        is_sure: false,
        words: format!("{rate:.2} a rod-hour{interval}, but {}", not_told(bins)),
    })
}

/// The factors whose band stands out by more than luck, over all species: name and range.
pub(crate) fn productive(bands: &[bands::Row], style: &Style) -> Vec<(&'static str, String)> {
    let factors = of_species(bands, "*");
    let sure = factors.iter().filter_map(|bins| Some((&bins[0].factor, Band::of(bins)?)));
    sure.filter(|(factor, band)| !(factor.as_str() == "break_side_m" && band.low < 0.0 && band.high > 0.0))
        .map(|(factor, band)| (name(factor), range(factor, band.low, band.high, style)))
        .collect()
}

/// How much more fishing would show a band, where none stands out yet.
pub(crate) fn more_needed(bands: &[bands::Row]) -> Option<String> {
    more(&of_species(bands, "*"))
}

/// The bins of one species, factor by factor.
pub(crate) fn of_species<'a>(bands: &'a [bands::Row], species: &str) -> Vec<Vec<&'a bands::Row>> {
    let own: Vec<&bands::Row> = bands.iter().filter(|band| band.species == species).collect();
    own.chunk_by(|a, b| a.factor == b.factor).map(<[_]>::to_vec).collect()
}

pub(crate) fn name(factor: &str) -> &'static str {
    match factor {
        "depth_m" => "depth",
        "temp_at_depth_c" => "temperature at depth",
        "stw_mps" => "speed through the water",
        "lure_speed_mps" => "speed at the lures",
        "break_distance_m" => "distance to a break",
        "break_side_m" => "side of a break",
        "above_thermocline_m" => "height above the thermocline",
        _ => "height of the sun",
    }
}

/// The productive band of one factor.
struct Band<'a> {
    bins: &'a [&'a bands::Row],
    low: f64,
    high: f64,
}

impl<'a> Band<'a> {
    fn of(bins: &'a [&'a bands::Row]) -> Option<Self> {
        let band = || bins.iter().filter(|bin| bin.in_productive_band);
        Some(Self { bins, low: band().next()?.low, high: band().next_back()?.high })
    }

    fn words(&self, style: &Style) -> String {
        let range = range(&self.bins[0].factor, self.low, self.high, style);
        format!("{range} produced best, {}", self.numbers())
    }

    fn numbers(&self) -> String {
        let p = self.bins[0].band_p_adjusted.or(self.bins[0].band_p_value).unwrap_or(1.0);
        format!(
            "{:.2} a rod-hour against {:.2} elsewhere (by luck: {})",
            self.rate(true),
            self.rate(false),
            chance(p),
        )
    }

    /// Bites per rod-hour inside or outside.
    fn rate(&self, inside: bool) -> f64 {
        let part = self.bins.iter().filter(|bin| bin.in_productive_band == inside);
        let (bites, hours) = part.fold((0, 0.0), |(n, h), bin| (n + bin.bites, h + bin.rod_hours));
        if hours > 0.0 { bites as f64 / hours } else { 0.0 }
    }
}

/// A run of bins in the captain's words.
pub(crate) fn range(factor: &str, low: f64, high: f64, style: &Style) -> String {
    let units = style.units;
    match factor {
        "depth_m" => depth_range(units, low, high),
        "temp_at_depth_c" => temp_range(units, low, high),
        "stw_mps" | "lure_speed_mps" => format!("{} to {}", units.speed(low), units.speed(high)),
        "break_distance_m" => away(low, high, style),
        "break_side_m" if low >= 0.0 => format!("the warm side, {},", away(low, high, style)),
        "break_side_m" if high <= 0.0 => format!("the cold side, {},", away(-high, -low, style)),
        "break_side_m" => format!(
            "from {} on the cold side to {} on the warm side",
            units.short_distance(-low),
            units.short_distance(high)
        ),
        "above_thermocline_m" if low >= 0.0 => format!("{} above it", depth_range(units, low, high)),
        "above_thermocline_m" if high <= 0.0 => format!("{} below it", depth_range(units, 0.0 - high, -low)),
        "above_thermocline_m" => {
            format!("from {} below to {} above it", units.depth(-low), units.depth(high))
        }
        _ if high <= 0.0 => "the dark".to_owned(),
        _ => format!("the sun {:.0}° to {high:.0}° high", low.max(0.0)),
    }
}

fn away(low_m: f64, high_m: f64, style: &Style) -> String {
    let far = style.units.short_distance(high_m);
    if low_m > 0.0 {
        format!("{} to {far} away", style.units.short_distance(low_m))
    } else {
        format!("within {far}")
    }
}

fn not_told(bins: &[&bands::Row]) -> String {
    let p = bins[0].band_p_adjusted.or(bins[0].band_p_value);
    let luck = p.map_or(String::new(), |p| format!(" (by luck: {})", chance(p)));
    format!("too thin to tell one band from another{luck}")
}

/// How much more fishing would show a band with twice the rate, where none stands out yet.
fn more(factors: &[Vec<&bands::Row>]) -> Option<String> {
    if factors.iter().flatten().any(|bin| bin.in_productive_band) {
        return None;
    }
    let least = factors.iter().filter_map(|bins| bins[0].more_rod_hours).reduce(f64::min)?;
    Some(format!("some {least:.0} rod-hours more would show a band with twice the rate"))
}

/// Warm side against cold side, where they differ by more than luck.
fn sides(rows: &[break_sides::Row], detail: Detail, style: &Style) -> Option<String> {
    let row = rows.iter().find(|row| row.species == "*")?;
    let within = style.units.short_distance(row.within_m);
    let (low, high) = (row.ratio_low?, row.ratio_high.unwrap_or(f64::INFINITY));
    let (better, worse, ratio, low, high) = if low > 1.0 {
        ("warm", "cold", row.ratio.unwrap_or(f64::INFINITY), low, high)
    } else if high < 1.0 {
        ("cold", "warm", row.ratio?.recip(), high.recip(), low.recip())
    } else {
        return (detail == Detail::Full).then(|| {
            format!(
                "sides of a break: alike within {within}, as far as {} tell",
                count((row.warm_bites + row.cold_bites) as usize, "bite", "bites"),
            )
        });
    };
    Some(if ratio.is_finite() {
        format!(
            "sides of a break: within {within} the {better} side gave {ratio:.1} times as many a rod-hour as the {worse} \
             (90 % sure: {low:.1} to {high:.1})"
        )
    } else {
        format!(
            "sides of a break: within {within} every bite came on the {better} side (90 % sure: at least {low:.1} times as many \
             a rod-hour)"
        )
    })
}

/// Lures that are surely better or worse than the average one in the same water.
fn lures(rows: &[tackle_rates::Row], detail: Detail) -> Option<String> {
    let lures = || rows.iter().filter(|row| row.what == "lure" && row.species == "*");
    if lures().count() < 2 {
        return None;
    }
    let mut sure: Vec<&tackle_rates::Row> =
        lures().filter(|row| row.ratio_low > 1.0 || row.ratio_high < 1.0).collect();
    sure.sort_by(|a, b| b.ratio.ln().abs().total_cmp(&a.ratio.ln().abs()).then(a.name.cmp(&b.name)));
    let named: Vec<String> = sure
        .iter()
        .take(LURES_NAMED)
        .map(|row| {
            format!("{} {:.1} times ({:.1} to {:.1})", row.name, row.ratio, row.ratio_low, row.ratio_high)
        })
        .collect();
    if named.is_empty() {
        return (detail == Detail::Full)
            .then(|| "lures: once depth, temperature and day are taken off, none stands out".to_owned());
    }
    Some(format!("lures, against the average one in the same water on the same day: {}", list(&named)))
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;
    use waterseam_units::UnitSystem;

    use super::*;

    fn style() -> Style {
        Style { units: UnitSystem::Metric, zone: TimeZone::UTC, several_days: false }
    }

    fn band(factor: &str, low: f64, bites: i64, productive: bool) -> bands::Row {
        bands::Row {
            trip_id: "2026".to_owned(),
            factor: factor.to_owned(),
            species: "*".to_owned(),
            low,
            high: low + 3.0,
            rod_hours: 10.0,
            bites,
            rate_per_rod_hour: Some(0.5),
            rate_low: Some(0.3),
            rate_high: Some(0.8),
            in_productive_band: productive,
            band_p_value: Some(0.02),
            band_p_adjusted: Some(0.04),
            more_rod_hours: (!productive).then_some(55.0),
        }
    }

    fn lines(bands: &[bands::Row]) -> Vec<String> {
        produced(&Produced { bands, tackle_rates: &[], break_sides: &[] }, Detail::Full, &style())
    }

    #[test]
    fn a_band_is_named_with_what_it_is_compared_with() {
        let got = lines(&[band("depth_m", 9.0, 2, false), band("depth_m", 12.0, 20, true)]);
        assert_eq!(
            got[0],
            "depth: 12-15 m produced best, 2.00 a rod-hour against 0.20 elsewhere (by luck: 0.04)"
        );
    }

    #[test]
    fn what_is_not_known_says_what_would_settle_it() {
        let got = lines(&[band("depth_m", 9.0, 2, false), band("depth_m", 12.0, 3, false)]);
        assert_eq!(got[0], "depth: too thin to tell one band from another (by luck: 0.04)");
        assert_eq!(got[1], "some 55 rod-hours more would show a band with twice the rate");
    }

    #[test]
    fn every_factor_has_its_own_words() {
        for (factor, low, want) in [
            ("break_side_m", 0.0, "the warm side, within 3 m,"),
            ("break_side_m", -3.0, "the cold side, within 3 m,"),
            ("above_thermocline_m", 3.0, "3-6 m above it"),
            ("above_thermocline_m", -6.0, "3-6 m below it"),
            ("above_thermocline_m", -3.0, "0-3 m below it"),
            ("above_thermocline_m", -1.0, "from 1.0 m below to 2.0 m above it"),
            ("sun_elevation_deg", -9.0, "the dark"),
            ("sun_elevation_deg", 6.0, "the sun 6° to 9° high"),
        ] {
            assert_eq!(range(factor, low, low + 3.0, &style()), want);
        }
    }

    #[test]
    fn the_better_side_comes_first() {
        let row = |low: f64, high: Option<f64>, ratio: Option<f64>| break_sides::Row {
            trip_id: "2026".to_owned(),
            species: "*".to_owned(),
            within_m: 400.0,
            warm_bites: 3,
            warm_rod_hours: 10.0,
            cold_bites: 12,
            cold_rod_hours: 10.0,
            ratio,
            ratio_low: Some(low),
            ratio_high: high,
            p_value: 0.03,
        };
        let say = |row| sides(&[row], Detail::Full, &style()).unwrap();
        assert!(say(row(0.1, Some(0.5), Some(0.25))).ends_with(
            "the cold side gave 4.0 times as many a rod-hour as the warm (90 % sure: 2.0 to 10.0)"
        ));
        assert!(
            say(row(1.5, None, None))
                .contains("every bite came on the warm side (90 % sure: at least 1.5 times")
        );
        assert!(say(row(0.5, Some(2.0), Some(1.0))).starts_with("sides of a break: alike"));
    }
}
