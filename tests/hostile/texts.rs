//! Files as nobody would write them.

use polewright::plant::KeepWork;
use polewright::plant::sweep::{
    Columns, Separator, decode, merge, read, read_measured, write, write_magnitudes,
};

use crate::numbers::Numbers;

/// A file of up to so many bytes, or a few more.
pub fn draw(numbers: &mut Numbers, most: usize) -> Vec<u8> {
    let size = (most as f64).powf(numbers.part()) as usize;
    match numbers.below(5) {
        0 => repeated(numbers, size),
        1 => bytes(numbers, size),
        2 => near_table(numbers, size, true),
        _ => near_table(numbers, size, false),
    }
}

/// Shapes of which each holds up something that goes over cells, lines or columns more often than it should.
pub const SHAPES: [(&str, &str); 24] = [
    ("one long line", "1 2 3 "),
    ("one long line of commas", "1,2,3,"),
    ("one long line with decimal commas", "1,5;2,5;"),
    ("one huge cell", "1"),
    ("one huge word", "x"),
    ("one huge cell of points", "."),
    ("empty lines", "\n"),
    ("blank lines", "   \t \n"),
    ("ends of lines that are CR alone", "1 2 3\r"),
    ("NUL bytes", "1 2 3\0\n"),
    ("NUL bytes alone", "\0"),
    ("quotes", "\""),
    ("quotes that do not close", "\"1 "),
    ("quotes between commas", "\"1,"),
    ("apostrophes", "'1';"),
    ("thousands", "1,000,"),
    ("complex numbers", "1+2j,"),
    ("brackets", "(((("),
    ("remarks", "1 2 3 ! 1 2 3 "),
    ("comments", "# 1 2 3 (Hz) "),
    ("lines of comments", "# f (Hz), mag (dB), phase (deg)\n"),
    ("bars", "|"),
    ("signs", "+-"),
    ("rows at one frequency", "1 2 3\n"),
];

/// A table's beginning, a shape until there are so many bytes, and a table's end.
pub fn shaped(before: &str, shape: &str, after: &str, size: usize) -> Vec<u8> {
    let count = size.saturating_sub(before.len()) / shape.len();
    let mut text = before.to_owned();
    text.push_str(&shape.repeat(count));
    text.push_str(after);
    text.into_bytes()
}

fn repeated(numbers: &mut Numbers, size: usize) -> Vec<u8> {
    let ends = [
        "",
        "1 2 3\n2 3 4\n",
        "f (Hz);dB;deg\n",
        "\n1,2,3\n2,3,4\n3,4,5",
    ];
    let (_, shape) = numbers.one_of(&SHAPES);
    shaped(numbers.one_of(&ends), shape, numbers.one_of(&ends), size)
}

fn bytes(numbers: &mut Numbers, size: usize) -> Vec<u8> {
    let signs = b"0123456789.,;:|+-eEdDijIJ()[] \t\n\r\"'#%!/\0\x1a\xb0\xe2\x88\x92\xff\xfeNaninf";
    (0..size).map(|_| numbers.one_of(signs)).collect()
}

/// Rows that are a table but for something in them.
fn near_table(numbers: &mut Numbers, size: usize, is_wild: bool) -> Vec<u8> {
    let separator = numbers.one_of(&["\t", ";", ",", " ", " | ", ", ", "  "]);
    let end = numbers.one_of(&["\n", "\r\n", "\r"]);
    let columns = numbers.one_of(&[3, 3, 3, 4, 5, 9, 300]);
    let decimal_comma = numbers.chance(0.2);
    let mut text = String::new();
    if numbers.chance(0.5) {
        let names = [
            "f (Hz)",
            "Mag (dB)",
            "Phase (deg)",
            "Re",
            "Im",
            "coherence",
            "weight",
            "x",
            "",
        ];
        let row: Vec<&str> = (0..columns).map(|_| numbers.one_of(&names)).collect();
        text.push_str(&row.join(separator));
        text.push_str(end);
    }
    let spread = numbers.one_of(&[0.0, 1.0, 12.0, 200.0]);
    let odd = numbers.one_of(&[0.0, 0.0, 0.01, 0.3]);
    let mut frequency = 10f64.powf(8.0 * numbers.part() - 4.0);
    while text.len() < size {
        frequency *= 1.0 + numbers.one_of(&[0.0, 1e-12, 1e-3, 0.1, 0.1, 0.1]);
        let cells = (0..columns).map(|column| {
            if numbers.chance(odd) {
                let odd = [
                    "",
                    "NaN",
                    "inf",
                    "-1e999",
                    "1e-999",
                    "x",
                    "1+2j",
                    "\u{2212}3",
                    "1,000",
                    "\"",
                    "0",
                ];
                return numbers.one_of(&odd).to_owned();
            }
            let value = match column {
                0 => frequency,
                _ if is_wild => 10f64.powf(spread * (2.0 * numbers.part() - 1.0)) - 0.5,
                _ => -100.0 * numbers.part(),
            };
            let cell = format!("{value}");
            if decimal_comma {
                cell.replace('.', ",")
            } else {
                cell
            }
        });
        text.push_str(&cells.collect::<Vec<_>>().join(separator));
        text.push_str(end);
    }
    text.into_bytes()
}

/// Takes a file in as the page does: as it is guessed, with columns that were chosen, and as several of one plant; and
/// works out what a design keeps of it. What must hold: what is not read says why in a sentence, and what is kept reads
/// back to the same. Returns the kept sweep's text, "" where there is none.
///
/// # Errors
/// What does not hold.
pub fn taken_in(bytes: &[u8]) -> Result<String, String> {
    let text = match decode(bytes) {
        Ok(text) => text,
        Err(sentence) => return is_sentence(&sentence).map(|()| String::new()),
    };
    let reading = read(&text, None);
    if let Some(error) = &reading.error {
        is_sentence(error)?;
    }
    for bad in &reading.bad {
        is_sentence(&bad.reason)?;
    }
    let shown = reading.preview.iter().map(Vec::len).max().unwrap_or(0);
    if shown.max(reading.names.len()) > 256 || reading.preview.len() > 20 {
        return Err(format!(
            "{shown} columns and {} names are shown",
            reading.names.len()
        ));
    }
    for separator in [Separator::Blanks, Separator::Comma] {
        let columns = Columns {
            separator,
            ..reading.columns
        };
        let reading = read(&text, Some(&columns));
        if let Some(error) = &reading.error {
            is_sentence(error)?;
        }
    }
    looked_at_by_a_bench(&text)?;
    if reading.error.is_some() {
        return Ok(String::new());
    }
    let merged = merge(&[&reading, &reading]);
    let mut work = KeepWork::begin(merged.sweep);
    while work.step().is_pending() {}
    let kept = work.into_kept();
    let text = write(&kept);
    let back = read(&text, None);
    if kept.points.len() > 2 && back.sweep != kept {
        return Err(format!(
            "{} points are kept and {} read back: {:?}",
            kept.points.len(),
            back.sweep.points.len(),
            back.error
        ));
    }
    Ok(text)
}

/// The same text where its phase may lack: what is kept of it is read back.
fn looked_at_by_a_bench(text: &str) -> Result<(), String> {
    let reading = read_measured(text, None);
    if let Some(error) = &reading.error {
        return is_sentence(error);
    }
    if reading.columns.has_phase() {
        return Ok(());
    }
    let merged = merge(&[&reading, &reading]);
    let kept = merged.sweep.thinned(500);
    let back = read_measured(&write_magnitudes(&kept), None);
    if kept.points.len() > 2 && back.sweep != kept {
        return Err(format!("magnitudes are not read back: {:?}", back.error));
    }
    Ok(())
}

fn is_sentence(text: &str) -> Result<(), String> {
    if text.ends_with('.') && text.chars().count() < 600 {
        Ok(())
    } else {
        Err(format!("this is no short sentence: {text:?}"))
    }
}
