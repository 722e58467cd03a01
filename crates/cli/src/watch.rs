//! Clock, Ctrl-C and progress: the planner's link to the terminal.
//!
//! Ctrl-C ends the program at once while there is no plan to keep, ends the search once there is one,
//! and pressed again gives up what comes after the search. Once files are being written it is too late: that
//! takes moments, and whoever hears that nothing was written must be able to rely on it.

use indicatif::{ProgressBar, ProgressStyle};
use seamwright_plan::PlanError;
use seamwright_plan::job::{News, Watch};
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

/// Watches one call.
pub struct Terminal {
    start: Instant,
    seconds: f64,
    stopped: Arc<AtomicBool>,
    /// Whether some item has a plan: before, a person who says stop has nothing to wait for.
    planned: Arc<AtomicBool>,
    /// Whether there is nothing left to give up.
    finished: Arc<AtomicBool>,
    bar: Option<ProgressBar>,
    quiet: bool,
}

impl Terminal {
    /// Starts the clock; the search ends after `seconds` or at the first Ctrl-C after the first plan.
    pub fn new(seconds: f64, quiet: bool) -> Self {
        let stopped = Arc::new(AtomicBool::new(false));
        let planned = Arc::new(AtomicBool::new(false));
        let finished = Arc::new(AtomicBool::new(false));
        let (heard, is_planned, is_finished) = (stopped.clone(), planned.clone(), finished.clone());
        // A second handler cannot be set; then Ctrl-C simply ends the program.
        let _ = ctrlc::set_handler(move || {
            let is_again = heard.swap(true, Ordering::Relaxed);
            if !is_planned.load(Ordering::Relaxed) {
                give_up(&PlanError::Stopped.to_string());
            }
            if is_again && !is_finished.load(Ordering::Relaxed) {
                give_up("stopped before the plan was written");
            }
        });
        let bar = (!quiet && std::io::stderr().is_terminal()).then(|| {
            let bar = ProgressBar::new_spinner();
            if let Ok(style) = ProgressStyle::with_template("{elapsed:>4} {msg}") {
                bar.set_style(style);
            }
            bar
        });
        Self { start: Instant::now(), seconds, stopped, planned, finished, bar, quiet }
    }

    /// Clears the progress line; from here on Ctrl-C gives nothing up.
    pub fn finish(&self) {
        self.finished.store(true, Ordering::Relaxed);
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }

    fn say(&self, text: &str) {
        match &self.bar {
            Some(bar) => bar.println(text),
            None if !self.quiet => eprintln!("{text}"),
            None => {}
        }
    }
}

impl Watch for Terminal {
    fn seconds(&self) -> f64 {
        self.start.elapsed().as_secs_f64()
    }

    fn stop(&self) -> bool {
        self.interrupted() || self.seconds() >= self.seconds
    }

    fn interrupted(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }

    fn tell(&self, news: News) {
        match news {
            News::Reading { name } => self.say(&format!("reading {name}")),
            News::Read { item, triangles, size_mm: [x, y, z] } => {
                self.say(&format!("{item}: {triangles} triangles, {x:.0} x {y:.0} x {z:.0} mm"));
            }
            News::Grid { n_done, n_all } => {
                if let Some(bar) = &self.bar {
                    bar.set_message(format!("plain grid: plane {} of {n_all}", n_done + 1));
                    bar.tick();
                }
            }
            News::FirstPlan { item, pieces } => {
                self.planned.store(true, Ordering::Relaxed);
                self.say(&format!("{item}: plain grid {pieces} {}", plural(pieces)));
            }
            News::Round { round, pieces, candidates } => {
                let text =
                    format!("round {round}: {pieces} {}, {candidates} planes looked at", plural(pieces));
                match &self.bar {
                    Some(bar) => {
                        bar.set_message(text);
                        bar.tick();
                    }
                    None => self.say(&text),
                }
            }
            News::Stage(stage) => match &self.bar {
                Some(bar) => {
                    bar.set_message(stage);
                    bar.tick();
                }
                None => self.say(stage),
            },
        }
    }
}

/// Ends the program where Ctrl-C found it.
fn give_up(why: &str) -> ! {
    eprintln!("seamwright: {why}; nothing was written");
    std::process::exit(1)
}

fn plural(pieces: usize) -> &'static str {
    if pieces == 1 { "piece" } else { "pieces" }
}
