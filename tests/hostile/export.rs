//! All that can be exported of a design's outcome.

use polewright::design::Design;
use polewright::export::{What, available, export};
use polewright::outcome::Outcome;
use polewright::solve::solve;
use serde_json::Value;

/// What must hold of everything that is exported: it is a text in its form where it is said to be there, and a
/// sentence where not. The same of an outcome that is another design's.
///
/// # Errors
/// What does not hold.
pub fn exported(design: &str, boards: u32) -> Result<(), String> {
    let Ok(design) = Design::from_json(design) else {
        return Ok(());
    };
    let Ok(outcome) = solve(&design) else {
        return Ok(());
    };
    let there = available(&outcome);
    for what in What::ALL {
        match export(&design, &outcome, what, boards) {
            Ok(file) => {
                let holds = match file.name.rsplit('.').next() {
                    Some("csv") => is_table(&file.text),
                    Some("html") => file.text.ends_with("</html>"),
                    Some("json") => serde_json::from_str::<Value>(&file.text).is_ok(),
                    Some("svg") => is_picture(&file.text),
                    _ => is_netlist(&file.text),
                };
                if !holds || !there.contains(&what) {
                    return Err(format!("{what:?}: {:.300}", file.text));
                }
            }
            Err(error) => {
                let is_expected = !there.contains(&what) || (what == What::Parts && boards == 0);
                if !is_expected || !error.ends_with('.') {
                    return Err(format!("{what:?}: {error}"));
                }
            }
        }
        for other in [&Design::default(), &Design::blank()] {
            let _ = export(other, &outcome, what, boards);
        }
        let _ = export(&design, &Outcome::default(), what, boards);
    }
    Ok(())
}

/// Rows of one length, the first of which names the columns.
fn is_table(text: &str) -> bool {
    let mut reader = csv::ReaderBuilder::new();
    let mut reader = reader.has_headers(true).from_reader(text.as_bytes());
    let named = reader
        .headers()
        .is_ok_and(|header| header.iter().all(|name| !name.is_empty()));
    named && reader.records().all(|row| row.is_ok())
}

/// XML whose places are all numbers.
fn is_picture(text: &str) -> bool {
    let numbers = ["NaN", "inf"];
    let is_number = |text: &str| !numbers.iter().any(|word| text.contains(word));
    roxmltree::Document::parse(text).is_ok_and(|picture| {
        let mut attributes = picture.descendants().flat_map(|node| node.attributes());
        attributes.all(|attribute| is_number(attribute.value()))
    })
}

/// ASCII, with an end, and with a number above 0 for every element that has one.
fn is_netlist(text: &str) -> bool {
    let has_value = |line: &str| {
        let value = line
            .rsplit(' ')
            .next()
            .and_then(|word| word.parse::<f64>().ok());
        let is_one_of = |letters: &str| line.starts_with(|first| letters.contains(first));
        !is_one_of("RCGE") || value.is_some_and(|value| value.is_normal() && value > 0.0)
    };
    text.is_ascii() && text.ends_with(".END\n") && text.lines().all(has_value)
}
