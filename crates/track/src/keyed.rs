//! What belongs to which of a few keys, of which the readings of a log have thousands each?

/// Values by key, in the order in which the keys first came.
#[derive(Debug)]
pub(crate) struct Keyed<K, V> {
    all: Vec<(K, V)>,
    last: usize,
}

impl<K: Copy + PartialEq, V> Keyed<K, V> {
    pub fn new() -> Self {
        Self { all: Vec::new(), last: 0 }
    }

    /// What belongs to a key, `fresh` when it is new.
    #[inline]
    pub fn of(&mut self, key: K, fresh: impl FnOnce() -> V) -> &mut V {
        // instruments take turns: mostly it is the one of the last time, or the next
        let next = if self.last + 1 < self.all.len() { self.last + 1 } else { 0 };
        let is_at = |at: usize| self.all.get(at).is_some_and(|(known, _)| *known == key);
        self.last = match () {
            () if is_at(self.last) => self.last,
            () if is_at(next) => next,
            () => self.all.iter().position(|(known, _)| *known == key).unwrap_or(self.all.len()),
        };
        if self.last == self.all.len() {
            self.all.push((key, fresh()));
        }
        &mut self.all[self.last].1
    }

    pub fn iter(&self) -> impl Iterator<Item = &(K, V)> {
        self.all.iter()
    }

    pub fn into_vec(self) -> Vec<(K, V)> {
        self.all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_has_its_own() {
        let mut lists: Keyed<u8, Vec<usize>> = Keyed::new();
        for (place, key) in [3, 1, 3, 3, 2, 1, 2, 3, 1, 1].into_iter().enumerate() {
            lists.of(key, Vec::new).push(place);
        }
        let want = [(3, vec![0, 2, 3, 7]), (1, vec![1, 5, 8, 9]), (2, vec![4, 6])];
        assert_eq!(lists.into_vec(), want);
    }
}
