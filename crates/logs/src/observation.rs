//! What a log says, one value at a time, in SI and UTC.

use waterseam_units::LatLon;

/// Who sent a sentence: the two letters of an NMEA talker, `--` where the file has none.
pub type Talker = [u8; 2];

/// The talker of records that do not come from NMEA sentences.
pub const NO_TALKER: Talker = *b"--";

/// One value with its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation {
    /// Microseconds since 1970 UTC, on the clock of the file, moved by the file's known zone.
    pub time_us: i64,
    /// The sender.
    pub talker: Talker,
    /// The log that it stands in, of those that are read together; two instruments of one talker are told apart by it.
    /// A reader of one file leaves it 0.
    pub source: u16,
    /// The value.
    pub value: Value,
}

/// A card holds hundreds of millions of them.
const _: () = assert!(size_of::<Observation>() <= 56);

/// What was observed. A field that the record left empty is `None`, never zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// A usable position (RMC status A, GGA quality not 0, …).
    Fix {
        /// Where.
        at: LatLon,
        /// Kind of sentence that it comes from.
        from: FixKind,
    },
    /// Velocity over ground.
    GroundVelocity {
        /// Speed over ground, m/s.
        sog_mps: f64,
        /// Course over ground, degrees true.
        cog_deg: Option<f64>,
    },
    /// Water temperature at the hull or in the intake.
    WaterTemp {
        /// °C.
        temp_c: f64,
    },
    /// Depth of the water.
    WaterDepth {
        /// Depth below `reference`, m.
        depth_m: f64,
        /// What it is measured from.
        reference: DepthReference,
        /// What the sounder itself added to the depth below its transducer, m: up to the surface positive, down to the
        /// keel negative; `None` where it says nothing of that.
        offset_m: Option<f64>,
    },
    /// Speed through the water.
    WaterSpeed {
        /// Along the hull, m/s, negative astern.
        stw_mps: f64,
        /// Across the hull, m/s, positive to starboard.
        across_mps: Option<f64>,
    },
    /// Where the bow points.
    Heading {
        /// Degrees, `0.0..360.0`. A magnetic heading already carries the sentence's deviation.
        heading_deg: f64,
        /// North that it counts from. `True` also where the sentence itself gave the variation.
        north: North,
    },
    /// Set and drift that an instrument reports.
    ReportedCurrent {
        /// Direction toward which the water moves, degrees.
        set_deg: f64,
        /// North that it counts from.
        north: North,
        /// Speed of the water, m/s.
        drift_mps: f64,
    },
    /// Wind.
    Wind {
        /// Speed, m/s.
        speed_mps: f64,
        /// Direction from which it blows: degrees from the bow or from true north, see `reference`.
        from_deg: f64,
        /// What direction and speed are relative to.
        reference: WindReference,
    },
    /// A mark that someone pressed.
    Mark {
        /// Where.
        at: LatLon,
    },
    /// A sample of the temperature probe.
    Probe {
        /// Depth below the surface, m.
        depth_m: f64,
        /// Temperature there, °C.
        temp_c: Option<f64>,
        /// Speed through the water there, m/s.
        speed_mps: Option<f64>,
    },
}

/// Sentence or file that a position comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FixKind {
    /// RMC: position with velocity and date.
    Rmc,
    /// GGA.
    Gga,
    /// GNS.
    Gns,
    /// GLL.
    Gll,
    /// A row of a table with positions, or a GPX track point.
    Row,
}

/// What a depth of the water is measured from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DepthReference {
    /// The water surface.
    Surface,
    /// The transducer.
    Transducer,
    /// The keel.
    Keel,
}

/// Which north a heading counts from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum North {
    /// Geographic north.
    True,
    /// Magnetic north; the variation is still to be added.
    Magnetic,
}

/// Frame of a wind reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WindReference {
    /// Apparent wind: angle from the bow, speed as felt aboard.
    Apparent,
    /// Wind over the water: angle from the bow, speed without the boat's own.
    WaterFromBow,
    /// Wind with a direction from true north (MWD, MDA).
    TrueNorth,
}

/// A note of a bite, as it was written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BiteNote {
    /// File that it comes from.
    pub file_name: String,
    /// Line of that file, from 1.
    pub line: u64,
    /// When, or the clock alone where the file gave no date.
    pub time: NoteTime,
    /// Species, lower case, as written otherwise; `None` where not said.
    pub species: Option<String>,
    /// `landed`, `released` or `lost`; `None` where not said.
    pub outcome: Option<Outcome>,
    /// Rod.
    pub rod: Option<String>,
    /// Lure.
    pub lure: Option<String>,
    /// Depth of the lure as noted, m.
    pub depth_m: Option<f64>,
    /// Line out, m.
    pub line_out_m: Option<f64>,
    /// Weight of the fish, kg.
    pub weight_kg: Option<f64>,
    /// Length of the fish, m.
    pub length_m: Option<f64>,
    /// Position as noted.
    pub at: Option<LatLon>,
    /// Free text.
    pub note: Option<String>,
}

/// What became of a bite.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// Brought aboard and kept, or not said otherwise.
    Landed,
    /// Brought to the boat and let go.
    Released,
    /// Came off.
    Lost,
}

impl Outcome {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Landed => "landed",
            Self::Released => "released",
            Self::Lost => "lost",
        }
    }
}

/// Time of a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoteTime {
    /// Date and time: microseconds since 1970 UTC.
    Instant(i64),
    /// Clock time alone, in the boat's time zone: microseconds since local midnight. The trip gives the date.
    Clock(i64),
}

impl Default for NoteTime {
    fn default() -> Self {
        Self::Instant(0)
    }
}

/// A row of the gear log: a line that goes out, or comes in, or both.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GearEntry {
    /// File that it comes from.
    pub file_name: String,
    /// Line of that file, from 1.
    pub line: u64,
    /// When the line went into the water; `None` in a row that only says that it came in.
    pub start: Option<NoteTime>,
    /// When the line came out of the water; `None` in a row that only says that it went out.
    pub end: Option<NoteTime>,
    /// Rod.
    pub rod: String,
    /// How the line is taken down.
    pub method: Option<LineMethod>,
    /// Line out, m.
    pub line_out_m: Option<f64>,
    /// Colours of cored line out (10 yards each).
    pub colors: Option<f64>,
    /// Weight on the line or the downrigger, kg.
    pub weight_kg: Option<f64>,
    /// Leader, m.
    pub leader_m: Option<f64>,
    /// Lure.
    pub lure: Option<String>,
    /// Depth of the lure as noted or as the counter showed, m.
    pub depth_m: Option<f64>,
}

/// How a line is taken down to its depth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LineMethod {
    /// Wire to a heavy weight; the line is clipped to it.
    Downrigger,
    /// A diving plane.
    Diver,
    /// Line with a lead core, counted in colours of 10 yards.
    Leadcore,
    /// Copper or steel line that sinks by itself.
    WeightedWire,
    /// A weight clipped on the line ahead of the lure.
    ClipWeight,
    /// A weight in the line some way ahead of the lure, that stays there.
    KeelWeight,
    /// Nothing but the lure.
    FlatLine,
}

impl LineMethod {
    /// Every method.
    pub const ALL: [Self; 7] = [
        Self::Downrigger,
        Self::Diver,
        Self::Leadcore,
        Self::WeightedWire,
        Self::ClipWeight,
        Self::KeelWeight,
        Self::FlatLine,
    ];

    /// The word of the tables and of the gear log.
    pub fn word(self) -> &'static str {
        match self {
            Self::Downrigger => "downrigger",
            Self::Diver => "diver",
            Self::Leadcore => "leadcore",
            Self::WeightedWire => "weighted_wire",
            Self::ClipWeight => "clip_weight",
            Self::KeelWeight => "keel_weight",
            Self::FlatLine => "flat_line",
        }
    }

    /// The method behind a word; case, blanks and hyphens do not matter.
    pub fn from_word(word: &str) -> Option<Self> {
        let word = word.trim().to_lowercase().replace([' ', '-'], "_");
        Self::ALL.into_iter().find(|method| method.word() == word)
    }

    /// The method behind a word, with the short forms that people write: common practice, no source.
    pub fn understood(word: &str) -> Option<Self> {
        Self::from_word(word).or_else(|| {
            let word = word.to_lowercase().replace(['-', '_'], " ");
            Some(match word.trim() {
                "rigger" | "riggers" | "dr" | "down rigger" => Self::Downrigger,
                "divers" | "diving plane" | "planer diver" => Self::Diver,
                "lead core" | "core" | "lc" => Self::Leadcore,
                "copper" | "wire" | "steel" | "weighted steel" => Self::WeightedWire,
                "clip weight" | "snap weight" | "clip on weight" => Self::ClipWeight,
                "keel" | "keels" | "keel sinker" | "inline weight" | "in line weight" => Self::KeelWeight,
                "flat" | "flatline" | "long line" | "surface" => Self::FlatLine,
                _ => return None,
            })
        })
    }
}
