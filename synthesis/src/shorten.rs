//! A long text of the user's in a sentence.

/// The text, or so many characters of it and "…".
pub fn shorten(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::shorten;

    #[test]
    fn characters_are_counted_not_bytes() {
        assert_eq!(shorten("47 µF", 5), "47 µF");
        assert_eq!(shorten("47 µF", 4), "47 µ…");
    }
}
