//! What are the bytes of a file that may be packed, and when is it time to stop reading?
//!
//! Everything streams: nothing is unpacked to disk, and memory does not grow with what comes out. What comes before a
//! place that is damaged, or that the card no longer gives, is read; the damage is said.

use std::fs::File;
use std::io::{self, Chain, Cursor, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;

use flate2::Crc;
use flate2::read::{DeflateDecoder, MultiGzDecoder};

use crate::utf16::{self, Order, Utf8From16};

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

/// Why the bytes ended early.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Trouble {
    /// The system could not read on, and says why.
    Unreadable(String),
    /// The packed bytes are damaged or end early.
    Damaged,
    /// More came out than may.
    TooLarge,
}

impl Trouble {
    /// The word for the account.
    pub fn reason(&self) -> &'static str {
        match self {
            Self::Unreadable(_) => "reading_failed",
            Self::Damaged => "archive_damaged",
            Self::TooLarge => "archive_too_large",
        }
    }

    /// What to tell the captain, behind so many bytes.
    pub fn remark(&self, bytes: u64) -> String {
        match self {
            Self::Unreadable(error) => format!(
                "After {bytes} bytes it cannot be read ({error}). What came before was used; copy it from the card once \
                 more."
            ),
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

/// The bytes of a file or of a member, unpacked and in UTF-8 as they are read. Trouble ends them as if it were their
/// end.
pub(crate) struct Unpacked {
    text: Text,
    /// It was gzip.
    pub was_gzip: bool,
}

/// Bytes behind the first few, which were looked at.
type Looked = Chain<Cursor<Vec<u8>>, Limited>;

enum Text {
    AsItIs(Looked),
    Utf16(Utf8From16<Looked>),
}

/// Bytes that end where there is trouble with them.
struct Limited {
    bytes: Box<dyn Read>,
    is_packed: bool,
    /// Something has been read: what fails now is not the opening of the file.
    has_begun: bool,
    left: u64,
    trouble: Option<Trouble>,
}

impl Limited {
    fn new(bytes: Box<dyn Read>, is_packed: bool, left: u64) -> Self {
        Self { bytes, is_packed, has_begun: false, left, trouble: None }
    }
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
        Self::of(bytes, stretch.is_some(), gunzipped_bytes_max)
    }

    /// Bytes that are in memory.
    ///
    /// # Errors
    /// None that memory could give.
    pub fn in_memory(bytes: Arc<[u8]>) -> io::Result<Self> {
        let gunzipped_bytes_max = unpacked_bytes_max(bytes.len() as u64);
        Self::of(Box::new(Cursor::new(bytes)), false, gunzipped_bytes_max)
    }

    /// Bytes from anywhere.
    ///
    /// # Errors
    /// Where the first of them cannot be read.
    pub(crate) fn of(bytes: Box<dyn Read>, is_packed: bool, gunzipped_bytes_max: u64) -> io::Result<Self> {
        let mut limited = Limited::new(bytes, is_packed, u64::MAX);
        let mut head = Vec::new();
        look(&mut limited, GZIP.len(), &mut head)?;
        let was_gzip = head == GZIP;
        if was_gzip {
            let packed = Cursor::new(std::mem::take(&mut head)).chain(limited.bytes);
            limited = Limited::new(Box::new(MultiGzDecoder::new(packed)), true, gunzipped_bytes_max);
        }
        look(&mut limited, utf16::HEAD_BYTES, &mut head)?;
        let order = Order::of(&head);
        let looked = Cursor::new(head).chain(limited);
        let text = match order {
            Some(order) => Text::Utf16(Utf8From16::new(looked, order)),
            None => Text::AsItIs(looked),
        };
        Ok(Self { text, was_gzip })
    }

    /// Whether it was UTF-16.
    pub fn was_utf16(&self) -> bool {
        matches!(self.text, Text::Utf16(_))
    }

    /// Why the bytes ended early.
    pub fn trouble(&self) -> Option<&Trouble> {
        let looked = match &self.text {
            Text::AsItIs(looked) => looked,
            Text::Utf16(text) => text.get_ref(),
        };
        looked.get_ref().1.trouble.as_ref()
    }
}

/// Reads on until `head` has `n` bytes, or there are no more.
fn look(bytes: &mut Limited, n: usize, head: &mut Vec<u8>) -> io::Result<()> {
    bytes.take((n - head.len()) as u64).read_to_end(head)?;
    Ok(())
}

impl Read for Unpacked {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match &mut self.text {
            Text::AsItIs(bytes) => bytes.read(buffer),
            Text::Utf16(text) => text.read(buffer),
        }
    }
}

impl Read for Limited {
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
                self.has_begun |= n > 0;
                Ok(n)
            }
            Err(error) if error.kind() == ErrorKind::Interrupted => Err(error),
            // what the system reports is the card's fault, anything else the archive's
            Err(error) if self.is_packed && error.raw_os_error().is_none() => {
                self.trouble = Some(Trouble::Damaged);
                Ok(0)
            }
            Err(error) if self.has_begun => {
                self.trouble = Some(Trouble::Unreadable(error.to_string()));
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
