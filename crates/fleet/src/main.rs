//! `waterseam-fleet`: arguments in, calls, exit status out.

use std::io::Write;
use std::path::PathBuf;

use anyhow::Context;
use clap::{Args, Parser, Subcommand, ValueEnum};
use datafusion::prelude::SessionContext;
use waterseam_fleet::ask::{self, Question};
use waterseam_fleet::cluster::{self, Cluster, Executor};
use waterseam_fleet::{csv, keep};

/// Layers over the pools of many boats, on one machine or several.
///
/// A pool is made by `waterseam compact`. Executors read it themselves: every machine must reach it under the same name.
/// Scheduler and executors do whatever anybody asks who reaches their ports: let them listen in a network of your own only.
#[derive(Debug, Parser)]
#[command(name = "waterseam-fleet", version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Print what was done and caught in each cell and part of the season, as CSV
    Layer(LayerArgs),
    /// Keep what `waterseam hotspots --answers` makes rates and intervals of: visits, outings and bites, as Parquet
    Answers(AnswersArgs),
    /// Hand out questions to executors
    Scheduler(SchedulerArgs),
    /// Answer what a scheduler hands out
    Executor(ExecutorArgs),
    /// A scheduler and executors on this machine, until input ends (Ctrl-D)
    Cluster {
        /// How many executors
        #[arg(long, default_value_t = 2)]
        executors: usize,
    },
}

#[derive(Debug, Args)]
#[command(
    after_help = "Example: waterseam-fleet layer --pool s3://boats/pool --scheduler df://10.0.0.5:50050 --out layer.csv"
)]
struct LayerArgs {
    /// Folder of the pool, or s3://bucket/path
    #[arg(long, value_name = "URL")]
    pool: String,
    /// Scheduler that is to answer; without it, this process does
    #[arg(long, value_name = "df://HOST:PORT")]
    scheduler: Option<String>,
    /// H3 resolution of the cells
    #[arg(long, default_value_t = 7, value_parser = clap::value_parser!(u8).range(0..=9))]
    resolution: u8,
    /// How the season is divided
    #[arg(long, default_value = "month")]
    season_part: SeasonPart,
    /// File to write, replaced if it is there; without it, standard output
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum SeasonPart {
    Week,
    HalfMonth,
    Month,
    Season,
    All,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Example: waterseam-fleet answers --pool s3://boats/pool --scheduler df://10.0.0.5:50050 --out answers
         waterseam hotspots --answers answers --out layer.parquet"
)]
struct AnswersArgs {
    /// Folder of the pool, or s3://bucket/path
    #[arg(long, value_name = "URL")]
    pool: String,
    /// Scheduler that is to answer; without it, this process does
    #[arg(long, value_name = "df://HOST:PORT")]
    scheduler: Option<String>,
    /// Folder to write into, made if it does not exist; answers that are there are replaced
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

#[derive(Debug, Args)]
struct SchedulerArgs {
    /// Address to listen on, which executors and questions reach it by
    #[arg(long, default_value = "127.0.0.1")]
    host: String,
    /// Port
    #[arg(long, default_value_t = 50050)]
    port: u16,
    #[command(flatten)]
    end: End,
}

#[derive(Debug, Args)]
struct ExecutorArgs {
    /// The scheduler
    #[arg(long, value_name = "df://HOST:PORT")]
    scheduler: String,
    /// Address to listen on, which the scheduler and other executors reach it by
    #[arg(long, default_value = "127.0.0.1")]
    host: String,
    /// Port on which others fetch what it worked out
    #[arg(long, default_value_t = 50051)]
    port: u16,
    /// Port on which the scheduler speaks to it
    #[arg(long, default_value_t = 50052)]
    control_port: u16,
    /// Pieces that it works on at a time; 0: as many as there are cores
    #[arg(long, default_value_t = 0)]
    cores: usize,
    /// Folder for what it worked out
    #[arg(long, value_name = "DIR")]
    work_dir: Option<String>,
    #[command(flatten)]
    end: End,
}

/// Whether a process ends by itself.
#[derive(Debug, Args)]
struct End {
    /// End when input ends, as it does when the program that started this one is gone, whatever became of it
    #[arg(long)]
    until_input_ends: bool,
}

#[tokio::main]
async fn main() -> anyhow::Result<()> {
    match Arguments::parse().command {
        Command::Layer(args) => layer(&args).await,
        Command::Answers(args) => {
            let session = session(args.scheduler.as_deref()).await?;
            let answers = ask::answers(&session, &args.pool).await.with_context(|| no_pool(&args.pool))?;
            keep::keep(&answers, &args.out)
                .with_context(|| format!("{} cannot be written", args.out.display()))
        }
        Command::Scheduler(args) => {
            args.end.watch(None);
            Ok(cluster::scheduler(&args.host, args.port).await?)
        }
        Command::Executor(args) => {
            args.end.watch(args.work_dir.clone());
            let address = args.scheduler.trim_start_matches("df://").trim_end_matches('/');
            let (host, port) = address.rsplit_once(':').context("--scheduler takes df://HOST:PORT")?;
            let executor = Executor {
                scheduler_host: host.to_owned(),
                scheduler_port: port.parse().context("--scheduler takes df://HOST:PORT")?,
                host: args.host,
                port: args.port,
                control_port: args.control_port,
                cores: args.cores,
                work_dir: args.work_dir,
            };
            Ok(cluster::executor(&executor).await?)
        }
        Command::Cluster { executors } => {
            let cluster = Cluster::start(&std::env::current_exe()?, executors)?;
            say(&format!("{}\n", cluster.url()))?;
            std::io::copy(&mut std::io::stdin(), &mut std::io::sink())?;
            Ok(())
        }
    }
}

impl End {
    /// Ends the process when input does, and takes its folder along.
    fn watch(&self, folder: Option<String>) {
        if self.until_input_ends {
            std::thread::spawn(move || {
                let _ = std::io::copy(&mut std::io::stdin(), &mut std::io::sink());
                let _ = folder.map(std::fs::remove_dir_all);
                std::process::exit(0);
            });
        }
    }
}

/// Who answers.
async fn session(scheduler: Option<&str>) -> anyhow::Result<SessionContext> {
    match scheduler {
        Some(scheduler) => {
            ask::there(scheduler).await.with_context(|| format!("no scheduler at {scheduler}"))
        }
        None => Ok(ask::here()?),
    }
}

fn no_pool(pool: &str) -> String {
    format!("{pool} cannot be read as a pool of waterseam compact")
}

async fn layer(args: &LayerArgs) -> anyhow::Result<()> {
    let session = session(args.scheduler.as_deref()).await?;
    let word = args.season_part.to_possible_value().map(|word| word.get_name().to_owned());
    let question = Question { resolution: args.resolution, season_part: word.unwrap_or_default() };
    let rows = ask::layer(&session, &args.pool, &question).await.with_context(|| no_pool(&args.pool))?;
    let text = csv::text(&rows)?;
    match &args.out {
        None => say(&text),
        Some(path) => {
            // whole or not at all
            let unnamed = path.with_extension("tmp");
            std::fs::write(&unnamed, text)
                .with_context(|| format!("{} cannot be written", unnamed.display()))?;
            std::fs::rename(&unnamed, path).with_context(|| format!("{} cannot be written", path.display()))
        }
    }
}

/// A closed pipe (`| head`) is no failure.
fn say(text: &str) -> anyhow::Result<()> {
    match std::io::stdout().write_all(text.as_bytes()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => Err(error.into()),
        _ => Ok(()),
    }
}
