//! Who waits for the disk while the next trips are worked on?
//!
//! One thread puts trips into the logbook. Those that come while it waits for the disk it puts there together, with one
//! wait for all of them.

use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};

use waterseam_tables::{Error, LogbookWriter, Outcome, PackedTrip};

/// Trips that wait at most, half a megabyte each: whoever brings more waits, too.
const MOST_WAITING: usize = 8;

/// Takes trips that are to be put into the logbook.
#[derive(Debug)]
pub struct Placer(SyncSender<(PackedTrip, Sender<Outcome>)>);

/// The trips that were taken.
#[derive(Debug)]
pub struct Waiting(Receiver<(PackedTrip, Sender<Outcome>)>);

/// A trip that was taken.
#[derive(Debug)]
pub struct Receipt(Receiver<Outcome>);

/// No trip is put into the logbook any more; [`Waiting::place_in`] says why.
#[derive(Clone, Copy, Debug)]
pub struct Stopped;

/// The two ends of the queue.
pub fn queue() -> (Placer, Waiting) {
    let (placer, waiting) = sync_channel(MOST_WAITING);
    (Placer(placer), Waiting(waiting))
}

impl Placer {
    /// Takes a trip.
    pub fn put(&self, trip: PackedTrip) -> Result<Receipt, Stopped> {
        let (done, receipt) = channel();
        self.0.send((trip, done)).map_err(|_| Stopped)?;
        Ok(Receipt(receipt))
    }
}

impl Waiting {
    /// Puts trips into the logbook until no more can come.
    ///
    /// # Errors
    /// Where a trip cannot be written. Those that were taken after it are not.
    pub fn place_in(self, writer: &LogbookWriter) -> Result<(), Error> {
        while let Ok(first) = self.0.recv() {
            let (trips, done): (Vec<PackedTrip>, Vec<Sender<Outcome>>) =
                std::iter::once(first).chain(self.0.try_iter()).take(MOST_WAITING).unzip();
            for (done, outcome) in done.iter().zip(writer.put(&trips)?) {
                // who does not wait any more has failed
                let _ = done.send(outcome);
            }
        }
        Ok(())
    }
}

impl Receipt {
    /// Waits until the trip is in the logbook: what that did to it.
    pub fn outcome(self) -> Result<Outcome, Stopped> {
        self.0.recv().map_err(|_| Stopped)
    }
}
