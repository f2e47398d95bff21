//! What was put right when a logbook was opened?

/// Something that an interrupted write had left, and what became of it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Repair {
    /// All of a trip's tables were written, not all were in place.
    #[error("{}: its write was interrupted when everything was on the disk; it is finished", of(.trip_id))]
    Finished {
        /// The trip.
        trip_id: String,
    },
    /// Not all of a trip's tables were written.
    #[error("{}: its write was interrupted half-way; it is undone, and the logbook is as it was before that write", of(.trip_id))]
    Undone {
        /// The trip.
        trip_id: String,
    },
    /// The disk had lost tables that it had said to have kept.
    #[error(
        "{}: its write was interrupted and the disk has lost a part of it; what was left of that write is removed, \
         process the trip's logs again",
        of(.trip_id)
    )]
    Lost {
        /// The trip.
        trip_id: String,
    },
    /// A temporary file that nothing would have finished.
    #[error("{name}: a temporary file of an interrupted write; it is removed")]
    Removed {
        /// Its name.
        name: String,
    },
    /// The logbook was of an older format.
    #[error("the logbook was of format {from} and is now of format {to}")]
    Migrated {
        /// Format that was found.
        from: u32,
        /// Format now.
        to: u32,
    },
}

fn of(trip_id: &str) -> String {
    if trip_id == crate::layout::NO_TRIP {
        "the files without a trip".to_owned()
    } else {
        format!("trip {trip_id}")
    }
}
