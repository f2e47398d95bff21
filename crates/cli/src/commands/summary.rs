//! `summary`: prints again, from the tables alone.

use waterseam_process::Rates;
use waterseam_process::other_trips::{self, Logged};
use waterseam_report::{CAUTIONS, OtherTrips, Produced, RateTold, Style};
use waterseam_tables::{Logbook, TripTables, trips};

use crate::args::{Format, SummaryArgs};
use crate::output::{Output, Status};

/// Prints one trip, a season, or everything; without a choice, the newest trip.
///
/// # Errors
/// Where the logbook or the trip does not exist or is damaged.
pub fn run(args: &SummaryArgs, out: &mut Output) -> anyhow::Result<Status> {
    let logbook = Logbook::open(&args.logbook)?;
    if args.all || args.season.is_some() {
        return several(&logbook, args, out);
    }
    let newest = || Ok::<_, anyhow::Error>(logbook.trip_ids()?.pop());
    let Some(trip_id) = args.trip.clone().map_or_else(newest, |id| Ok(Some(id)))? else {
        out.warn("the logbook holds no trip");
        return Ok(Status::Failed);
    };
    let tables = logbook.read_trip(&trip_id)?;
    let others = with_others(&Logged::of(&logbook)?, &tables);
    let text = match args.format {
        Format::Text => waterseam_report::trip_with_others(&tables, &others, &Style::of(&tables, args.units)),
        Format::Json => {
            let mut trip = waterseam_report::trip_json(&tables)?;
            trip["with_other_trips"] = serde_json::to_value(&others)?;
            format!("{}\n", serde_json::to_string_pretty(&trip)?)
        }
    };
    out.result(&text)?;
    Ok(Status::Done)
}

fn several(logbook: &Logbook, args: &SummaryArgs, out: &mut Output) -> anyhow::Result<Status> {
    let trips: Vec<trips::Row> = logbook.read_table(args.season)?;
    let without = logbook.without_trip()?.sources;
    let Some(last) = trips.last() else {
        if args.all && args.format == Format::Text {
            out.result(&waterseam_report::without_trip(&without))?;
        }
        out.warn("the logbook holds no such trip");
        return Ok(Status::Failed);
    };
    let rates = waterseam_process::season::rates(logbook, args.season)?;
    let of_logbook: Vec<trips::Row> = logbook.read_table(None)?;
    let others: Vec<Option<RateTold>> =
        other_trips::rates(&trips, &of_logbook).into_iter().map(|rate| rate.map(told)).collect();
    let text = match args.format {
        Format::Text => {
            let produced = Produced {
                bands: &rates.bands,
                tackle_rates: &rates.tackle_rates,
                break_sides: &rates.break_sides,
            };
            let text =
                waterseam_report::season(&trips, &others, &produced, &Style::of_trip(last, args.units));
            if args.all { text + &waterseam_report::without_trip(&without) } else { text }
        }
        Format::Json => {
            format!("{}\n", serde_json::to_string_pretty(&several_json(&trips, &others, &rates)?)?)
        }
    };
    out.result(&text)?;
    Ok(Status::Done)
}

/// What the boat's other trips make of the rates of one.
pub(crate) fn with_others(logged: &Logged, tables: &TripTables) -> OtherTrips {
    let others = logged.with_others(tables);
    OtherTrips { trips: others.trips, rate: others.rate.map(told), bands: others.bands }
}

fn told(rate: other_trips::Rate) -> RateTold {
    RateTold { per_rod_hour: rate.per_rod_hour, low: rate.low, high: rate.high }
}

fn several_json(
    trips: &[trips::Row],
    others: &[Option<RateTold>],
    rates: &Rates,
) -> serde_json::Result<serde_json::Value> {
    Ok(serde_json::json!({
        "trips": serde_json::to_value(trips)?,
        "rates_with_other_trips": serde_json::to_value(others)?,
        "bands": serde_json::to_value(&rates.bands)?,
        "tackle_rates": serde_json::to_value(&rates.tackle_rates)?,
        "break_sides": serde_json::to_value(&rates.break_sides)?,
        "cautions": serde_json::to_value(CAUTIONS)?,
    }))
}
