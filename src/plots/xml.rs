//! Numbers and words as a picture's text has them.

use maud::{Escaper, Render};
use std::fmt::Write;

/// A length or a place, to the hundredth of a CSS pixel. What is no number is written as 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Px(pub f64);

impl Render for Px {
    fn render_to(&self, buffer: &mut String) {
        // What is added turns −0 into 0.
        let hundredths = (self.0 * 100.0).round() + 0.0;
        let value = if hundredths.is_finite() {
            hundredths / 100.0
        } else {
            0.0
        };
        // Writing to a text does not fail.
        let _ = write!(buffer, "{value}");
    }
}

/// A user's words: escaped, and without what no XML text may hold (XML 1.0, production 2: control characters and
/// noncharacters).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Words<'a>(pub &'a str);

impl Render for Words<'_> {
    fn render_to(&self, buffer: &mut String) {
        let allowed = self.0.chars().filter(|&c| {
            matches!(c, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..)
        });
        let allowed: String = allowed.collect();
        // Writing to a text does not fail.
        let _ = Escaper::new(buffer).write_str(&allowed);
    }
}

/// A chain of places, as `points` has them.
pub fn chain(points: impl IntoIterator<Item = (f64, f64)>) -> String {
    let mut text = String::new();
    for (x, y) in points {
        if !text.is_empty() {
            text.push(' ');
        }
        Px(x).render_to(&mut text);
        text.push(',');
        Px(y).render_to(&mut text);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_short_and_always_numbers() {
        let told = [1.0 / 3.0, -1e-9, 12.0, f64::NAN, f64::NEG_INFINITY].map(|v| Px(v).render().0);
        assert_eq!(told, ["0.33", "0", "12", "0", "0"]);
        assert_eq!(chain([(1.0, 2.5), (3.0, -4.0)]), "1,2.5 3,-4");
    }

    #[test]
    fn words_are_escaped_and_lose_what_xml_has_not() {
        assert_eq!(
            Words("a<b> & \"c\"\u{0}\u{1b}\u{fffe} µ").render().0,
            "a&lt;b&gt; &amp; &quot;c&quot; µ"
        );
    }
}
