//! In what water did the bites of a place come?

/// Quartiles of what was measured; `n` values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quartiles {
    /// A quarter lies below.
    pub low: f64,
    /// Median.
    pub median: f64,
    /// A quarter lies above.
    pub high: f64,
    /// Values.
    pub n: usize,
}

impl Quartiles {
    /// Of values in any order; `None` without any. Between two values by a straight line (type 7 of R. J. Hyndman & Y. Fan, The American
    /// Statistician 50 (1996) 361–365; from memory).
    pub fn of(values: impl Iterator<Item = f64>) -> Option<Self> {
        let mut values: Vec<f64> = values.filter(|value| value.is_finite()).collect();
        values.sort_by(f64::total_cmp);
        let at = |p: f64| {
            let place = p * (values.len() - 1) as f64;
            let (below, part) = (place.floor() as usize, place.fract());
            let above = (below + 1).min(values.len() - 1);
            values[below] + part * (values[above] - values[below])
        };
        (!values.is_empty()).then(|| Self { low: at(0.25), median: at(0.5), high: at(0.75), n: values.len() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quartiles_of_few() {
        assert_eq!(Quartiles::of([].into_iter()), None);
        let one = Quartiles::of([7.0].into_iter()).unwrap();
        assert_eq!((one.low, one.median, one.high), (7.0, 7.0, 7.0));
        let five = Quartiles::of([5.0, 1.0, 4.0, 2.0, 3.0].into_iter()).unwrap();
        assert_eq!((five.low, five.median, five.high, five.n), (2.0, 3.0, 4.0, 5));
    }
}
