//! What is known of log and compass goes from trip to trip of a boat, in order of time, however many threads there are.
//!
//! ```text
//! thread 1:  read batch 1 ─ currents 1 ─ the rest of 1      read batch 3 …
//! thread 2:  read batch 2 ───── waits ─ currents 2 ─ the rest of 2
//! ```

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use crate::currents::Earlier;
use crate::span::Span;

/// The trips of a boat that are known already, and whose turn it is.
#[derive(Debug)]
pub struct Chain {
    state: Mutex<State>,
    moved_on: Condvar,
}

#[derive(Debug)]
struct State {
    /// The batch whose turn it is.
    next: usize,
    /// What each trip left, in order of time.
    known: Vec<(Span, Earlier)>,
}

impl Chain {
    /// Starts with what a logbook holds.
    pub fn new(mut known: Vec<(Span, Earlier)>) -> Self {
        known.sort_by_key(|(span, _)| *span);
        Self { state: Mutex::new(State { next: 0, known }), moved_on: Condvar::new() }
    }

    /// The place of a batch in the chain. Every batch must take it; it is passed on when it is dropped.
    pub fn place(&self, batch: usize) -> Place<'_> {
        Place { chain: self, batch }
    }
}

/// A batch's place in the chain.
#[derive(Debug)]
pub struct Place<'a> {
    chain: &'a Chain,
    batch: usize,
}

impl Place<'_> {
    /// Waits for all batches before this one.
    fn turn(&self) -> MutexGuard<'_, State> {
        let state = self.chain.state.lock().unwrap_or_else(PoisonError::into_inner);
        let not_yet = |state: &mut State| state.next < self.batch;
        self.chain.moved_on.wait_while(state, not_yet).unwrap_or_else(PoisonError::into_inner)
    }

    /// What the last trip before an instant left.
    pub fn before(&self, time_us: i64) -> Option<Earlier> {
        let state = self.turn();
        let last = state.known.iter().rev().find(|(span, _)| span.last_us < time_us);
        last.map(|(_, earlier)| earlier.clone())
    }

    /// Leaves what a trip says for those after it.
    pub fn leave(&self, span: Span, earlier: Option<Earlier>) {
        let mut state = self.turn();
        let at = state.known.partition_point(|(other, _)| *other <= span);
        state.known.splice(at..at, earlier.map(|earlier| (span, earlier)));
    }
}

impl Drop for Place<'_> {
    fn drop(&mut self) {
        self.turn().next = self.batch + 1;
        self.chain.moved_on.notify_all();
    }
}

/// Does jobs `0..n` on as many threads as rayon has, started in their order, and gives their results in it. The `end` of a
/// job comes on its thread after the beginning of the next one, so that what it has to wait for is there.
///
/// The threads are not rayon's: a job may wait for one that was started before it, and on rayon's threads that one might
/// be waiting below it on the same stack. After a failure no further job is started.
pub fn in_order<J, T: Send, E: Send>(
    n: usize,
    begin: impl Fn(usize) -> Result<J, E> + Sync,
    end: impl Fn(J) -> Result<T, E> + Sync,
) -> Result<Vec<T>, E> {
    let (next, has_failed) = (AtomicUsize::new(0), AtomicBool::new(false));
    let work = || {
        let (mut done, mut last) = (Vec::new(), None);
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let goes_on = index < n && !has_failed.load(Ordering::Relaxed);
            let begun = goes_on.then(|| (index, begin(index)));
            has_failed.fetch_or(matches!(begun, Some((_, Err(_)))), Ordering::Relaxed);
            let is_over = begun.is_none();
            if let Some((index, job)) = std::mem::replace(&mut last, begun) {
                let result = job.and_then(&end);
                has_failed.fetch_or(result.is_err(), Ordering::Relaxed);
                done.push((index, result));
            }
            if is_over {
                break;
            }
        }
        done
    };
    let mut done = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..rayon::current_num_threads().min(n)).map(|_| scope.spawn(work)).collect();
        let joined = threads.into_iter().map(|thread| match thread.join() {
            Ok(done) => done,
            Err(panic) => std::panic::resume_unwind(panic),
        });
        joined.flatten().collect::<Vec<_>>()
    });
    done.sort_by_key(|(index, _)| *index);
    done.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn batches_take_their_turns_whatever_comes_of_them() {
        let chain = Chain::new(Vec::new());
        let order = Mutex::new(Vec::new());
        let result = in_order(
            40,
            |batch| {
                let place = chain.place(batch);
                if batch % 7 == 3 {
                    // fails before its turn
                    return Ok::<_, ()>(());
                }
                std::thread::sleep(std::time::Duration::from_micros(((batch * 37) % 11) as u64 * 50));
                place.before(0);
                order.lock().unwrap().push(batch);
                Ok(())
            },
            Ok,
        );
        assert_eq!(result.unwrap().len(), 40);
        assert!(order.into_inner().unwrap().is_sorted());
    }

    #[test]
    fn a_failure_is_given_back_and_nothing_hangs() {
        let chain = Chain::new(Vec::new());
        let result = in_order(
            40,
            |batch| {
                let place = chain.place(batch);
                place.before(0);
                if batch == 5 { Err(batch) } else { Ok(batch) }
            },
            Ok,
        );
        assert_eq!(result, Err(5));
        assert_eq!(in_order(9, Ok, |job| if job == 4 { Err(job) } else { Ok(job) }), Err(4));
    }

    #[test]
    fn every_job_ends() {
        for n in [0, 1, 2, 7] {
            let result = in_order::<_, _, ()>(n, Ok, |job| Ok(10 * job));
            assert_eq!(result, Ok((0..n).map(|job| 10 * job).collect()));
        }
    }
}
