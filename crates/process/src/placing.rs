//! Who waits for the disk while the next trips are worked on?
//!
//! One thread puts trips into the logbook. Those that come while it waits for the disk it puts there together, with one
//! wait for all of them.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, OnceLock};

use waterseam_tables::{Error, LogbookWriter, Outcome, PackedTrip};

/// Trips that wait at most, half a megabyte each: whoever brings more waits, too.
const MOST_WAITING: usize = 8;

/// Takes trips that are to be put into the logbook.
#[derive(Debug)]
pub struct Placer(SyncSender<(PackedTrip, Receipt)>);

/// The trips that were taken.
#[derive(Debug)]
pub struct Waiting(Receiver<(PackedTrip, Receipt)>);

/// What putting a trip into the logbook did, once it is there.
#[derive(Clone, Debug, Default)]
pub struct Receipt(Arc<OnceLock<Outcome>>);

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
        let receipt = Receipt::default();
        self.0.send((trip, receipt.clone())).map_err(|_| Stopped)?;
        Ok(receipt)
    }
}

impl Waiting {
    /// Puts trips into the logbook until no more can come.
    ///
    /// # Errors
    /// Where a trip cannot be written. Those that were taken after it are not.
    pub fn place_in(self, writer: &LogbookWriter) -> Result<(), Error> {
        while let Ok(first) = self.0.recv() {
            let (trips, receipts): (Vec<PackedTrip>, Vec<Receipt>) =
                std::iter::once(first).chain(self.0.try_iter()).take(MOST_WAITING).unzip();
            for (receipt, outcome) in receipts.iter().zip(writer.put(&trips)?) {
                receipt.0.get_or_init(|| outcome);
            }
        }
        Ok(())
    }
}

impl Receipt {
    /// `None` as long as the trip is not in the logbook.
    pub fn outcome(&self) -> Option<Outcome> {
        self.0.get().copied()
    }
}
