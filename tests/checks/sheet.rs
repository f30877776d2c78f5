//! The build sheet: all that a colleague needs stands there, and nothing of it is markup that a user wrote.

use std::fs;
use std::path::Path;

use polewright::design::{Design, FilterBand, LogEntry, StageDesign};
use polewright::exchange::{Order, Report, Session};
use polewright::export::{What, export};
use polewright::outcome::{MARGIN_ROWS, Outcome};
use polewright::parts::DataSheet;
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

/// Elements within a line.
const INLINE: [&str; 4] = ["small", "strong", "b", "span"];

/// The sheet's words, without markup and pictures. It must be well-formed XML.
fn words(markup: &str) -> String {
    let whole = format!("<body>{markup}</body>");
    let tree = roxmltree::Document::parse(&whole);
    let tree = tree.unwrap_or_else(|error| panic!("{error}: {markup:.3000}"));
    let mut text = String::new();
    gather(tree.root_element(), &mut text);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn gather(node: roxmltree::Node, text: &mut String) {
    for child in node.children() {
        text.push_str(child.text().filter(|_| child.is_text()).unwrap_or_default());
        if child.is_element() && !child.has_tag_name(("http://www.w3.org/2000/svg", "svg")) {
            let is_block = !INLINE.contains(&child.tag_name().name());
            text.push_str(if is_block { " " } else { "" });
            gather(child, text);
            text.push_str(if is_block { " " } else { "" });
        }
    }
}

fn pages(markup: &str) -> usize {
    markup.matches("<section class=\"sheet-page\">").count()
}

/// What holds of every sheet: each part of each stage with its value, each figure with its limits, the yields, the
/// assumptions, the cautions.
fn has_all(design: &Design, outcome: &Outcome) -> String {
    let markup = sheet::fragment(design, outcome);
    for forbidden in ["style=", "<style", "<script", "href"] {
        assert!(!markup.contains(forbidden), "{forbidden}");
    }
    let text = words(&markup);
    let has = |wanted: &str| assert!(text.contains(wanted), "{wanted} is not in: {text}");
    for (stage, asked) in outcome.stages.iter().zip(&design.stages) {
        has(&stage.title);
        for entry in asked.ask.asked().entries() {
            has(entry.label.trim_end_matches(" ±"));
        }
        for part in &stage.parts {
            has(&format!(
                "{} {} {}",
                part.name,
                rounded(part.exact, part.unit, 6),
                exact(part.value, part.unit)
            ));
        }
        for figure in &stage.figures {
            has(&figure.label);
            has(&figure_text(figure.value, figure.unit));
            for limit in [figure.lowest, figure.highest].into_iter().flatten() {
                let limit = rounded(limit, figure.unit, 5);
                // The unit stands once behind both limits.
                has(limit.split(' ').next().unwrap_or_default());
            }
        }
    }
    let spread = outcome.spread.as_ref().expect("boards");
    has(&per_cent(spread.share.fraction));
    for figure in &spread.figures {
        figure
            .held
            .into_iter()
            .for_each(|held| has(&per_cent(held)));
    }
    for share in spread.path.iter().flat_map(|path| &path.stages) {
        has(&per_cent(*share));
    }
    for figure in outcome.corners.iter().flat_map(|corners| &corners.figures) {
        has(&figure.label);
    }
    has("Variance contributions, % of each figure's variance");
    let found = outcome.contributions.as_ref().expect("contributions");
    for figure in found
        .figures
        .iter()
        .filter(|figure| !figure.shares.is_empty())
    {
        for (factor, share) in found.factors.iter().zip(&figure.shares) {
            if *share >= 0.01 {
                has(&factor.label);
                has(&format!("{:.1}", 100.0 * share));
            }
        }
    }
    for (label, text) in [
        ("Seed", design.spread.seed.to_string()),
        ("Boards", design.spread.boards.to_string()),
        (
            "Temperature",
            format!("±{}", exact(design.spread.temperature_span, Unit::Kelvin)),
        ),
        (
            "Tolerance",
            format!(
                "±{}",
                exact(design.shelf.resistors.tolerance, Unit::Percent)
            ),
        ),
        (
            "Gain-bandwidth",
            exact(design.op_amp.gain_bandwidth, Unit::Hertz),
        ),
        ("Distribution", "uniform within the tolerance".to_owned()),
    ] {
        has(&format!("{label} {text}"));
    }
    has("Computed, not measured");
    has("Checked by");
    markup
}

#[test]
fn one_stage_stands_on_two_pages() {
    let design = demo(400);
    let markup = has_all(&design, &solved(&design));
    assert_eq!(pages(&markup), 2);
    // Its four charts, its schematic, its histograms.
    assert_eq!(markup.matches("<svg").count(), 6);
}

#[test]
fn each_further_stage_has_its_page_and_its_curves() {
    let mut design = three(300);
    for shown in 0..3 {
        design.view.stage = shown;
        let outcome = solved(&design);
        let there: Vec<bool> = outcome.unshown.iter().map(Option::is_some).collect();
        let wanted: Vec<bool> = (0..3).map(|stage| stage != shown).collect();
        assert_eq!(there, wanted);
        let markup = has_all(&design, &outcome);
        assert_eq!(pages(&markup), 4);
        // A schematic each, four charts of the shown one, two of each other and of the path.
        assert_eq!(markup.matches("<svg").count(), 3 + 4 + 2 * 2 + 2);
        assert!(words(&markup).contains("Bill of materials"));
    }
}

#[test]
fn curves_of_a_stage_are_the_same_whether_it_is_shown_or_not() {
    let mut design = three(100);
    let first = solved(&design);
    design.view.stage = 1;
    let second = solved(&design);
    let unshown = first.unshown[1].as_ref().expect("curves");
    let shown = second.stages[1].curves.as_ref().expect("curves");
    assert_eq!(unshown.frequency, shown.frequency);
    for (a, b) in [
        (&unshown.ask, &shown.ask),
        (&unshown.ideal, &shown.ideal),
        (&unshown.real, &shown.real),
    ] {
        assert_eq!(
            (&a.magnitude_db, &a.phase_deg),
            (&b.magnitude_db, &b.phase_deg)
        );
    }
    assert!(unshown.real.step.is_empty() && unshown.time.is_empty());
}

#[test]
fn the_loop_has_a_page_with_verdict_margins_and_shares() {
    let design = looped(300);
    let outcome = solved(&design);
    let markup = has_all(&design, &outcome);
    assert_eq!(pages(&markup), 3);
    let text = words(&markup);
    let has = |wanted: &str| assert!(text.contains(wanted), "{wanted} is not in: {text}");
    let servo = outcome.servo.as_ref().expect("a loop");
    for row in &MARGIN_ROWS {
        has(row.label);
        for told in [&servo.modelled, &servo.measured].into_iter().flatten() {
            (row.read)(told)
                .into_iter()
                .for_each(|value| has(&figure_text(value, row.unit)));
        }
    }
    let boards = servo.spread.as_ref().expect("boards");
    for y in [&boards.kept, &boards.phase_kept, &boards.stable] {
        has(&per_cent(y.fraction));
    }
    servo.warnings.iter().for_each(|warning| has(warning));
    for mode in &servo.plant.model.as_ref().expect("a model").modes {
        has(&rounded(mode.frequency, Unit::Hertz, 5));
    }
    for wanted in [
        "IEC 60825-1",
        "Phase budget",
        "Settling time",
        "Mode damping ±30 %",
    ] {
        has(wanted);
    }
}

#[test]
fn a_loop_without_a_stage_has_a_sheet() {
    let mut design = looped(200);
    design.stages.clear();
    let markup = sheet::fragment(&design, &solved(&design));
    assert_eq!(pages(&markup), 1);
    let text = words(&markup);
    assert!(
        text.contains("it is a wire") && text.contains("Phase margin") && text.contains("Seed 1")
    );
}

#[test]
fn what_is_not_there_is_said() {
    let design = three(100);
    let markup = sheet::fragment(&design, &Outcome::default());
    assert_eq!(pages(&markup), 1);
    let text = words(&markup);
    for wanted in [
        "No parts are picked",
        "Required of stage 3: Multiple-feedback band-pass",
        "Centre frequency 1 kHz",
    ] {
        assert!(text.contains(wanted), "{wanted} is not in: {text}");
    }
    assert!(export(&design, &Outcome::default(), What::BuildSheet, 1).is_err());
}

#[test]
fn the_users_words_are_no_markup() {
    let nasty = "</p><script>alert(1)</script> & \"quoted\" 'too' <b>";
    let mut design = looped(100);
    design.about.name = nasty.to_owned();
    design.about.notes = format!("{nasty}\n{nasty}");
    design.about.date = "<i>today</i>".to_owned();
    design.about.log = vec![LogEntry {
        date: "<u>".to_owned(),
        change: nasty.to_owned(),
    }];
    design.servo.units.output = "<µm>".to_owned();
    let markup = sheet::fragment(&design, &solved(&design));
    assert!(!markup.contains("<script") && !markup.contains("<b>") && !markup.contains("<i>"));
    let text = words(&markup);
    for wanted in [nasty, "<i>today</i>", "<u>", "<µm>"] {
        assert!(text.contains(wanted), "{wanted}");
    }
}

#[test]
fn long_notes_and_a_log_are_there_to_the_last_word() {
    let mut design = demo(100);
    design.about.notes = (0..400).map(|n| format!("note{n} ")).collect();
    design.about.log = (0..200)
        .map(|n| LogEntry {
            date: String::new(),
            change: format!("change{n}"),
        })
        .collect();
    let text = words(&sheet::fragment(&design, &solved(&design)));
    assert!(text.contains("note399") && text.contains("change0") && text.contains("change199"));
}

#[test]
fn parts_that_vary_on_their_own_are_told() {
    let mut design = demo(100);
    design = design
        .with("/stages/0/strays/R2/tolerance", 0.001.into())
        .expect("a place");
    let text = words(&sheet::fragment(&design, &solved(&design)));
    assert!(text.contains("stage 1, Tolerance of R2 ±0.1 %"), "{text}");
    assert!(text.contains("±0.1 %"));
}

/// Demands mean nothing without the signal, the rails and the figures of the op amp that is bought.
#[test]
fn demands_stand_with_their_signal_and_data_sheets() {
    let mut design = path(&["mfb-notch", "state-variable-notch"], 100);
    design.op_amps = vec![DataSheet {
        name: "quick".to_owned(),
        slew_rate: 37e6,
        supply_current: 6.1e-3,
        ..DataSheet::default()
    }];
    design.stages[0].op_amp = Some("quick".to_owned());
    design.conditions.positive_rail = 11.5;
    design.signal.points[0].amplitude = 0.73;
    let outcome = solved(&design);
    let text = words(&sheet::fragment(&design, &outcome));
    let allowed = outcome.demands.as_ref().and_then(|d| d.signal_allowed());
    assert!(allowed.is_some());
    for wanted in [
        "Between −15 V and 11.5 V, with a load of 10 kΩ; sines at the path's input: 730 mV at 10 Hz",
        "slew rate 37 V/µs",
        "supply current 6.1 mA",
        // The usual one's.
        "slew rate 5 V/µs",
        "of this signal",
    ] {
        let wanted = match (wanted, allowed) {
            ("of this signal", Some(allowed)) if allowed >= 1.0 => "times this signal",
            _ => wanted,
        };
        assert!(text.contains(wanted), "{wanted}: {text}");
    }
}

#[test]
fn the_file_stands_by_itself() {
    let design = demo(100);
    let outcome = solved(&design);
    let file = export(&design, &outcome, What::BuildSheet, 1).expect("a file");
    assert_eq!(file.name, "build-sheet.html");
    assert!(file.text.starts_with("<!DOCTYPE html>") && file.text.contains("@page"));
    assert!(!file.text.contains("src=") && !file.text.contains("url("));
    assert!(file.text.contains(&sheet::fragment(&design, &outcome)));
}

#[test]
fn the_worker_writes_the_sheet_of_the_design_that_it_was_given_last() {
    let mut session = Session::default();
    let ask = |session: &mut Session| {
        let mut told = None;
        session.take(Order::Sheet, &mut |report| told = Some(report));
        match told {
            Some(Report::Sheet { edit, text }) => (edit, text),
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(ask(&mut session), (0, String::new()));
    let mut design = demo(100);
    for (edit, seed) in [(1, 7), (2, 8)] {
        design.spread.seed = seed;
        let text = serde_json::to_string(&design).expect("JSON");
        session.take(Order::Solve { edit, design: text }, &mut |_| {});
        while session.advance(&mut || true, &mut |_| {}) {}
        let (of, text) = ask(&mut session);
        assert_eq!(of, edit);
        assert_eq!(text, sheet::fragment(&design, &solved(&design)));
    }
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
    filter.filter.band = FilterBand::BandPass;
    filter.filter.order = Some(5);
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
