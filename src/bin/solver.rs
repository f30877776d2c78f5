//! The worker's entry. It has nothing to do natively.

fn main() {
    #[cfg(target_arch = "wasm32")]
    polewright::worker::start();
}
