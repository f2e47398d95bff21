//! The words of the command line.

use std::path::PathBuf;

use clap::{ArgGroup, Args, Parser, Subcommand, ValueEnum};
use waterseam_hotspots::{Blur, SeasonPart};
use waterseam_units::UnitSystem;

/// Finds breaks, layers and productive bands in the logs of a trolling boat.
#[derive(Debug, Parser)]
#[command(name = "waterseam", version, about, propagate_version = true)]
pub struct Arguments {
    /// Say nothing beside the results and what went wrong
    #[arg(long, global = true)]
    pub quiet: bool,
    /// What to do
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Read logs, analyse the trips in them, write the logbook and print each trip's summary
    Process(ProcessArgs),
    /// Say what files are and what would be made of them; write nothing
    Inspect(InspectArgs),
    /// Print a summary again, from the logbook alone
    Summary(SummaryArgs),
    /// Write the pages again, from the logbook alone
    Report(ReportArgs),
    /// Write what a trip found for a GIS or a plotter
    Export(ExportArgs),
    /// Build the layer of all trips: where, when, how deep and at what temperature to set lines
    Hotspots(HotspotsArgs),
    /// Say where to set lines first on a day, for the plotter, with a float plan to leave ashore
    Plan(Box<PlanArgs>),
    /// Say how deep lines run, and how much line reaches a depth
    Rundepth(Box<RundepthArgs>),
    /// Check every table of a logbook
    Verify(VerifyArgs),
    /// Copy logbooks of one or more boats into few large files, for other engines
    Compact(CompactArgs),
    /// Remove a trip from a logbook
    Forget(ForgetArgs),
    /// Write invented logs, with the truth beside them
    Demo(DemoArgs),
}

/// `process`
#[derive(Debug, Args)]
#[command(after_help = "Example: waterseam process /media/card --logbook ~/logbook --boat kittiwake.toml")]
pub struct ProcessArgs {
    /// Files or folders, as they come off the boat
    #[arg(required = true, value_name = "INPUT")]
    pub inputs: Vec<PathBuf>,
    /// Folder of the logbook; made if it does not exist
    #[arg(long, value_name = "DIR")]
    pub logbook: PathBuf,
    /// Boat file; without it `waterseam.toml` at the top of an input folder is taken, if there is one
    #[arg(long, value_name = "FILE")]
    pub boat: Option<PathBuf>,
    /// Units of the printed summaries (imperial, metric, marine); default from the boat file
    #[arg(long)]
    pub units: Option<UnitSystem>,
    /// Folder of the pages; default is LOGBOOK-report, beside the logbook
    #[arg(long, value_name = "DIR")]
    pub report: Option<PathBuf>,
    /// Write no pages
    #[arg(long, conflicts_with = "report")]
    pub no_report: bool,
}

/// `inspect`
#[derive(Debug, Args)]
#[command(after_help = "Example: waterseam inspect /media/card/LOG00031.TXT")]
pub struct InspectArgs {
    /// Files or folders
    #[arg(required = true, value_name = "INPUT")]
    pub inputs: Vec<PathBuf>,
    /// Boat file
    #[arg(long, value_name = "FILE")]
    pub boat: Option<PathBuf>,
    /// Text for people or JSON for programs
    #[arg(long, default_value = "text")]
    pub format: Format,
}

/// `summary`
#[derive(Debug, Args)]
#[command(after_help = "Example: waterseam summary --logbook ~/logbook --season 2026")]
pub struct SummaryArgs {
    /// Folder of the logbook
    #[arg(long, value_name = "DIR")]
    pub logbook: PathBuf,
    /// One trip
    #[arg(long, value_name = "ID", conflicts_with_all = ["season", "all"])]
    pub trip: Option<String>,
    /// All trips that start in a year (UTC), one line each
    #[arg(long, value_name = "YEAR", conflicts_with = "all")]
    pub season: Option<i16>,
    /// All trips, one line each
    #[arg(long)]
    pub all: bool,
    /// Text for people or JSON for programs (SI, as in the tables)
    #[arg(long, default_value = "text")]
    pub format: Format,
    /// Units of the text (imperial, metric, marine); default as when the trip was processed
    #[arg(long)]
    pub units: Option<UnitSystem>,
}

/// `hotspots`
#[derive(Debug, Args)]
#[command(after_help = HOTSPOTS_EXAMPLES, group = ArgGroup::new("of").required(true))]
pub struct HotspotsArgs {
    /// Folder of the logbook, which then holds the layer as table `hotspots`
    #[arg(long, value_name = "DIR", group = "of")]
    pub logbook: Option<PathBuf>,
    /// Pool of the logbooks of one or more boats, as `compact` makes it; nothing is written into it
    #[arg(long, value_name = "DIR", group = "of")]
    pub pool: Option<PathBuf>,
    /// What another engine answers about a pool (`waterseam-fleet answers`): folder with outings.parquet, visits.parquet and
    /// bites.parquet
    #[arg(long, value_name = "DIR", group = "of")]
    pub answers: Option<PathBuf>,
    /// File to write the table `hotspots` to (GeoParquet); one that is there is replaced
    #[arg(long, value_name = "FILE", conflicts_with = "logbook")]
    pub out: Option<PathBuf>,
    /// H3 resolution of the places: 5 (some 10 miles across) to 9 (a quarter of a mile)
    #[arg(long, value_name = "N", default_value_t = 7, value_parser = clap::value_parser!(u8).range(5..=9))]
    pub resolution: u8,
    /// How the season is divided: week, half-month, month, season or all
    #[arg(long, value_name = "PART", default_value = "month")]
    pub season_part: SeasonPart,
    /// Tell of one species; the table always holds all of them
    #[arg(long, value_name = "NAME")]
    pub species: Option<String>,
    /// Say too what to expect in water of this temperature at the surface, and what that is worth
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub surface_temp: Option<String>,
    /// Day for --surface-temp; without it, that of the newest trip
    #[arg(long, value_name = "DATE", requires = "surface_temp")]
    pub date: Option<String>,
    /// Text for people or JSON for programs (SI, as in the table)
    #[arg(long, default_value = "text")]
    pub format: Format,
    /// Units of the text (imperial, metric, marine); default as when the newest trip was processed, of a pool imperial
    #[arg(long)]
    pub units: Option<UnitSystem>,
}

/// `plan`
#[derive(Debug, Args)]
#[command(after_help = PLAN_EXAMPLES)]
pub struct PlanArgs {
    /// Folder of the logbook
    #[arg(long, value_name = "DIR")]
    pub logbook: PathBuf,
    /// The day, like 2026-07-18
    #[arg(long, value_name = "DATE")]
    pub date: String,
    /// Port, in degrees; default the home port of the boat file
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
    pub from: Option<String>,
    /// Farthest place, in a straight line from port
    #[arg(long, value_name = "DISTANCE", allow_hyphen_values = true)]
    pub within: Option<String>,
    /// Temperature of the surface that day; without it, as is usual
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub surface_temp: Option<String>,
    /// Look for one species
    #[arg(long, value_name = "NAME")]
    pub species: Option<String>,
    /// GPX file to write, with the float plan beside it; files that are there are replaced
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Places to name
    #[arg(long, value_name = "N", default_value_t = 3)]
    pub places: usize,
    /// Boat file: home port, and the lines whose settings are named
    #[arg(long, value_name = "FILE")]
    pub boat: Option<PathBuf>,
    /// Speed for the running times; default 20 mph
    #[arg(long, value_name = "SPEED")]
    pub run_speed: Option<String>,
    /// Trolling speed through the water for the lines; default 2.3 mph
    #[arg(long, value_name = "SPEED")]
    pub troll_speed: Option<String>,
    /// H3 resolution of the places
    #[arg(long, value_name = "N", default_value_t = 7, value_parser = clap::value_parser!(u8).range(5..=9))]
    pub resolution: u8,
    /// How the season is divided: week, half-month, month, season or all
    #[arg(long, value_name = "PART", default_value = "month")]
    pub season_part: SeasonPart,
    /// Names of at most ten plain letters, for old plotters
    #[arg(long)]
    pub short_names: bool,
    /// Units (imperial, metric, marine); default as when the newest trip was processed
    #[arg(long)]
    pub units: Option<UnitSystem>,
}

/// `report`
#[derive(Debug, Args)]
#[command(after_help = "Example: waterseam report --logbook ~/logbook --season 2026 --out ~/pages")]
pub struct ReportArgs {
    /// Folder of the logbook
    #[arg(long, value_name = "DIR")]
    pub logbook: PathBuf,
    /// One trip
    #[arg(long, value_name = "ID", conflicts_with = "season")]
    pub trip: Option<String>,
    /// The trips that start in a year (UTC)
    #[arg(long, value_name = "YEAR")]
    pub season: Option<i16>,
    /// Folder to write into; pages that are there are replaced
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Units that a page opens with (imperial, metric, marine); default as when the trip was processed
    #[arg(long)]
    pub units: Option<UnitSystem>,
}

const PLAN_EXAMPLES: &str = "\
Examples:
  waterseam plan --logbook ~/logbook --date 2026-07-18 --boat kittiwake.toml --out start.gpx
  waterseam plan --logbook ~/logbook --date 2026-07-18 --from 46.2,-29.4 --within '12 mi' --surface-temp 61F --out start.gpx";

const HOTSPOTS_EXAMPLES: &str = "\
Examples:
  waterseam hotspots --logbook ~/logbook
  waterseam hotspots --logbook ~/logbook --season-part half-month --species chinook
  waterseam hotspots --logbook ~/logbook --surface-temp 61F --date 2026-07-18
  waterseam hotspots --pool ~/pool --out layer.parquet";

/// `export`
#[derive(Debug, Args)]
#[command(
    after_help = "Example: waterseam export --logbook ~/logbook --what breaks --format geojson --out breaks.geojson"
)]
pub struct ExportArgs {
    /// Folder of the logbook
    #[arg(long, value_name = "DIR")]
    pub logbook: PathBuf,
    /// One trip; without it, all trips for bites and breaks, else the newest
    #[arg(long, value_name = "ID")]
    pub trip: Option<String>,
    /// What of it
    #[arg(long)]
    pub what: Exported,
    /// Form of the file
    #[arg(long)]
    pub format: ExportFormat,
    /// File to write; one that is there is replaced
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// GPX: names of at most ten plain letters and digits, for plotters that cut off the rest
    #[arg(long)]
    pub short_names: bool,
    /// GPX: places as waypoints, or as one route in their order
    #[arg(long = "as", value_name = "FORM", default_value = "waypoints")]
    pub form: GpxForm,
    /// Hotspots: which layer, by the H3 resolution of its places
    #[arg(long, value_name = "N", default_value_t = 7, conflicts_with = "blur")]
    pub resolution: u8,
    /// Hotspots: how its season is divided (week, half-month, month, season or all)
    #[arg(long, value_name = "PART", default_value = "month")]
    pub season_part: SeasonPart,
    /// Hotspots: those of one species
    #[arg(long, value_name = "NAME")]
    pub species: Option<String>,
    /// Hotspots to show to others: places at least so wide, like 5km or 3mi (or an H3 resolution up to 7), and nothing finer
    #[arg(long, value_name = "SIZE")]
    pub blur: Option<Blur>,
    /// With --blur: leave out places that fewer trips fished
    #[arg(long, value_name = "N", default_value_t = 5, requires = "blur")]
    pub least_trips: u16,
}

/// How places stand in a GPX file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum GpxForm {
    /// Each for itself
    Waypoints,
    /// One after another
    Route,
}

/// What is exported.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Exported {
    /// Where the boat was
    Track,
    /// Crossings and break lines
    Breaks,
    /// Surface temperature on a grid, with its error, and isotherms
    SurfaceMap,
    /// Current vectors and current edges
    Currents,
    /// Bites, with the water that they came in
    Bites,
    /// Places of all trips, as `hotspots` last built them
    Hotspots,
}

/// Form of an exported file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ExportFormat {
    /// RFC 7946, in SI units as in the tables
    Geojson,
    /// GPX 1.1 for a plotter, in the units and the time zone of the boat file
    Gpx,
    /// For a spreadsheet, in SI units as in the tables, the unit in each heading
    Csv,
    /// GeoParquet 1.1, in SI units as in the tables (hotspots only; the tables of a trip are Parquet already)
    Geoparquet,
}

/// `rundepth`
///
/// Amounts without a unit are in those of the boat file, or of `--units`.
#[derive(Debug, Args)]
#[command(after_help = RUNDEPTH_EXAMPLES)]
pub struct RundepthArgs {
    /// How the line is taken down: downrigger, diver, leadcore, weighted_wire, clip_weight, keel_weight, flat_line;
    /// without it (and without --rod), every line of the boat file
    #[arg(long, value_name = "KIND")]
    pub line: Option<String>,
    /// A rod of [[spread]], a setup of [[tackle]] or a table of [[divers]] in the boat file
    #[arg(long, value_name = "NAME")]
    pub rod: Option<String>,
    /// Line out, from the surface to the lure (of a downrigger: its counter)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true, conflicts_with = "target")]
    pub out: Option<String>,
    /// Speed through the water
    #[arg(long, value_name = "SPEED", allow_hyphen_values = true)]
    pub speed: String,
    /// Weight on the line, or of the downrigger
    #[arg(long, value_name = "WEIGHT", allow_hyphen_values = true)]
    pub weight: Option<String>,
    /// Colours of cored line out
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    pub colors: Option<f64>,
    /// Leader; from a clip-on or keel weight to the lure
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub leader: Option<String>,
    /// Depth to reach: how much line must be out?
    #[arg(long, value_name = "DEPTH", allow_hyphen_values = true)]
    pub target: Option<String>,
    /// Speed through the water further down, where somebody measured it; may be given several times
    #[arg(long, value_name = "DEPTH=SPEED", allow_hyphen_values = true)]
    pub speed_at: Vec<String>,
    /// Depths that lines should run in, like 40-60ft
    #[arg(long, value_name = "RANGE", allow_hyphen_values = true, conflicts_with = "logbook")]
    pub band: Option<String>,
    /// Logbook whose newest productive depth band lines should run in
    #[arg(long, value_name = "DIR")]
    pub logbook: Option<PathBuf>,
    /// Boat file: usual spread, tackle, tables of divers, observed depths, salinity
    #[arg(long, value_name = "FILE")]
    pub boat: Option<PathBuf>,
    /// Units (imperial, metric, marine) of amounts without one, and of the text; default from the boat file
    #[arg(long)]
    pub units: Option<UnitSystem>,
    /// Text for people or JSON for programs (SI)
    #[arg(long, default_value = "text")]
    pub format: Format,
}

const RUNDEPTH_EXAMPLES: &str = "\
Examples:
  waterseam rundepth --line leadcore --colors 7 --speed '2.1 mph'
  waterseam rundepth --line downrigger --weight '12 lb' --target '60 ft' --speed '2.4 mph' --speed-at '60 ft=1.9 mph'
  waterseam rundepth --boat kittiwake.toml --speed '2.2 mph' --band 40-60ft";

/// `verify`
#[derive(Debug, Args)]
#[command(after_help = "Example: waterseam verify --logbook ~/logbook")]
pub struct VerifyArgs {
    /// Folder of the logbook
    #[arg(long, value_name = "DIR")]
    pub logbook: PathBuf,
}

/// `compact`
#[derive(Debug, Args)]
#[command(
    after_help = "Example: waterseam compact --logbook ~/logbook --logbook /mnt/tern/logbook --out ~/pool"
)]
pub struct CompactArgs {
    /// Folder of a logbook; may be given several times, and the pool holds what these hold and nothing else
    #[arg(long, required = true, value_name = "DIR")]
    pub logbook: Vec<PathBuf>,
    /// Folder of the pool; made if it does not exist. It is a copy, and can be deleted and made again
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
}

/// `forget`
#[derive(Debug, Args)]
#[command(after_help = "Example: waterseam forget --logbook ~/logbook --trip 20260614T071203Z")]
pub struct ForgetArgs {
    /// Folder of the logbook
    #[arg(long, value_name = "DIR")]
    pub logbook: PathBuf,
    /// The trip, as `summary --all` names it
    #[arg(long, value_name = "ID")]
    pub trip: String,
    /// Folder of the pages; else LOGBOOK-report beside the logbook, where it holds any
    #[arg(long, value_name = "DIR")]
    pub report: Option<PathBuf>,
}

/// `demo`
#[derive(Debug, Args)]
#[command(after_help = "Example: waterseam demo invented --trips 5 --years 2 --seed 7")]
pub struct DemoArgs {
    /// Folder to write into; must be new or empty
    #[arg(value_name = "DIR")]
    pub dir: PathBuf,
    /// Trips in each year
    #[arg(long, default_value_t = 3)]
    pub trips: usize,
    /// Years
    #[arg(long, default_value_t = 1)]
    pub years: usize,
    /// Seed; the same seed writes the same bytes (default 1; for the sample logs their own)
    #[arg(long)]
    pub seed: Option<u64>,
    /// Every instrument writes every second, as plotters do that leave nothing out: about 10 MB a trip
    #[arg(long)]
    pub every_second: bool,
    /// Write the three trips of the project's own sample-logs instead, and their truth to this file
    #[arg(long, value_name = "FILE", conflicts_with_all = ["trips", "years", "every_second"])]
    pub samples_truth: Option<PathBuf>,
}

/// Form of a printed result.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people
    Text,
    /// For programs
    Json,
}
