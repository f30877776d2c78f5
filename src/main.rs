//! The page's entry, and what it offers to scripts as `wasmBindings`.

#[cfg(target_arch = "wasm32")]
mod exports {
    use wasm_bindgen::prelude::wasm_bindgen;

    /// See [`polewright::solve_json`].
    #[wasm_bindgen]
    pub fn solve(design_json: &str) -> String {
        polewright::solve_json(design_json)
    }

    /// See [`polewright::catalogue_json`].
    #[wasm_bindgen]
    pub fn catalogue() -> String {
        polewright::catalogue_json()
    }

    /// See [`polewright::pick_json`].
    #[wasm_bindgen]
    pub fn pick(design_json: &str) -> String {
        polewright::pick_json(design_json)
    }

    /// See [`polewright::extremes_json`].
    #[wasm_bindgen]
    pub fn extremes(design_json: &str, boards: u32, frequencies: u32) -> String {
        polewright::extremes_json(design_json, boards, frequencies)
    }

    /// See [`polewright::bands_json`].
    #[wasm_bindgen]
    pub fn bands(design_json: &str, boards: u32, frequencies: u32) -> String {
        polewright::bands_json(design_json, boards, frequencies)
    }
}

#[cfg(target_arch = "wasm32")]
fn main() {
    polewright::page::mount();
}

/// Natively a design is read from standard input and its outcome is printed.
#[cfg(not(target_arch = "wasm32"))]
fn main() -> std::io::Result<()> {
    use std::io::Write;
    let design = std::io::read_to_string(std::io::stdin())?;
    let mut out = std::io::stdout();
    let written = writeln!(out, "{}", polewright::solve_json(&design)).and_then(|()| out.flush());
    match written {
        // Who reads has seen enough, as `head` has.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        written => written,
    }
}
