//! What are the bytes of a file that is packed, and when is it time to stop unpacking?
//!
//! Everything streams: nothing is unpacked to disk, and memory does not grow with what comes out. What can be
//! unpacked before a damaged place is read; the damage is said.

use std::fs::File;
use std::io::{self, Cursor, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;

use flate2::Crc;
use flate2::read::{DeflateDecoder, MultiGzDecoder};

/// Unpacked bytes for each packed one beyond which something was made to fill a disk. Logs of sentences shrink to a
/// tenth, constant ones to a hundredth (common practice, no source); deflate itself ends at 1032 to 1 (RFC 1951: a
/// match of 258 bytes in two bits).
const RATIO_MAX: u64 = 200;

/// What a packed file may always unpack to, however small it is.
const ALWAYS_BYTES: u64 = 64 << 20;

/// What it may unpack to at most: a season of a hundred and fifty trips at 100 MB each.
const UNPACKED_BYTES_MAX: u64 = 16 << 30;

/// First bytes of gzip with the only method that there is (RFC 1952, section 2.3.1).
const GZIP: [u8; 3] = [0x1F, 0x8B, 8];

/// How many bytes `packed_bytes` may unpack to.
pub(crate) fn unpacked_bytes_max(packed_bytes: u64) -> u64 {
    packed_bytes.saturating_mul(RATIO_MAX).clamp(ALWAYS_BYTES, UNPACKED_BYTES_MAX)
}

/// A stretch of an archive that holds one member.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stretch {
    /// First byte, from 0.
    pub start: u64,
    /// Length as it is packed.
    pub packed_bytes: u64,
    /// Length that the archive promises.
    pub bytes: u64,
    /// Checksum that the archive promises.
    pub crc32: u32,
    /// Deflated (RFC 1951), else as it is.
    pub is_deflated: bool,
    /// What may come out when the member is itself gzip.
    pub gunzipped_bytes_max: u64,
}

/// Why unpacking ended early.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Trouble {
    /// The packed bytes are damaged or end early.
    Damaged,
    /// More came out than may.
    TooLarge,
}

impl Trouble {
    /// The word for the account.
    pub fn reason(self) -> &'static str {
        match self {
            Self::Damaged => "archive_damaged",
            Self::TooLarge => "archive_too_large",
        }
    }

    /// What to tell the captain, behind so many bytes.
    pub fn remark(self, bytes: u64) -> String {
        match self {
            Self::Damaged => format!(
                "The archive is damaged: after {bytes} bytes it cannot be unpacked. What came before was used; copy it \
                 once more if the original is better."
            ),
            Self::TooLarge => format!(
                "It unpacks to far more than its size allows, as files do that are made to fill a disk: it was read up \
                 to {bytes} bytes. If it is a log, unpack it and give that."
            ),
        }
    }
}

/// The bytes of a file or of a member, unpacked as they are read. Trouble ends them as if it were their end.
pub(crate) struct Unpacked {
    bytes: Box<dyn Read>,
    is_packed: bool,
    left: u64,
    /// It was gzip.
    pub was_gzip: bool,
    /// Why they ended early.
    pub trouble: Option<Trouble>,
}

impl Unpacked {
    /// The bytes of a file, or of a stretch of it.
    ///
    /// # Errors
    /// Where the file cannot be opened or its first bytes cannot be read.
    pub fn open(path: &Path, stretch: Option<Stretch>) -> io::Result<Self> {
        let mut file = File::open(path)?;
        let (bytes, gunzipped_bytes_max): (Box<dyn Read>, u64) = match stretch {
            None => {
                let packed_bytes = file.metadata().map_or(0, |data| data.len());
                (Box::new(file), unpacked_bytes_max(packed_bytes))
            }
            Some(stretch) => {
                file.seek(SeekFrom::Start(stretch.start))?;
                let packed = file.take(stretch.packed_bytes);
                let bytes: Box<dyn Read> = if stretch.is_deflated {
                    Box::new(DeflateDecoder::new(packed))
                } else {
                    Box::new(packed)
                };
                (Box::new(Checked::new(bytes, stretch)), stretch.gunzipped_bytes_max)
            }
        };
        let mut unpacked =
            Self { bytes, is_packed: stretch.is_some(), left: u64::MAX, was_gzip: false, trouble: None };
        let mut head = Vec::new();
        unpacked.by_ref().take(GZIP.len() as u64).read_to_end(&mut head)?;
        let is_gzip = head == GZIP;
        let whole = Cursor::new(head).chain(unpacked.bytes);
        unpacked.bytes = if is_gzip { Box::new(MultiGzDecoder::new(whole)) } else { Box::new(whole) };
        if is_gzip {
            unpacked.left = gunzipped_bytes_max;
        }
        unpacked.is_packed |= is_gzip;
        unpacked.was_gzip = is_gzip;
        Ok(unpacked)
    }
}

impl Read for Unpacked {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.trouble.is_some() {
            return Ok(0);
        }
        match self.bytes.read(buffer) {
            Ok(n) if n as u64 > self.left => {
                self.trouble = Some(Trouble::TooLarge);
                Ok(self.left as usize)
            }
            Ok(n) => {
                self.left -= n as u64;
                Ok(n)
            }
            // what the system reports is the card's fault, anything else the archive's
            Err(error)
                if self.is_packed
                    && error.raw_os_error().is_none()
                    && error.kind() != ErrorKind::Interrupted =>
            {
                self.trouble = Some(Trouble::Damaged);
                Ok(0)
            }
            Err(error) => Err(error),
        }
    }
}

/// Bytes that must come out as the archive promises: no more, no less, and the same.
struct Checked {
    bytes: Box<dyn Read>,
    left: u64,
    crc: Crc,
    crc32: u32,
}

impl Checked {
    fn new(bytes: Box<dyn Read>, stretch: Stretch) -> Self {
        Self { bytes, left: stretch.bytes, crc: Crc::new(), crc32: stretch.crc32 }
    }
}

impl Read for Checked {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let n = self.bytes.read(buffer)?;
        let ended = n == 0 && !buffer.is_empty();
        if n as u64 > self.left || (ended && (self.left > 0 || self.crc.sum() != self.crc32)) {
            return Err(ErrorKind::InvalidData.into());
        }
        self.left -= n as u64;
        self.crc.update(&buffer[..n]);
        Ok(n)
    }
}
