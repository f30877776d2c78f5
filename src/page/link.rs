//! A design as the text of a link: base64 of its JSON.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;

use crate::design::Design;
use crate::json;

/// Characters of a text that is no design which are said back.
const SAID: usize = 24;

/// The text of a link to a design, which is given as JSON.
pub fn encode(json: &str) -> String {
    URL_SAFE_NO_PAD.encode(json)
}

/// The design of a text.
///
/// # Errors
/// A sentence on what the text is instead.
pub fn decode(text: &str) -> Result<Design, String> {
    let text = text.trim_end_matches('=');
    if !begins_a_design(text) {
        let mut said: String = text.chars().take(SAID).collect();
        if said.len() < text.len() {
            said.push('…');
        }
        return Err(format!(
            "The address ends in “#{said}”, which is neither a design nor a region of this page."
        ));
    }
    let broken = || "The link is cut off or damaged: it does not hold a whole design. Copy the whole link again.";
    let bytes = URL_SAFE_NO_PAD
        .decode(text)
        .map_err(|_| broken().to_owned())?;
    let text = String::from_utf8(bytes).map_err(|_| broken().to_owned())?;
    let tree = json::read(&text).map_err(|_| broken().to_owned())?;
    Design::from_tree(tree).map_err(|errors| match errors.into_iter().next() {
        Some(error) if error.path == "/version" => error.message,
        Some(error) => format!("The link holds no valid design. {}", error.message),
        None => broken().to_owned(),
    })
}

/// Whether a text begins as the text of a JSON object does.
fn begins_a_design(text: &str) -> bool {
    let head = URL_SAFE_NO_PAD.decode(text.get(..4).unwrap_or(text));
    head.is_ok_and(|bytes| bytes.first() == Some(&b'{'))
}
