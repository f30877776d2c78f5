//! `serve`: the page on this machine.

use std::env;
use std::net::{Ipv4Addr, TcpListener};
use std::path::PathBuf;
use std::thread::{self, JoinHandle};

use anyhow::{Context, Result, anyhow};
use axum::Router;
use axum::http::HeaderValue;
use axum::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY};
use tower_http::services::ServeDir;
use tower_http::set_header::SetResponseHeaderLayer;
use xshell::Shell;

use crate::build;

const FIRST_PORT: u16 = 8017;

/// The strictest policy that a careful host sets; the page keeps to it, so it is always tried under it.
const POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; worker-src 'self'; style-src 'self'; \
     img-src 'self' data: blob:; connect-src 'self'";

/// Builds the page and serves it until the process is stopped.
pub fn run(sh: &Shell, port: Option<u16>) -> Result<()> {
    build::run(sh)?;
    let listener = match port {
        Some(port) => listen(port).with_context(|| format!("port {port} is not to be had"))?,
        None => (FIRST_PORT..FIRST_PORT + 100)
            .find_map(|port| listen(port).ok())
            .context("no free port")?,
    };
    let site = Site::start(sh.current_dir().join(build::DIST), "", listener)?;
    println!("{} (Ctrl-C ends)", site.address);
    if has_desktop() {
        // A convenience: the address is on the screen either way.
        open::that_detached(&site.address).ok();
    }
    site.thread
        .join()
        .map_err(|_| anyhow!("the server panicked"))?
}

/// A directory served over HTTP by a thread of its own, for as long as the process lives.
pub struct Site {
    /// The address of its index page.
    pub address: String,
    thread: JoinHandle<Result<()>>,
}

impl Site {
    /// Serves `directory` under the path `under`, which is empty or begins with a slash.
    pub fn start(directory: PathBuf, under: &str, listener: TcpListener) -> Result<Self> {
        let address = format!("http://{}{under}/", listener.local_addr()?);
        let files = ServeDir::new(directory);
        let routes = match under {
            "" => Router::new().fallback_service(files),
            under => Router::new().nest_service(under, files),
        };
        // A page just rebuilt must not come from the browser's cache.
        let fresh =
            SetResponseHeaderLayer::overriding(CACHE_CONTROL, HeaderValue::from_static("no-cache"));
        let strict = SetResponseHeaderLayer::overriding(
            CONTENT_SECURITY_POLICY,
            HeaderValue::from_static(POLICY),
        );
        let routes = routes.layer(fresh).layer(strict);
        listener.set_nonblocking(true)?;
        let thread = thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread()
                .enable_all()
                .build()?;
            runtime.block_on(async {
                let listener = tokio::net::TcpListener::from_std(listener)?;
                Ok(axum::serve(listener, routes).await?)
            })
        });
        Ok(Self { address, thread })
    }

    /// Serves the built page on a free port, under a path: it must not expect to be at the root.
    pub fn of_built_page(sh: &Shell) -> Result<Self> {
        let dist = sh.current_dir().join(build::DIST);
        anyhow::ensure!(
            dist.join("index.html").exists(),
            "there is no built page: run `cargo xtask build`"
        );
        Self::of_page_in(dist)
    }

    /// Serves the page in `directory` like the built one.
    pub fn of_page_in(directory: PathBuf) -> Result<Self> {
        Self::start(directory, "/some/where", listen(0)?)
    }
}

fn listen(port: u16) -> std::io::Result<TcpListener> {
    TcpListener::bind((Ipv4Addr::LOCALHOST, port))
}

fn has_desktop() -> bool {
    let shown = |name| env::var_os(name).is_some_and(|value| !value.is_empty());
    cfg!(any(windows, target_os = "macos")) || shown("DISPLAY") || shown("WAYLAND_DISPLAY")
}
