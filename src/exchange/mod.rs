//! What the page and the worker that computes say to each other: plain data, in one binary form.
//!
//! The page gives [`Order`]s, the worker answers with [`Report`]s. A [`Session`] is the worker's half without the
//! browser: it takes orders, works in slices and reports.

mod codec;
mod crew;
mod scripts;
mod session;
mod texts;

pub use codec::{Unreadable, decode, encode};
pub use crew::{HelperOrder, HelperReport, HelperSession};
pub use scripts::Call;
pub use session::Session;

use serde::{Deserialize, Serialize};

use crate::design::InputError;
use crate::export::{File, What};
use crate::outcome::{BoardOutcome, Outcome};
use crate::plant::SweptOf;
use crate::plant::sweep::{Columns, Reading};

/// Where measured responses come in. Texts of one know nothing of the other's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Intake {
    /// Sweeps of the plant.
    Plant,
    /// A response of what was built.
    Bench,
}

/// What the page wants.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Order {
    /// Go on with this design, as JSON; reports on it carry the number of the edit.
    Solve { edit: u32, design: String },
    /// Build this board of the spread again, by its number from 0.
    Board(u32),
    /// Read a sweep from a file's bytes, in these columns where they are given.
    Read {
        intake: Intake,
        text: u32,
        #[serde(with = "serde_bytes")]
        bytes: Vec<u8>,
        columns: Option<Columns>,
        /// All texts that are still wanted; others are forgotten.
        wanted: Vec<u32>,
    },
    /// Work out what a design keeps of these texts, taken together.
    Keep {
        intake: Intake,
        turn: u32,
        texts: Vec<u32>,
        /// What they are a response of, where a plant was swept within its loop.
        of: Option<SweptOf>,
    },
    /// Tell what there is to export.
    Available,
    /// Make a file of it; a parts list for so many boards.
    Export { what: What, boards: u32 },
    /// Write the build sheet of all that was found for the design.
    Sheet,
    /// Answer a script.
    Call { call: u32, what: Call },
}

/// What the worker has to say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Report {
    /// The worker runs and takes orders.
    Ready,
    /// It is at work on this field of the outcome, whose share of so much is done.
    Progress {
        edit: u32,
        field: String,
        share: f64,
        boards: Option<BoardsSoFar>,
    },
    /// A field is new: an outcome with nothing else in it. In part only, where it is not current.
    Found {
        field: String,
        told: Box<Outcome>,
        is_current: bool,
    },
    /// A field of the outcome belongs to the design again, or cannot be had.
    Settled { edit: u32, field: String },
    /// What the user has to change; nothing where the path is described without complaint.
    Refused { edit: u32, errors: Vec<InputError> },
    /// All is there.
    Done { edit: u32 },
    /// A board of the spread; none while there is no such board.
    Board {
        number: u32,
        board: Option<Box<BoardOutcome>>,
    },
    /// How a text was read; a sentence where it is no text.
    Read {
        intake: Intake,
        text: u32,
        reading: Result<Box<Reading>, String>,
    },
    /// What is to be kept of the texts.
    Kept {
        intake: Intake,
        turn: u32,
        kept: Result<Kept, NotKept>,
    },
    /// What there is to export of what belongs to the design.
    Available(Vec<What>),
    /// A file; a sentence where there is none.
    Exported {
        what: What,
        file: Result<Box<File>, String>,
    },
    /// The build sheet, as HTML, of the design that came with this edit.
    Sheet { edit: u32, text: String },
    /// The answer to a script.
    Answer { call: u32, text: String },
}

/// Boards that are drawn while more are being drawn.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BoardsSoFar {
    pub drawn: u32,
    /// 95 % confidence interval of the share that holds every limit (Clopper and Pearson).
    pub low: f64,
    pub high: f64,
}

/// Why there is nothing to keep of texts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum NotKept {
    /// One of them is not known.
    Unread,
    /// The path that was in the loop has no parts yet.
    NoPath,
}

/// What a design keeps of one sweep or several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// As a design holds it.
    pub sweep: String,
    /// Points of it, and rows that were measured.
    pub points: u32,
    pub rows: u32,
    /// Sentences on how several texts were taken together, and on what a plant was worked out from.
    pub notes: Vec<String>,
    /// What the texts are a response of, where a plant was worked out from it with the path.
    pub of: Option<SweptOf>,
    /// The demo's sweep as a design holds it.
    pub demo: String,
}
