//! `rundepth`: how deep lines run at a speed, and how much line reaches a depth.

use waterseam_logs::LineMethod;
use waterseam_logs::boat::{BoatFile, SpreadRod};
use waterseam_logs::quantity::{self, Dimension};
use waterseam_report::{DepthBand, LineRun, RunningDepths};
use waterseam_tables::{Logbook, bands};
use waterseam_tackle::{Refusal, Setup, Tackle, Tow, rod_key};
use waterseam_units::UnitSystem;
use waterseam_units::convert::MPS_PER_MPH;

use crate::args::{Format, RundepthArgs};
use crate::output::{Output, Status, WrongUsage};

/// The change of speed that is looked at: as much as a helmsman lets pass (common practice, no source), m/s.
const SPEED_STEP_MPS: f64 = 0.2 * MPS_PER_MPH;

/// Prints one line, or every line of the boat file.
///
/// # Errors
/// Where an amount is none, the setup does not say enough, or the boat file or the logbook cannot be read.
pub fn run(args: &RundepthArgs, out: &mut Output) -> anyhow::Result<Status> {
    let (boat, _) = super::boat(args.boat.as_deref(), &[])?;
    let units = args.units.unwrap_or(boat.units);
    let below = speeds_at(args, units)?;
    let tow = Tow {
        density_kg_per_m3: waterseam_process::settings::density_kg_per_m3(&boat),
        below: &below,
        ..Tow::by_log(amount("--speed", &args.speed, Dimension::Speed, units)?)
    };
    let target_m = optional("--target", args.target.as_deref(), Dimension::Depth, units)?;
    if target_m == Some(0.0) {
        return Err(wrong(
            "--target: a line that runs at the surface needs no computing; write a depth below it",
        ));
    }
    let tackle = waterseam_process::settings::tackle(&boat);
    let plain = Tackle::new(&boat.divers, &[], tow.density_kg_per_m3);
    let one = asked_for(args, &boat, units)?;
    let setups = match &one {
        Some(setup) => vec![*setup],
        None => boat.spread.iter().chain(&boat.tackle).map(Setup::from).collect(),
    };
    if setups.is_empty() {
        return Err(wrong(
            "no line is named: write --line KIND with --out LENGTH, or name a boat file with --boat whose [[spread]] \
             or [[tackle]] holds lines",
        ));
    }
    let lines = setups.iter().map(|setup| line_run(setup, &tow, target_m, &tackle, &plain)).collect();
    let asked =
        RunningDepths { units, tow, step_mps: SPEED_STEP_MPS, target_m, band: band(args, units)?, lines };
    for (n, seen) in tackle.seen().iter().enumerate() {
        if let Err(reason) = seen.without {
            let why = waterseam_report::refusal(reason, units);
            out.warn(&format!("observed depth {} of the boat file could not be used: {why}", n + 1));
        }
    }
    print(args.format, &asked, one.is_some(), out)
}

fn print(format: Format, asked: &RunningDepths<'_>, one: bool, out: &mut Output) -> anyhow::Result<Status> {
    let refused: Vec<Refusal> = asked.lines.iter().filter_map(|line| line.run.depth.err()).collect();
    if let ([line], true, Format::Text) = (&asked.lines[..], one, format) {
        match waterseam_report::running_depth(asked, line) {
            Ok(text) => out.result(&text)?,
            Err(reason) => return refuse(reason, asked.units),
        }
    } else {
        out.result(&match format {
            Format::Text => waterseam_report::running_depths(asked),
            Format::Json => {
                format!("{}\n", serde_json::to_string_pretty(&waterseam_report::running_depths_json(asked))?)
            }
        })?;
        if let ([reason], true) = (&refused[..], one) {
            return refuse(*reason, asked.units);
        }
    }
    if refused.len() == asked.lines.len() {
        out.warn(if asked.target_m.is_some() {
            "none of the lines reaches the depth"
        } else {
            "no line has a depth"
        });
        return Ok(Status::Failed);
    }
    Ok(Status::Done)
}

/// A line that cannot do what is asked is a failure; one that was not described well enough is wrong usage.
fn refuse(reason: Refusal, units: UnitSystem) -> anyhow::Result<Status> {
    let why = waterseam_report::refusal(reason, units);
    let hint = match reason {
        Refusal::NoMethod | Refusal::NotANumber => "",
        Refusal::NoLineOut => ": write --out LENGTH (for cored line --colors N), or --target DEPTH",
        Refusal::NoWeight => ": write --weight WEIGHT",
        Refusal::AllLeader => ": write a longer --out, or a shorter --leader",
        Refusal::NoTable => "; write one, and name it or its rod with --rod",
        Refusal::WhichTable => " with --rod",
        _ => anyhow::bail!("this line {why}"),
    };
    Err(wrong(&format!("{why}{hint}")))
}

fn line_run<'a>(
    setup: &Setup<'a>,
    tow: &Tow<'_>,
    target_m: Option<f64>,
    tackle: &Tackle,
    plain: &Tackle,
) -> LineRun<'a> {
    let reached = target_m.map_or(Ok(*setup), |target_m| tackle.reach(setup, tow, target_m));
    let setup = reached.unwrap_or(*setup);
    let mut run = tackle.run(&setup, tow, SPEED_STEP_MPS);
    if let Err(reason) = reached {
        run.depth = Err(reason);
    }
    let computed = setup.depth_m.is_none() && run.depth.is_ok();
    LineRun {
        setup,
        run,
        shape: if computed { tackle.shape(&setup, tow).ok() } else { None },
        observed: if computed { setup.method.map_or(0, |method| tackle.observed(method)) } else { 0 },
        without_m: plain.running_depth(&setup, tow).map(|depth| depth.depth_m).filter(|_| computed),
    }
}

/// The one line that is asked for: a rod of the boat file with what the arguments change, or what they say alone.
fn asked_for<'a>(
    args: &'a RundepthArgs,
    boat: &'a BoatFile,
    units: UnitSystem,
) -> anyhow::Result<Option<Setup<'a>>> {
    let named = args.rod.as_deref().and_then(|rod| {
        let is_it = |line: &&SpreadRod| rod_key(&line.rod) == rod_key(rod);
        boat.spread.iter().chain(&boat.tackle).find(is_it)
    });
    let method = match &args.line {
        Some(word) => Some(LineMethod::understood(word).ok_or_else(|| {
            let known: Vec<&str> = LineMethod::ALL.iter().map(|method| method.word()).collect();
            wrong(&format!("--line: there is no kind '{word}'; write one of {}", known.join(", ")))
        })?),
        None => None,
    };
    let is_diver = args.rod.as_deref().is_some_and(|rod| {
        let key = rod_key(rod);
        boat.divers.iter().any(|t| rod_key(&t.name) == key || t.rods.iter().any(|rod| rod_key(rod) == key))
    });
    let changes = [
        ("--out", args.out.is_some()),
        ("--weight", args.weight.is_some()),
        ("--colors", args.colors.is_some()),
        ("--leader", args.leader.is_some()),
    ];
    let said = Setup {
        rod: args.rod.as_deref(),
        method: method.or(named.is_none().then_some(is_diver.then_some(LineMethod::Diver)).flatten()),
        line_out_m: optional("--out", args.out.as_deref(), Dimension::Depth, units)?,
        colors: args.colors,
        weight_kg: optional("--weight", args.weight.as_deref(), Dimension::Weight, units)?,
        leader_m: optional("--leader", args.leader.as_deref(), Dimension::Depth, units)?,
        longest_m: None,
        depth_m: None,
    };
    if said.colors.is_some_and(|colors| !(0.0..=20.0).contains(&colors)) {
        return Err(wrong("--colors: write the number of colours out, from 0 to 20"));
    }
    match (named, said.method) {
        (Some(named), _) => {
            let usual = Setup::from(named);
            let changed = changes.iter().any(|(_, changed)| *changed) || said.method.is_some();
            Ok(Some(Setup {
                rod: usual.rod,
                method: said.method.or(usual.method),
                line_out_m: said.line_out_m.or(usual.line_out_m),
                colors: said.colors.or(usual.colors),
                weight_kg: said.weight_kg.or(usual.weight_kg),
                leader_m: said.leader_m.or(usual.leader_m),
                longest_m: usual.longest_m,
                // a noted depth holds for the line as it was noted
                depth_m: usual.depth_m.filter(|_| !changed),
            }))
        }
        (None, Some(_)) => Ok(Some(said)),
        (None, None) if args.rod.is_some() => {
            let known: Vec<&str> =
                boat.spread.iter().chain(&boat.tackle).map(|line| line.rod.as_str()).collect();
            let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
            Err(wrong(&format!("--rod: the boat file has no such line; it has {known}")))
        }
        (None, None) => match changes.iter().find(|(_, changed)| *changed) {
            Some((option, _)) => {
                Err(wrong(&format!("{option} is of one line: write --line KIND or --rod NAME too")))
            }
            None => Ok(None),
        },
    }
}

fn speeds_at(args: &RundepthArgs, units: UnitSystem) -> anyhow::Result<Vec<(f64, f64)>> {
    let point = |text: &String| {
        let right =
            || wrong(&format!("--speed-at: found '{text}'; write a depth and a speed, like '60 ft=1.8 mph'"));
        let (depth, speed) = text.split_once('=').ok_or_else(right)?;
        let depth_m = amount("--speed-at", depth, Dimension::Depth, units)?;
        if depth_m == 0.0 {
            return Err(wrong("--speed-at: the speed at the surface is that of --speed"));
        }
        Ok((depth_m, amount("--speed-at", speed, Dimension::Speed, units)?))
    };
    let mut points = args.speed_at.iter().map(point).collect::<anyhow::Result<Vec<_>>>()?;
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    if points.windows(2).any(|pair| pair[0].0 == pair[1].0) {
        return Err(wrong("--speed-at: two speeds at one depth"));
    }
    Ok(points)
}

fn band(args: &RundepthArgs, units: UnitSystem) -> anyhow::Result<Option<DepthBand>> {
    if let Some(text) = &args.band {
        let range = quantity::range(text, Dimension::Depth, units).filter(|(low_m, _)| *low_m >= 0.0);
        let (low_m, high_m) =
            range.ok_or_else(|| wrong(&format!("--band: found '{text}'; write two depths, like 40-60ft")))?;
        return Ok(Some(DepthBand { low_m, high_m, trip_id: None }));
    }
    let Some(dir) = &args.logbook else { return Ok(None) };
    let rows: Vec<bands::Row> = Logbook::open(dir)?.read_table(None)?;
    let band = waterseam_report::productive_depths(&rows);
    let none = "no trip of the logbook tells a productive depth band; write one with --band";
    band.map(Some).ok_or_else(|| anyhow::anyhow!(none))
}

fn optional(
    option: &str,
    text: Option<&str>,
    dimension: Dimension,
    units: UnitSystem,
) -> anyhow::Result<Option<f64>> {
    text.map(|text| amount(option, text, dimension, units)).transpose()
}

fn amount(option: &str, text: &str, dimension: Dimension, units: UnitSystem) -> anyhow::Result<f64> {
    let amount = quantity::amount(text, dimension, units).filter(|amount| *amount >= 0.0);
    amount.ok_or_else(|| wrong(&format!("{option}: found '{text}'; write {}", dimension.examples())))
}

fn wrong(text: &str) -> anyhow::Error {
    WrongUsage(text.to_owned()).into()
}
