//! `demo`: invented logs with the truth beside them.

use anyhow::{Context, bail};

use crate::args::DemoArgs;
use crate::output::{Output, Status};

/// Writes invented trips.
///
/// # Errors
/// Where the folder holds other things or cannot be written.
pub fn run(args: &DemoArgs, out: &mut Output) -> anyhow::Result<Status> {
    let written = if let Some(truth) = &args.samples_truth {
        waterseam_demo::write_samples(&args.dir, truth, args.seed.unwrap_or(waterseam_demo::SAMPLE_SEED))
    } else {
        if args.dir.read_dir().is_ok_and(|mut entries| entries.next().is_some()) {
            bail!(
                "{}: the folder is not empty; name a new one, so that nothing of yours is mixed with invented logs",
                args.dir.display()
            );
        }
        waterseam_demo::write(
            &args.dir,
            args.trips.saturating_mul(args.years),
            args.years,
            args.seed.unwrap_or(1),
            &waterseam_demo::Knobs { every_second: args.every_second, ..waterseam_demo::Knobs::default() },
        )
    };
    let truth = written.with_context(|| format!("cannot write invented logs to {}", args.dir.display()))?;
    out.say(&format!("{} invented trips in {}", truth.trips.len(), args.dir.display()));
    Ok(Status::Done)
}
