//! The built page, in a real browser, used through the keyboard and read as any script could.
//!
//! `cargo xtask test` builds and serves the page, and says in `POLEWRIGHT_PAGE` where it is and in `POLEWRIGHT_AXE`
//! where the script of axe-core is.

mod accessible;
mod ask;
mod bad_entry;
mod begin;
mod bench;
mod comparison;
mod console;
mod document;
mod drafts;
mod fields;
mod focus;
mod helpers;
mod kept;
mod loops;
mod low_end;
mod memory;
mod narrow;
mod noise;
mod notch;
mod over;
mod path;
mod pictures;
mod printed;
mod quiet;
mod share;
mod spread;
mod strict;
mod unread_link;
mod whole;
mod worker;

use std::f64::consts::TAU;

use serde_json::json;
use xtask::Result;
use xtask::browser::Record;
use xtask::page::Page;

/// The notch's parts, in the order in which [`parts`] reads them.
const PARTS: [&str; 6] = ["R1", "R2", "R3", "R4", "C1", "C2"];

/// Frequency in Hz, damping, residue.
type Mode = (f64, f64, f64);

/// Modes behind 4 µs of delay, as rows of real and imaginary part; a thousandth of noise that is the same in every run.
fn sweep(from: f64, rows: u32, per_decade: f64, modes: &[Mode]) -> String {
    let mut text = String::from("f (Hz), real, imaginary\n");
    for k in (0..rows).map(f64::from) {
        let f = from * 10f64.powf(k / per_decade);
        let omega = TAU * f;
        let (mut re, mut im) = (0.0, 0.0);
        for (frequency, damping, residue) in modes {
            let own = TAU * frequency;
            let (a, b) = (own * own - omega * omega, 2.0 * damping * own * omega);
            re += residue * a / (a * a + b * b);
            im -= residue * b / (a * a + b * b);
        }
        let noise = 1.0 + 1e-3 * (k * 12.9898).sin();
        let (sine, cosine) = (-omega * 4e-6).sin_cos();
        let (real, imaginary) = (re * cosine - im * sine, re * sine + im * cosine);
        text.push_str(&format!(
            "{f:.6e}, {:.9e}, {:.9e}\n",
            noise * real,
            noise * imaginary
        ));
    }
    text
}

/// Where the page is served.
fn address() -> String {
    std::env::var("POLEWRIGHT_PAGE").expect("POLEWRIGHT_PAGE must say where the page is served")
}

/// The page as it opens for everybody.
async fn open() -> Result<Page> {
    Page::open(&address(), Record::Console).await
}

/// Asks for a notch at 3.4 kHz with a Q of 3, none of which is what the page opens with.
async fn ask_for_another_notch(page: &Page) -> Result<()> {
    page.fill("Notch frequency", "3.4 kHz").await?;
    page.fill("Q", "3").await?;
    page.press(fantoccini::key::Key::Tab).await?;
    page.wait_for("ready").await
}

/// The values of [`PARTS`].
async fn parts(page: &Page) -> Result<[f64; 6]> {
    let mut values = [0.0; 6];
    for (value, name) in values.iter_mut().zip(PARTS) {
        *value = page.part(name).await?;
    }
    Ok(values)
}

/// Whether two numbers agree to a relative `tolerance`.
fn close(found: f64, expected: f64, tolerance: f64) -> bool {
    (found - expected).abs() <= tolerance * expected.abs()
}

/// Chooses in a select as a user would; the page hears of it.
async fn choose(page: &Page, id: &str, value: &str) -> Result<()> {
    const SCRIPT: &str = "const select = document.getElementById(arguments[0]); \
         select.value = arguments[1]; \
         select.dispatchEvent(new Event('change', { bubbles: true }));";
    page.run(SCRIPT, vec![json!(id), json!(value)]).await?;
    page.wait_for("ready").await
}

/// Presses the button with this text.
async fn press(page: &Page, words: &str) -> Result<()> {
    const SCRIPT: &str = "const found = [...document.querySelectorAll('button')].find(button => \
             button.textContent.trim().startsWith(arguments[0])); \
         found?.click(); return found !== undefined";
    assert_eq!(page.run(SCRIPT, vec![json!(words)]).await?, true, "{words}");
    page.wait_for("ready").await
}

/// Puts a text into the box for a sweep as a paste does, and waits until its plant is worked out.
async fn paste(page: &Page, text: &str) -> Result<()> {
    put_sweep(page, text).await?;
    page.wait_for("ready").await
}

/// Puts a text into the box for a sweep as a paste does.
async fn put_sweep(page: &Page, text: &str) -> Result<()> {
    const SCRIPT: &str = "const box = document.getElementById('sweep-text'); box.value = arguments[0]; \
         box.dispatchEvent(new Event('input', { bubbles: true }));";
    page.run(SCRIPT, vec![json!(text)]).await?;
    Ok(())
}
