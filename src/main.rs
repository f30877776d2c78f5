//! The page's entry, and what it offers to scripts as `wasmBindings`.

#[cfg(all(target_arch = "wasm32", feature = "page"))]
mod exports {
    use js_sys::Promise;
    use polewright::exchange::Call;
    use polewright::page::scripts::answer;
    use wasm_bindgen::prelude::wasm_bindgen;

    /// A promise of [`polewright::solve_json`].
    #[wasm_bindgen]
    pub fn solve(design_json: String) -> Promise {
        answer(Call::Solve(design_json))
    }

    /// A promise of [`polewright::catalogue_json`].
    #[wasm_bindgen]
    pub fn catalogue() -> Promise {
        answer(Call::Catalogue)
    }

    /// A promise of [`polewright::pick_json`].
    #[wasm_bindgen]
    pub fn pick(design_json: String) -> Promise {
        answer(Call::Pick(design_json))
    }

    /// A promise of [`polewright::export_json`].
    #[wasm_bindgen(js_name = exportFile)]
    pub fn export(design_json: String, what: String, boards: u32) -> Promise {
        answer(Call::Export {
            design: design_json,
            what,
            boards,
        })
    }

    /// A promise of [`polewright::extremes_json`].
    #[wasm_bindgen]
    pub fn extremes(design_json: String, boards: u32, frequencies: u32) -> Promise {
        answer(Call::Extremes {
            design: design_json,
            boards,
            frequencies,
        })
    }

    /// A promise of [`polewright::bands_json`].
    #[wasm_bindgen]
    pub fn bands(design_json: String, boards: u32, frequencies: u32) -> Promise {
        answer(Call::Bands {
            design: design_json,
            boards,
            frequencies,
        })
    }
}

#[cfg(target_arch = "wasm32")]
fn main() {
    #[cfg(feature = "page")]
    polewright::page::begin();
}

/// Natively a design is read from standard input and its outcome is printed.
#[cfg(not(target_arch = "wasm32"))]
fn main() -> std::io::Result<()> {
    use std::io::Write;
    let design = match std::io::read_to_string(std::io::stdin()) {
        Err(error) if error.kind() == std::io::ErrorKind::InvalidData => {
            eprintln!(
                "What stands at standard input is not text in UTF-8; a design is JSON in UTF-8."
            );
            std::process::exit(2);
        }
        read => read?,
    };
    let mut out = std::io::stdout();
    let written = writeln!(out, "{}", polewright::solve_json(&design)).and_then(|()| out.flush());
    match written {
        // Who reads has seen enough, as `head` has.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        written => written,
    }
}
