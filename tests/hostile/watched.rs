//! A piece of work under watch: it may neither panic nor go on for ever.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// How a piece of work ended.
pub struct Ended {
    /// What went wrong with it, if something did.
    pub wrong: Option<String>,
    pub took: Duration,
}

/// Does a piece of work on a thread of its own. One that does not end in time is left behind, and said to hang.
pub fn watched(
    limit: Duration,
    work: impl FnOnce() -> Result<(), String> + Send + 'static,
) -> Ended {
    let begun = Instant::now();
    let (tell, told) = channel();
    let thread = std::thread::spawn(move || {
        let ended = catch_unwind(AssertUnwindSafe(work));
        let wrong = match ended {
            Ok(ended) => ended.err(),
            Err(panic) => {
                let text = panic.downcast_ref::<String>().cloned();
                let text = text.or_else(|| panic.downcast_ref::<&str>().map(|t| (*t).to_owned()));
                Some(format!("it panics: {}", text.unwrap_or_default()))
            }
        };
        // Nobody listens any more where it took too long.
        let _ = tell.send(wrong);
    });
    let wrong = match told.recv_timeout(limit) {
        Ok(wrong) => {
            // Its text is told; a panic is not passed on.
            let _ = thread.join();
            wrong
        }
        Err(RecvTimeoutError::Timeout) => Some(format!("it is not done after {limit:?}")),
        Err(RecvTimeoutError::Disconnected) => Some("its thread is gone".to_owned()),
    };
    Ended {
        wrong,
        took: begun.elapsed(),
    }
}
