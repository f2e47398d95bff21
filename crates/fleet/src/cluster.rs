//! Who works together: a scheduler that hands out pieces of a question, and executors that answer them.

use std::io::{Error, ErrorKind};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use ballista_core::error::Result;
use ballista_core::extension::{
    ballista_aggregate_functions, ballista_scalar_functions, ballista_window_functions,
};
use ballista_executor::executor_process::{ExecutorProcessConfig, start_executor_process};
use ballista_scheduler::cluster::BallistaCluster;
use ballista_scheduler::config::SchedulerConfig;
use ballista_scheduler::scheduler_process::start_server;
use datafusion::execution::SessionStateBuilder;
use datafusion::prelude::SessionConfig;

use crate::stores;

/// Word for a process to end when its input does.
const END: &str = "--until-input-ends";

/// How long a process may take until it listens.
const START_MAX: Duration = Duration::from_mins(2);

/// Runs a scheduler until the process ends.
///
/// # Errors
/// Where it cannot listen on that host and port.
pub async fn scheduler(host: &str, port: u16) -> Result<()> {
    let session = |config: SessionConfig| {
        Ok(SessionStateBuilder::new()
            .with_config(config)
            .with_runtime_env(stores::runtime()?)
            .with_default_features()
            .with_scalar_functions(ballista_scalar_functions())
            .with_aggregate_functions(ballista_aggregate_functions())
            .with_window_functions(ballista_window_functions())
            .build())
    };
    let config = SchedulerConfig {
        bind_host: host.to_owned(),
        external_host: host.to_owned(),
        bind_port: port,
        ..SchedulerConfig::default()
    }
    .with_override_session_builder(Arc::new(session));
    let address: SocketAddr = format!("{host}:{port}").parse().map_err(|_| {
        ballista_core::error::BallistaError::Configuration(format!(
            "{host}:{port} is no address to listen on"
        ))
    })?;
    start_server(BallistaCluster::new_from_config(&config).await?, address, Arc::new(config)).await
}

/// Where an executor is and whom it works for.
#[derive(Clone, Debug)]
pub struct Executor {
    /// Host of the scheduler.
    pub scheduler_host: String,
    /// Its port.
    pub scheduler_port: u16,
    /// Address that others reach this executor by, and that it listens on.
    pub host: String,
    /// Port on which others fetch what it worked out.
    pub port: u16,
    /// Port on which the scheduler speaks to it.
    pub control_port: u16,
    /// Pieces that it works on at a time.
    pub cores: usize,
    /// Folder for what it worked out; one that is removed at the end where none is named.
    pub work_dir: Option<String>,
}

/// Runs an executor until the process ends.
///
/// # Errors
/// Where there is no scheduler, or it cannot listen on its ports.
pub async fn executor(executor: &Executor) -> Result<()> {
    let config = ExecutorProcessConfig {
        bind_host: executor.host.clone(),
        external_host: Some(executor.host.clone()),
        port: executor.port,
        grpc_port: executor.control_port,
        scheduler_host: executor.scheduler_host.clone(),
        scheduler_port: executor.scheduler_port,
        scheduler_connect_timeout_seconds: 60,
        vcores: executor.cores,
        work_dir: executor.work_dir.clone(),
        override_runtime_producer: Some(Arc::new(|_| stores::runtime())),
        ..ExecutorProcessConfig::default()
    };
    start_executor_process(Arc::new(config)).await
}

/// A scheduler and executors on this machine, each a process of its own. They end with this value, and with this process,
/// whatever ends it: each reads a pipe that nobody else holds.
#[derive(Debug)]
pub struct Cluster {
    processes: Vec<Child>,
    port: u16,
    /// Folders in which the executors keep what they worked out, until the end.
    work: Vec<PathBuf>,
}

impl Cluster {
    /// Starts them, by the program `waterseam-fleet`.
    ///
    /// # Errors
    /// Where a process cannot be started, or does not listen within two minutes.
    pub fn start(program: &Path, executors: usize) -> std::io::Result<Self> {
        let mut cluster = Self { processes: Vec::new(), port: free_port()?, work: Vec::new() };
        let port = cluster.port.to_string();
        cluster.run(program, &["scheduler", "--port", &port, END], cluster.port)?;
        let scheduler = cluster.url();
        for _ in 0..executors {
            let (port, control_port) = (free_port()?, free_port()?);
            let (port_word, control_word) = (port.to_string(), control_port.to_string());
            let work = std::env::temp_dir().join(format!("waterseam-fleet-{}-{port}", std::process::id()));
            std::fs::create_dir_all(&work)?;
            let folder = work.display().to_string();
            cluster.work.push(work);
            let words = [
                "executor",
                "--scheduler",
                &scheduler,
                "--port",
                &port_word,
                "--control-port",
                &control_word,
            ];
            cluster.run(
                program,
                &[&words[..], &["--cores", "1", "--work-dir", &folder, END]].concat(),
                port,
            )?;
        }
        Ok(cluster)
    }

    /// Where questions are sent.
    pub fn url(&self) -> String {
        format!("df://127.0.0.1:{}", self.port)
    }

    /// How many executors have worked on something so far.
    pub fn at_work(&self) -> usize {
        let has_worked =
            |work: &&PathBuf| std::fs::read_dir(work).is_ok_and(|mut entries| entries.next().is_some());
        self.work.iter().filter(has_worked).count()
    }

    fn run(&mut self, program: &Path, words: &[&str], port: u16) -> std::io::Result<()> {
        self.processes
            .push(Command::new(program).args(words).stdin(Stdio::piped()).stdout(Stdio::null()).spawn()?);
        let start = Instant::now();
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            let ended = self.processes.last_mut().map_or(Ok(None), Child::try_wait)?;
            if ended.is_some() || start.elapsed() > START_MAX {
                return Err(Error::new(
                    ErrorKind::TimedOut,
                    format!("{} did not start to listen", words.join(" ")),
                ));
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        Ok(())
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        for process in self.processes.iter_mut().rev() {
            let _ = process.kill();
            let _ = process.wait();
        }
        for work in &self.work {
            let _ = std::fs::remove_dir_all(work);
        }
    }
}

/// A port that was free a moment ago.
fn free_port() -> std::io::Result<u16> {
    Ok(TcpListener::bind(("127.0.0.1", 0))?.local_addr()?.port())
}
