//! The build sheet: all that a colleague needs stands there, and nothing of it is markup that a user wrote.

use std::fs;
use std::path::Path;

use polewright::design::{Design, LogEntry, StageDesign};
use polewright::exchange::{Order, Report, Session};
use polewright::export::{What, export};
use polewright::outcome::{MARGIN_ROWS, Outcome};
use polewright::plant::sweep;
use polewright::quantity::{Unit, exact, rounded};
use polewright::sheet;
use polewright::stages::{CATALOGUE, catalogued};
use polewright::wording::{figure_text, per_cent};

use super::designs::solved;

/// The demo with so many boards, and without what the sheet has no place for.
fn demo(boards: u32) -> Design {
    let mut design = Design::default();
    design.view.compare = false;
    design.view.propose = false;
    design.spread.boards = boards;
    design
}

/// A path of these circuits with the asks that they begin with.
fn path(circuits: &[&str], boards: u32) -> Design {
    let stage = |id: &&str| StageDesign {
        circuit: (*id).to_owned(),
        ask: catalogued(id).expect("a circuit").default_ask(),
        ..StageDesign::default()
    };
    Design {
        stages: circuits.iter().map(stage).collect(),
        ..demo(boards)
    }
}

fn three(boards: u32) -> Design {
    path(
        &[
            "state-variable-notch",
            "sallen-key-low-pass",
            "mfb-band-pass",
        ],
        boards,
    )
}

/// The demo in a loop with its plant.
fn looped(boards: u32) -> Design {
    let mut design = demo(boards);
    design.servo.sweep = sweep::DEMO.to_owned();
    design
}

#[test]
#[ignore = "writes sheets to be looked at into target/sheets"]
fn write_sheets() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/sheets");
    fs::create_dir_all(&folder).expect("a folder");
    let mut named = demo(10_000);
    named.about.name = "Focus stage, notch of the driver board".into();
    named.about.date = "2026-11-28".into();
    named.about.notes = "For the second prototype. Replaces the notch of board A.".into();
    let mut logged = looped(4_000);
    logged.about.log = (1..6)
        .map(|n| LogEntry {
            date: format!("2026-11-{n:02}"),
            change: "R1 changed to 3.9 kΩ, notch read again.".into(),
        })
        .collect();
    let mut filter = demo(10_000);
    filter.filter.order = Some(16);
    let stages = solved(&filter).filter.expect("a filter").path();
    filter.stages = stages;
    let mut wire = looped(2_000);
    wire.stages.clear();
    let largest = CATALOGUE
        .iter()
        .max_by_key(|stage| stage.netlist().parts().len())
        .expect("a circuit");
    let all = [
        ("one", named),
        ("three", three(10_000)),
        ("loop", logged),
        ("eight", filter),
        ("wire", wire),
        ("largest", path(&[largest.id()], 4_000)),
    ];
    for (name, design) in all {
        let sheet = sheet::document(&design, &solved(&design));
        fs::write(folder.join(format!("{name}.html")), sheet).expect("a file");
    }
    let unpicked = sheet::document(&three(100), &Outcome::default());
    fs::write(folder.join("unpicked.html"), unpicked).expect("a file");
}
