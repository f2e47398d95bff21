//! Stretches of time in which there are positions.

use waterseam_units::time::US_PER_S;

/// A stretch of time, both ends within, µs since 1970 UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span {
    /// First instant.
    pub first_us: i64,
    /// Last instant.
    pub last_us: i64,
}

impl Span {
    /// No instant is in it; both ends are still to be set.
    pub(crate) const NEVER: Self = Self { first_us: i64::MAX, last_us: i64::MIN };

    /// Whether an instant lies in the stretch or within `margin_us` of it.
    pub fn reaches(&self, time_us: i64, margin_us: i64) -> bool {
        self.first_us - margin_us <= time_us && time_us <= self.last_us + margin_us
    }

    /// Whether two stretches share an instant.
    pub fn overlaps(&self, other: &Self) -> bool {
        self.first_us <= other.last_us && other.first_us <= self.last_us
    }

    /// Length, s.
    pub fn seconds(&self) -> f64 {
        (self.last_us - self.first_us) as f64 / US_PER_S as f64
    }
}

/// Joins stretches that are not further apart than `gap_us`; the result is in order and disjoint.
pub fn join(mut spans: Vec<Span>, gap_us: i64) -> Vec<Span> {
    spans.sort_unstable();
    let mut joined: Vec<Span> = Vec::new();
    for span in spans {
        match joined.last_mut() {
            Some(last) if span.first_us <= last.last_us.saturating_add(gap_us) => {
                last.last_us = last.last_us.max(span.last_us);
            }
            _ => joined.push(span),
        }
    }
    joined
}

/// Collects instants, in any order, into stretches without a gap longer than `gap_us`, in bounded memory.
#[derive(Clone, Debug)]
pub struct Spans {
    gap_us: i64,
    spans: Vec<Span>,
}

impl Spans {
    /// No instants yet.
    pub fn new(gap_us: i64) -> Self {
        Self { gap_us, spans: Vec::new() }
    }

    /// Adds an instant.
    pub fn add(&mut self, time_us: i64) {
        match self.spans.last_mut() {
            Some(last) if last.reaches(time_us, self.gap_us) => {
                last.first_us = last.first_us.min(time_us);
                last.last_us = last.last_us.max(time_us);
            }
            _ => {
                self.spans.push(Span { first_us: time_us, last_us: time_us });
                // a clock that jumps to and fro would else grow this without end
                if self.spans.len() >= 4096 {
                    self.spans = join(std::mem::take(&mut self.spans), self.gap_us);
                }
            }
        }
    }

    /// The stretches in order, disjoint.
    pub fn finish(self) -> Vec<Span> {
        join(self.spans, self.gap_us)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instants_out_of_order_make_the_same_stretches() {
        let collect = |times: &[i64]| {
            let mut spans = Spans::new(10);
            for &t in times {
                spans.add(t);
            }
            spans.finish()
        };
        let want = vec![Span { first_us: 0, last_us: 15 }, Span { first_us: 100, last_us: 105 }];
        assert_eq!(collect(&[0, 7, 15, 100, 105]), want);
        assert_eq!(collect(&[100, 0, 105, 15, 7]), want);
        assert_eq!(collect(&[]), []);
    }
}
