//! From a file's bytes to its text.

/// Bytes looked at to tell what a file is.
const SAMPLE: usize = 4096;

/// What Windows-1252 has where Latin-1 has control characters, 0x80 to 0x9f; from memory.
const WINDOWS: [char; 32] = [
    '\u{20ac}', '\u{81}', '\u{201a}', '\u{192}', '\u{201e}', '\u{2026}', '\u{2020}', '\u{2021}',
    '\u{2c6}', '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8d}', '\u{17d}', '\u{8f}',
    '\u{90}', '\u{2018}', '\u{2019}', '\u{201c}', '\u{201d}', '\u{2022}', '\u{2013}', '\u{2014}',
    '\u{2dc}', '\u{2122}', '\u{161}', '\u{203a}', '\u{153}', '\u{9d}', '\u{17e}', '\u{178}',
];

const ACCEPTED: &str = "A sweep is read from a text file: UTF-8, UTF-16, Latin-1 or Windows-1252.";

/// The text of a file: UTF-8 or UTF-16 of either byte order, each with or without a byte order mark, else Latin-1
/// with the characters of Windows-1252. The mark is not part of the text.
///
/// UTF-16 without a mark is told by its zero bytes, which all stand at odd or all at even places where a text is
/// mostly ASCII.
///
/// # Errors
/// A sentence where the bytes are no text.
pub fn decode(bytes: &[u8]) -> Result<String, String> {
    let sixteen = |bytes: &[u8], read: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = bytes
            .chunks_exact(2)
            .map(|pair| read([pair[0], pair[1]]))
            .collect();
        text(String::from_utf16_lossy(&units))
    };
    match bytes {
        [0xef, 0xbb, 0xbf, rest @ ..] => text(String::from_utf8_lossy(rest).into_owned()),
        [0xff, 0xfe, rest @ ..] => sixteen(rest, u16::from_le_bytes),
        [0xfe, 0xff, rest @ ..] => sixteen(rest, u16::from_be_bytes),
        // A ZIP archive's local file header; workbooks of spreadsheet programs are such archives.
        [b'P', b'K', 3, 4, ..] => Err(format!(
            "The file is a workbook or an archive, not a text; save the sheet as CSV or tab-separated text. {ACCEPTED}"
        )),
        _ => match zeros(bytes) {
            [0.0, odd] if odd > 0.4 => sixteen(bytes, u16::from_le_bytes),
            [even, 0.0] if even > 0.4 => sixteen(bytes, u16::from_be_bytes),
            _ => text(eight(bytes)),
        },
    }
}

/// The share of zero bytes in the beginning, at even places and at odd ones.
fn zeros(bytes: &[u8]) -> [f64; 2] {
    let beginning = &bytes[..bytes.len().min(SAMPLE)];
    [0, 1].map(|first| {
        let places = beginning.iter().skip(first).step_by(2);
        places.clone().filter(|byte| **byte == 0).count() as f64 / places.len().max(1) as f64
    })
}

/// UTF-8 where it is that, with what is broken in it marked where most of it is; else a byte a character.
fn eight(bytes: &[u8]) -> String {
    if let Ok(text) = std::str::from_utf8(bytes) {
        return text.to_owned();
    }
    let (mut good, mut broken) = (0, 0);
    for chunk in bytes.utf8_chunks() {
        good += chunk.valid().chars().filter(|c| !c.is_ascii()).count();
        broken += usize::from(!chunk.invalid().is_empty());
    }
    if good >= broken {
        return String::from_utf8_lossy(bytes).into_owned();
    }
    bytes
        .iter()
        .map(|&byte| match byte {
            0x80..=0x9f => WINDOWS[usize::from(byte) - 0x80],
            _ => char::from(byte),
        })
        .collect()
}

/// The text without an old end-of-file mark or padding, unless it has characters that no table has.
fn text(mut found: String) -> Result<String, String> {
    found.truncate(found.trim_end_matches(['\u{1a}', '\0']).len());
    let odd = |c: &char| {
        (c.is_control() && !matches!(c, '\t' | '\n' | '\r' | '\u{c}')) || *c == '\u{fffd}'
    };
    let (mut count, mut length) = (0, 0);
    for c in found.chars().take(SAMPLE) {
        length += 1;
        count += usize::from(odd(&c));
    }
    if count > 1 + length / 100 {
        Err(binary())
    } else {
        Ok(found)
    }
}

fn binary() -> String {
    format!("The file is not a text; export the sweep as one. {ACCEPTED}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn broken_bytes_are_read_as_they_are_likeliest_meant() {
        assert_eq!(decode(b"1 2 3 \xb0").as_deref(), Ok("1 2 3 °"));
        assert_eq!(decode(b"\x96\x31").as_deref(), Ok("\u{2013}1"));
        // The last of two minus signs lost a byte.
        let cut = decode(b"\xe2\x88\x921 \xe2\x88").expect("a text");
        assert!(cut.starts_with("\u{2212}1 "), "{cut}");
        assert_eq!(decode(b"").as_deref(), Ok(""));
        assert_eq!(decode(b"1 2 3\n\x1a").as_deref(), Ok("1 2 3\n"));
    }
}
