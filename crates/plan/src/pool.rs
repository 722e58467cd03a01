//! Runs the tasks of a round on threads; results come back in task order.
//!
//! In the browser there are no threads: there the pool is the calling one, and workers share the
//! rounds between them (`www/src/planner`).

#[cfg(not(target_arch = "wasm32"))]
use rayon::prelude::*;

/// Some threads, or the calling one alone.
pub struct Pool {
    #[cfg(not(target_arch = "wasm32"))]
    threads: Option<rayon::ThreadPool>,
}

#[cfg(not(target_arch = "wasm32"))]
impl Pool {
    /// A pool of `n_threads`; where threads cannot be had the calling one does all the work.
    pub fn new(n_threads: usize) -> Self {
        let threads = (n_threads > 1)
            .then(|| rayon::ThreadPoolBuilder::new().num_threads(n_threads).build().ok())
            .flatten();
        Self { threads }
    }

    /// How many threads work.
    pub fn n_threads(&self) -> usize {
        self.threads.as_ref().map_or(1, rayon::ThreadPool::current_num_threads)
    }

    /// `work` on every task, in task order.
    pub fn map<T: Sync, R: Send>(&self, tasks: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
        match &self.threads {
            Some(threads) => threads.install(|| tasks.par_iter().map(&work).collect()),
            None => tasks.iter().map(work).collect(),
        }
    }
}

#[cfg(target_arch = "wasm32")]
impl Pool {
    /// The calling thread, however many are wished.
    pub fn new(_n_threads: usize) -> Self {
        Self {}
    }

    /// One.
    pub fn n_threads(&self) -> usize {
        1
    }

    /// `work` on every task, in task order.
    pub fn map<T: Sync, R: Send>(&self, tasks: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
        tasks.iter().map(work).collect()
    }
}
