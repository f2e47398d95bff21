//! What is made of many seeds, on all processors and in their order.

use std::ops::Range;
use std::sync::Mutex;

/// What is made of each seed, in their order, on as many threads as there are processors.
pub fn over_seeds<T: Send>(seeds: Range<u64>, day: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let next = Mutex::new(seeds);
    let done: Mutex<Vec<(u64, T)>> = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let Some(seed) = next.lock().unwrap().next() else { break };
                    let day = day(seed);
                    done.lock().unwrap().push((seed, day));
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap();
    done.sort_by_key(|(seed, _)| *seed);
    done.into_iter().map(|(_, day)| day).collect()
}
