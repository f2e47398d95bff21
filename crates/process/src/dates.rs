//! Are the dates of a receiver true?
//!
//! A receiver that counts the weeks of its satellites wrongly gives dates that are 1024 weeks too early; one that was
//! just switched on may show any time until its first fix; a log may have no date at all. What is true shows in the
//! whole file and in the files beside it. A genuine old log must stay what it is: a date is changed on evidence only,
//! and what was done is said.
//!
//! ```text
//! stretches of one file ─▶ joined where the clock was set between them ─▶ moved by whole rollovers on evidence
//! ```

use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::story::ROLLOVER_US;
use waterseam_logs::{ClockHints, ClockStory, DateFrom, Kind, Retime, Stretch};
use waterseam_units::time::timestamp;

use crate::span::Span;

const US_PER_S: i64 = 1_000_000;
const DAY_US: i64 = 86_400 * US_PER_S;

/// A step of time is a rollover when it is no more than this shorter, µs …
const ROLLOVER_SLACK_US: i64 = DAY_US;
/// … or longer, µs: what is left over is a silence of the log.
const ROLLOVER_SILENCE_US: i64 = 120 * DAY_US;
/// A step is a date that was set when it is whole days to this, µs …
const WHOLE_DAY_US: i64 = 2 * US_PER_S;
/// … and the wrong date stood no longer than this, µs: satellites send all that tells the date within 12.5 minutes
/// (IS-GPS-200, 25 pages of 30 s, from memory). Without this one night in forty thousand would be taken for such a step.
const DATE_COMES_US: i64 = 1_800 * US_PER_S;
/// By the stamps of the lines no time passed at a step when it was less than this, µs.
const STAMPS_RUN_ON_US: i64 = 600 * US_PER_S;
/// Files of one trip lie this close, µs.
const SAME_TRIP_US: i64 = DAY_US / 2;
/// Before this no plotter wrote a track to a card that still reaches us: 2000-01-01 (common practice, no source), µs.
const FIRST_CARDS_US: i64 = 946_684_800 * US_PER_S;
/// A card is read within this of its writing where nothing else is known …
const OLDEST_US: i64 = 20 * 365 * DAY_US + 5 * DAY_US;
/// … and by a program that is not older than this, µs.
const PROGRAM_AGE_US: i64 = 365 * DAY_US;
/// So many dates of another receiver are no garbled sentences.
const LATER_DATES: u64 = 10;
/// Most rollovers since the first week of GPS that a log can be off by: 1999, 2019 and 2038.
const ROLLOVERS: i64 = 3;

/// Days of one file beside an undated one that are looked at.
const DAYS_MAX: i64 = 400;

/// Day of the release that this program belongs to. A constant, so that the same files give the same tables whenever
/// they are read; it moves with the version.
const RELEASED: jiff::civil::Date = jiff::civil::date(2026, 11, 25);

/// What is known of one file.
#[derive(Clone, Debug)]
pub struct FileTimes {
    /// Where it is.
    pub path: PathBuf,
    /// What it holds.
    pub kind: Kind,
    /// First to last time of it.
    pub span: Option<Span>,
    /// How its clock ran.
    pub clock: ClockStory,
    /// Day that its name says, or that of its folder, µs since 1970.
    pub named_us: Option<i64>,
}

/// What is to be done with one file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Finding {
    /// How to read it again.
    pub hints: ClockHints,
    /// What the captain should know.
    pub remarks: Vec<String>,
    /// How its offset is known, a word of the table `sources`.
    pub method: Option<&'static str>,
}

impl Finding {
    /// What is added to the file's clock, where it is one number for the file, s.
    pub fn offset_s(&self, clock: &ClockStory) -> Option<f64> {
        let first = self.hints.stretches.first()?;
        let is_one = self.hints.stretches.len() >= clock.stretches.len()
            && self.hints.stretches.iter().all(|retime| retime == first);
        match first {
            Retime::Add(add_us) if is_one => Some(*add_us as f64 / 1e6),
            _ => None,
        }
    }

    /// Whether the file has to be read again.
    pub fn changes_times(&self) -> bool {
        self.hints != ClockHints::default()
    }
}

/// When this program was released and since when the boat has logs, µs since 1970.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// Release of the program.
    pub released_us: i64,
    /// No log is older, by the boat file.
    pub earliest_us: Option<i64>,
}

impl Bounds {
    /// Those of this program and a boat.
    pub fn of(boat: &BoatFile) -> Self {
        let released = TimeZone::UTC.to_timestamp(RELEASED.at(0, 0, 0, 0));
        let released_us = released.map_or(0, jiff::Timestamp::as_microsecond);
        Self { released_us, earliest_us: boat.earliest_us }
    }
}

/// Stretches of one file that hang together: what has to be added to each is known up to one number.
#[derive(Clone, Debug)]
struct Chain {
    file: usize,
    /// Numbers of its stretches and what joins them, µs.
    members: Vec<(usize, i64)>,
    /// What is added to all of them, µs.
    all_us: i64,
    why: Option<String>,
}

/// Judges all files of a card together.
pub fn judge(files: &[FileTimes], bounds: Bounds) -> Vec<Finding> {
    let mut findings = vec![Finding::default(); files.len()];
    let mut chains: Vec<Chain> = Vec::new();
    for (index, file) in files.iter().enumerate() {
        if let Some(first_date_us) = late_date(&file.clock) {
            findings[index].hints.first_date_us = Some(first_date_us);
            findings[index].remarks.push(
                "The first positions have no date; it was counted back from the first sentence that has one."
                    .to_owned(),
            );
        }
        chains.extend(chains_of(index, file));
    }
    for chain in &mut chains {
        by_another_receiver(chain, &files[chain.file].clock.stretches);
        by_stamps(chain, &files[chain.file].clock.stretches);
    }
    // what one file shows may show it for the next
    for _ in 0..4 {
        let before: Vec<i64> = chains.iter().map(|chain| chain.all_us).collect();
        let latest_us = latest(&chains, files);
        for at in 0..chains.len() {
            // nothing can be beside a log of our days a rollover later
            let may_be_moved = chains[at].all_us == 0
                && span_of(&chains[at], &files[chains[at].file]).first_us + ROLLOVER_US <= latest_us;
            if may_be_moved && let Some((shift_us, why)) = by_other_files(at, &chains, files) {
                (chains[at].all_us, chains[at].why) = (shift_us, Some(why));
            }
        }
        if chains.iter().zip(before).all(|(chain, before)| chain.all_us == before) {
            break;
        }
    }
    let mut doubted = vec![false; files.len()];
    for chain in chains.iter_mut().filter(|chain| chain.all_us == 0) {
        let file = &files[chain.file];
        let span = span_of(chain, file);
        if independent(file, files).any(|(other, _)| is_near(other, span)) {
            continue;
        }
        match by_bounds(span, file.kind, &chain.members, file, bounds) {
            Plausible::Moved(shift_us, why) => (chain.all_us, chain.why) = (shift_us, Some(why)),
            // of many days in one file the first speaks for all
            Plausible::Doubtful(_) if doubted[chain.file] => {}
            Plausible::Doubtful(remark) => {
                doubted[chain.file] = true;
                findings[chain.file].remarks.push(remark);
            }
            Plausible::Fine => {}
        }
    }
    for chain in &chains {
        tell(chain, &files[chain.file], &mut findings[chain.file]);
    }
    undated(files, &chains, &mut findings);
    findings
}

/// The first date of a log whose clock times come before any date.
fn late_date(clock: &ClockStory) -> Option<i64> {
    let (undated, first) = (clock.undated?, clock.stretches.first()?);
    if first.date != DateFrom::Sentences {
        return None;
    }
    let over_midnight = undated.last_us - first.first_us.rem_euclid(DAY_US) > DAY_US / 2;
    let midnights = undated.midnights + i64::from(over_midnight);
    Some((first.first_us.div_euclid(DAY_US) - midnights) * DAY_US)
}

fn chains_of(index: usize, file: &FileTimes) -> Vec<Chain> {
    let chain = |members| Chain { file: index, members, all_us: 0, why: None };
    let stretches = &file.clock.stretches;
    if file.kind == Kind::Gpx && file.span.is_some() {
        return vec![chain(vec![(0, 0)])];
    }
    let mut chains: Vec<Chain> = Vec::new();
    for (number, stretch) in stretches.iter().enumerate() {
        let joined = number.checked_sub(1).and_then(|before| join(&stretches[before], stretch));
        match (joined, chains.last_mut()) {
            // what is added to the earlier stretch, less what is added to this one
            (Some(set_us), Some(chain)) => {
                let before = chain.members[chain.members.len() - 1].1;
                chain.members.push((number, before - set_us));
            }
            _ => chains.push(chain(vec![(number, 0)])),
        }
    }
    for chain in &mut chains {
        anchor(chain, stretches);
    }
    chains
}

/// By how much the clock was set between two stretches, µs; `None` where the log may as well have been silent.
fn join(before: &Stretch, after: &Stretch) -> Option<i64> {
    let step_us = after.first_us - before.last_us;
    let rollovers = nearest_multiple(step_us, ROLLOVER_US);
    if rollovers != 0 && (-ROLLOVER_SLACK_US..=ROLLOVER_SILENCE_US).contains(&(step_us - rollovers)) {
        return Some(rollovers);
    }
    if let (Some((_, left_us)), Some((entered_us, _))) = (before.leads_us, after.leads_us) {
        let set_us = left_us - entered_us;
        let passed_us = step_us - set_us;
        let is_set = set_us.abs() > STAMPS_RUN_ON_US && passed_us.abs() <= STAMPS_RUN_ON_US;
        return is_set.then_some(set_us);
    }
    let days = nearest_multiple(step_us - before.tick_us, DAY_US);
    let may_wait_for_date =
        before.date == DateFrom::Outside || before.last_us - before.first_us <= DATE_COMES_US;
    if days != 0 && (step_us - before.tick_us - days).abs() <= WHOLE_DAY_US && may_wait_for_date {
        return Some(days);
    }
    // a receiver without a fix: its clock stood anywhere until the satellites set it
    let was_lost = before.fixes == 0 && after.fixes > 0;
    let shows = step_us < 0 || before.last_us < FIRST_CARDS_US;
    (was_lost && shows).then_some(step_us - before.tick_us.max(US_PER_S))
}

fn nearest_multiple(value_us: i64, of_us: i64) -> i64 {
    (value_us + of_us / 2).div_euclid(of_us) * of_us
}

/// Says which stretch of a chain has the true time: of stretches with positions the latest date where they differ by
/// whole rollovers, else the last; a clock is set to be right.
fn anchor(chain: &mut Chain, stretches: &[Stretch]) {
    let fixes_most = chain.members.iter().map(|&(s, _)| stretches[s].fixes).max().unwrap_or_default();
    let placed: Vec<i64> = chain
        .members
        .iter()
        .filter(|&&(s, _)| fixes_most == 0 || stretches[s].fixes >= fixes_most.min(10))
        .map(|&(_, add_us)| add_us)
        .collect();
    let by_rollovers = placed.iter().all(|add_us| (add_us - placed[0]) % ROLLOVER_US == 0);
    let zero = if by_rollovers { placed.iter().copied().min() } else { placed.last().copied() };
    for (_, add_us) in &mut chain.members {
        *add_us -= zero.unwrap_or_default();
    }
}

/// The latest time of any file, as corrected so far, and half a day.
fn latest(chains: &[Chain], files: &[FileTimes]) -> i64 {
    let receivers = chains.iter().map(|chain| span_of(chain, &files[chain.file]).last_us);
    let all = files.iter().flat_map(|file| [file.span.map(|span| span.last_us), file.named_us]);
    receivers.chain(all.flatten()).max().unwrap_or_default() + DAY_US + SAME_TRIP_US
}

/// From the first to the last instant of a chain, as it is corrected so far.
fn span_of(chain: &Chain, file: &FileTimes) -> Span {
    if file.kind == Kind::Gpx {
        let span = file.span.unwrap_or(Span { first_us: 0, last_us: 0 });
        return moved(span, chain.all_us);
    }
    let ends = chain.members.iter().flat_map(|&(number, add_us)| {
        let stretch = &file.clock.stretches[number];
        [stretch.first_us + add_us + chain.all_us, stretch.last_us + add_us + chain.all_us]
    });
    let (first_us, last_us) =
        ends.fold((i64::MAX, i64::MIN), |(low, high), end| (low.min(end), high.max(end)));
    Span { first_us, last_us }
}

fn moved(span: Span, by_us: i64) -> Span {
    Span { first_us: span.first_us + by_us, last_us: span.last_us + by_us }
}

/// Whether sentences give the dates of a chain: only these can be a receiver's.
fn is_dated(chain: &Chain, file: &FileTimes) -> bool {
    let by_sentences = |&(s, _): &(usize, i64)| file.clock.stretches[s].date == DateFrom::Sentences;
    file.kind == Kind::Gpx || chain.members.iter().all(by_sentences)
}

/// A second receiver in the same log whose dates are whole rollovers later.
fn by_another_receiver(chain: &mut Chain, stretches: &[Stretch]) {
    let later = chain.members.iter().find_map(|&(s, add_us)| {
        let (later_us, n) = stretches.get(s)?.later?;
        (n >= LATER_DATES && later_us > add_us).then_some(later_us - add_us)
    });
    if let Some(later_us) = later {
        (chain.all_us, chain.why) = (later_us, Some("another receiver in the same log says".to_owned()));
    }
}

/// Stamps of the lines that are a whole rollover later than the sentences.
fn by_stamps(chain: &mut Chain, stretches: &[Stretch]) {
    let lead = chain.members.iter().find_map(|&(s, add_us)| {
        let (first_us, _) = stretches.get(s)?.leads_us?;
        Some(first_us - add_us)
    });
    if let Some(lead_us) = lead {
        let rollovers = nearest_multiple(lead_us, ROLLOVER_US);
        if rollovers > 0 && (lead_us - rollovers).abs() <= ROLLOVER_SLACK_US {
            (chain.all_us, chain.why) = (rollovers, Some("the stamps before the sentences say".to_owned()));
        }
    }
}

/// A whole rollover that brings a chain beside other files of its folder, where it has no company as it is.
fn by_other_files(at: usize, chains: &[Chain], files: &[FileTimes]) -> Option<(i64, String)> {
    let chain = &chains[at];
    let file = &files[chain.file];
    let span = span_of(chain, file);
    if !is_dated(chain, file) || independent(file, files).any(|(other, _)| is_near(other, span)) {
        return None;
    }
    // the same receiver on another day
    let sibling = chains.iter().filter(|other| other.file == chain.file && other.all_us != 0).find(|other| {
        let said = moved(span_of(other, file), -other.all_us);
        (said.first_us - span.first_us).abs() <= ROLLOVER_SILENCE_US
    });
    if let Some(sibling) = sibling {
        return Some((sibling.all_us, "another day of this file shows".to_owned()));
    }
    // other receivers, for what they would have it moved to
    let receivers = || {
        chains
            .iter()
            .filter(|other| other.file != chain.file && is_beside(&files[other.file], file))
            .map(|other| (span_of(other, &files[other.file]), Some(&files[other.file].path)))
    };
    (1..=ROLLOVERS).find_map(|n| {
        let shift_us = n * ROLLOVER_US;
        let there = moved(span, shift_us);
        let (_, who) =
            independent(file, files).chain(receivers()).find(|(other, _)| is_near(*other, there))?;
        let who = who.map_or("the name of the file or its folder".to_owned(), |path| name(path));
        Some((shift_us, format!("{who} says")))
    })
}

/// Times beside a file that no satellite sets, and the file that says them; `None`: its own name does.
fn independent<'a>(
    file: &'a FileTimes,
    files: &'a [FileTimes],
) -> impl Iterator<Item = (Span, Option<&'a PathBuf>)> {
    let named = file.named_us.map(|day_us| (Span { first_us: day_us, last_us: day_us + DAY_US }, None));
    let notes = files
        .iter()
        .filter(|other| !matches!(other.kind, Kind::Nmea0183 | Kind::Gpx))
        .filter_map(|other| Some((other.span?, Some(&other.path), other)))
        .filter(|(_, _, other)| is_beside(other, file));
    notes.map(|(span, path, _)| (span, path)).chain(named)
}

/// Whether two spans may be those of one trip.
fn is_near(a: Span, b: Span) -> bool {
    Span { first_us: a.first_us - SAME_TRIP_US, last_us: a.last_us + SAME_TRIP_US }.overlaps(&b)
}

/// Whether two files lie in one folder, or one in a folder below that of the other.
fn is_beside(a: &FileTimes, b: &FileTimes) -> bool {
    let (a, b) = (a.path.parent(), b.path.parent());
    a.zip(b).is_some_and(|(a, b)| a.starts_with(b) || b.starts_with(a))
}

enum Plausible {
    Fine,
    Moved(i64, String),
    Doubtful(String),
}

/// What the dates of a chain are worth where nothing else speaks of them.
fn by_bounds(
    span: Span,
    kind: Kind,
    members: &[(usize, i64)],
    file: &FileTimes,
    bounds: Bounds,
) -> Plausible {
    let dated = |&(s, _): &(usize, i64)| {
        file.clock.stretches.get(s).is_some_and(|stretch| stretch.date == DateFrom::Sentences)
    };
    let has_fixes = members.iter().any(|&(s, _)| file.clock.stretches.get(s).is_some_and(|s| s.fixes > 0));
    if kind != Kind::Gpx && !(members.iter().all(dated) && has_fixes) {
        return Plausible::Fine;
    }
    let latest_us = bounds.released_us + PROGRAM_AGE_US;
    let landing = |from_us: i64| {
        let mut shifts = (1..=ROLLOVERS)
            .map(|n| n * ROLLOVER_US)
            .filter(|shift_us| from_us <= span.first_us + shift_us && span.last_us + shift_us <= latest_us);
        let first = shifts.next();
        if shifts.next().is_some() { None } else { first }
    };
    let day = day_text(span.first_us);
    if let Some(earliest_us) = bounds.earliest_us {
        if earliest_us <= span.first_us {
            return Plausible::Fine;
        }
        return match landing(earliest_us) {
            Some(shift_us) => {
                Plausible::Moved(shift_us, "the boat file says that no log of hers is so old".to_owned())
            }
            None => Plausible::Doubtful(format!(
                "Its dates ({day}) lie before the boat's earliest log; no whole rollover of GPS weeks explains them, so \
                 they stay as they are."
            )),
        };
    }
    if span.last_us < FIRST_CARDS_US {
        return match landing(bounds.released_us - OLDEST_US) {
            Some(shift_us) => Plausible::Moved(shift_us, "no log is so old".to_owned()),
            None => Plausible::Doubtful(format!(
                "Its dates ({day}) are older than any log on a card; the receiver counted its weeks wrongly, and \
                 which year is true is not known. Say since when there are logs in the boat file: [trips] earliest = \
                 \"2015-03-01\"."
            )),
        };
    }
    if span.last_us + ROLLOVER_US <= latest_us {
        let later = day_text(span.first_us + ROLLOVER_US);
        return Plausible::Doubtful(format!(
            "Its dates ({day}) are either true or, from a receiver that counts its weeks wrongly, 1024 weeks too early \
             ({later}); they stay as they are. If no log of this boat is so old, say in the boat file since when there \
             are logs: [trips] earliest = \"2015-03-01\"."
        ));
    }
    Plausible::Fine
}

/// Writes what is done with a chain into the finding of its file.
fn tell(chain: &Chain, file: &FileTimes, finding: &mut Finding) {
    let hints = &mut finding.hints;
    let mut set = |number: usize, retime: Retime| {
        if hints.stretches.len() <= number {
            hints.stretches.resize(number + 1, Retime::Add(0));
        }
        hints.stretches[number] = retime;
    };
    let stretches = &file.clock.stretches;
    if let [(number, _)] = chain.members[..]
        && let Some(stretch) = stretches.get(number)
        && stretches.len() > 1
        && (stretch.fixes, chain.all_us) == (0, 0)
        && stretch.date == DateFrom::Sentences
        && stretch.last_us < FIRST_CARDS_US
    {
        set(number, Retime::SetAside);
        return;
    }
    let mut set_by: Vec<(usize, i64)> = Vec::new();
    for &(number, add_us) in &chain.members {
        let add_us = add_us + chain.all_us;
        if add_us != 0 {
            set(number, Retime::Add(add_us));
            set_by.push((number, add_us));
        }
    }
    let rolled = |add_us: i64| add_us != 0 && add_us % ROLLOVER_US == 0;
    let first_us =
        |number: usize| stretches.get(number).map_or(file.span.map_or(0, |s| s.first_us), |s| s.first_us);
    if let Some(&(number, add_us)) = set_by.iter().find(|(_, add_us)| rolled(*add_us)) {
        let weeks = 1024 * (add_us / ROLLOVER_US);
        let (said, read) = (day_text(first_us(number)), day_text(first_us(number) + add_us));
        let why = chain.why.clone().unwrap_or_else(|| "its own sentences before or after say".to_owned());
        if finding.method != Some("gps_week_rollover") {
            finding.remarks.push(format!(
                "The receiver's dates are {weeks} weeks too early (the number of the GPS week starts again every 1024 \
                 weeks): {said} was read as {read}, for {why} so."
            ));
        }
        finding.method = Some("gps_week_rollover");
    }
    for &(number, add_us) in set_by.iter().filter(|(_, add_us)| !rolled(*add_us)) {
        let said = timestamp(first_us(number)).strftime("%Y-%m-%d %H:%M:%S");
        let read = timestamp(first_us(number) + add_us).strftime("%Y-%m-%d %H:%M:%S");
        finding.remarks.push(format!(
            "The clock was set while the log ran: what came at {said} by the old clock was read as {read}, counted back \
             from the line where it was set."
        ));
        finding.method.get_or_insert("clock_set");
    }
}

/// Finds the day of logs whose sentences give none.
fn undated(files: &[FileTimes], chains: &[Chain], findings: &mut [Finding]) {
    let known: Vec<(usize, Span)> = files
        .iter()
        .enumerate()
        .filter(|(_, file)| !matches!(file.kind, Kind::Nmea0183 | Kind::Gpx))
        .filter_map(|(index, file)| Some((index, file.span?)))
        .chain(
            chains
                .iter()
                .filter(|chain| is_dated(chain, &files[chain.file]))
                .map(|chain| (chain.file, span_of(chain, &files[chain.file]))),
        )
        .collect();
    for (index, file) in files.iter().enumerate() {
        let (first_us, last_us, by_name_us) = match (file.clock.undated, &file.clock.stretches[..]) {
            (Some(clock), []) => (clock.first_us, clock.midnights * DAY_US + clock.last_us, None),
            (None, [only]) if only.date == DateFrom::Outside => {
                let start_us = only.first_us.div_euclid(DAY_US) * DAY_US;
                (only.first_us - start_us, only.last_us - start_us, Some(start_us))
            }
            _ => continue,
        };
        let on = |date_us: i64| Span { first_us: date_us + first_us, last_us: date_us + last_us };
        let beside = || known.iter().filter(|(other, _)| *other != index && is_beside(&files[*other], file));
        let mut days: Vec<i64> = beside()
            .flat_map(|(_, span)| {
                let (first, last) = (span.first_us.div_euclid(DAY_US), span.last_us.div_euclid(DAY_US));
                let days = first - 1..=last.min(first + DAYS_MAX) + 1;
                days.map(|day| day * DAY_US).filter(|day_us| on(*day_us).overlaps(span))
            })
            .collect();
        days.sort_unstable();
        days.dedup();
        let Finding { hints, remarks, .. } = &mut findings[index];
        match (&days[..], by_name_us, file.named_us) {
            (days, Some(day_us), _) if days.len() != 1 || days.contains(&day_us) => {}
            ([day_us], ..) => {
                hints.first_date_us = Some(*day_us);
                let who = beside().find(|(_, span)| on(*day_us).overlaps(span)).map_or(index, |(other, _)| *other);
                remarks.push(format!(
                    "No sentence gives a date; it was taken from {} beside it: {}.",
                    name(&files[who].path),
                    day_text(*day_us)
                ));
            }
            (_, _, Some(day_us)) => {
                hints.first_date_us = Some(day_us);
                remarks.push("No sentence gives a date; it was taken from the name of the folder.".to_owned());
            }
            (days, ..) => remarks.push(format!(
                "No sentence gives a date, and {}. Put it into the name of the file, like 2026-06-14.nmea, and process \
                 it again.",
                if days.is_empty() { "no file beside it does" } else { "files beside it give several" }
            )),
        }
    }
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

fn day_text(time_us: i64) -> String {
    timestamp(time_us).strftime("%Y-%m-%d").to_string()
}

#[cfg(test)]
mod tests;
