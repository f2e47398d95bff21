//! How many sentences of each address are in a log?

/// Different addresses that are counted by name.
const ADDRESSES_MAX: usize = 256;

/// Bytes of an address that its word holds.
const WORD_BYTES: usize = 7;

/// The first seven bytes of an address, the first one lowest, and how many it has. Where it has no more, the word tells it
/// from all others.
#[inline(always)]
pub(super) fn word_of(address: &[u8]) -> u64 {
    if let [a, b, c, d, e] = *address {
        return u64::from_le_bytes([a, b, c, d, e, 0, 0, 5]);
    }
    let length = address.len().min(usize::from(u8::MAX)) as u64;
    let first = &address[..address.len().min(WORD_BYTES)];
    first.iter().rev().fold(0, |word, byte| word << 8 | u64::from(*byte)) | length << (8 * WORD_BYTES)
}

/// Sentences of a stretch by address, in the order in which the addresses came first.
#[derive(Default)]
pub(super) struct Seen {
    all: Vec<Address>,
    /// Where the one is that came behind the last one when that came first: sentences come in turns.
    guess: usize,
    /// Those for which there was no room.
    others: Vec<(u32, u32)>,
}

/// An address in a stretch.
struct Address {
    word: u64,
    start: u32,
    length: u32,
    n: u64,
}

impl Address {
    fn bytes<'a>(&self, stretch: &'a [u8]) -> &'a [u8] {
        &stretch[self.start as usize..(self.start + self.length) as usize]
    }

    fn is(&self, word: u64, start: u32, length: usize, stretch: &[u8]) -> bool {
        self.word == word
            && (length <= WORD_BYTES
                || self.bytes(stretch) == &stretch[start as usize..start as usize + length])
    }
}

impl Seen {
    /// Counts an address that starts at a place.
    #[inline(always)]
    pub fn count(&mut self, word: u64, start: u32, length: usize, stretch: &[u8]) {
        match self.all.get_mut(self.guess) {
            Some(known) if known.word == word && length <= WORD_BYTES => {
                known.n += 1;
                self.guess += 1;
            }
            _ => self.find(word, start, length, stretch),
        }
    }

    #[inline(never)]
    fn find(&mut self, word: u64, start: u32, length: usize, stretch: &[u8]) {
        let at = match self.all.iter().position(|known| known.is(word, start, length, stretch)) {
            Some(at) => at,
            None if self.all.len() < ADDRESSES_MAX => {
                self.all.push(Address { word, start, length: length as u32, n: 0 });
                self.all.len() - 1
            }
            None => return self.others.push((start, length as u32)),
        };
        self.all[at].n += 1;
        self.guess = at + 1;
    }

    /// Forgets all.
    pub fn clear(&mut self) {
        self.all.clear();
        self.others.clear();
        self.guess = 0;
    }
}

/// Sentences of a log by address.
#[derive(Default)]
pub(super) struct Addresses {
    counts: Vec<(Box<[u8]>, u64)>,
}

impl Addresses {
    /// Counts those of the next stretch.
    pub fn add(&mut self, seen: &Seen, stretch: &[u8]) {
        for address in &seen.all {
            self.count(address.bytes(stretch), address.n);
        }
        for (start, length) in &seen.others {
            self.count(&stretch[*start as usize..(start + length) as usize], 1);
        }
    }

    fn count(&mut self, address: &[u8], n: u64) {
        if let Some((_, count)) = self.counts.iter_mut().find(|(known, _)| **known == *address) {
            *count += n;
        } else if self.counts.len() < ADDRESSES_MAX {
            self.counts.push((address.into(), n));
        }
    }

    /// Each address and how often it came, in the order in which they came first.
    pub fn iter(&self) -> impl Iterator<Item = (&[u8], u64)> {
        self.counts.iter().map(|(address, n)| (&**address, *n))
    }
}
