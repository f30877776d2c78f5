//! `bench`: how fast and how heavy, in one table from one run on one machine.
//!
//! A goal that is missed is said, and is no failure: machines differ.

mod engines;
mod latency;
mod numbers;
mod table;
mod trace;
mod weight;

use anyhow::Result;
use tokio::runtime;
use xshell::Shell;
use xtask::browser::Record;
use xtask::page::Page;

use crate::serve::Site;
use crate::{build, chromium, python, tools};

/// Builds what is measured, measures it, and prints the table.
pub fn run(sh: &Shell) -> Result<()> {
    tools::ensure(sh)?;
    chromium::ensure(sh)?;
    let python = python::ensure(sh)?;
    build::page(sh)?;
    let numpy = engines::numpy(sh, &python)?;
    let address = Site::of_built_page(sh)?.address;
    let rows = runtime::Builder::new_current_thread()
        .enable_all()
        .build()?
        .block_on(async {
            let page = Page::open(&address, Record::Console).await?;
            let pinned = engines::pinned(&page).await?;
            let browser = engines::browser(&page, &pinned).await?;
            let catalogue = engines::catalogue(&page).await?;
            drop(page);
            let native = engines::native(sh, &pinned)?;
            let mut rows = engines::rows(&numpy, &native, &browser);
            rows.extend(catalogue);
            rows.extend(latency::rows(&address).await?);
            rows.extend(weight::rows(sh, &address).await?);
            anyhow::Ok(rows)
        })?;
    table::print(&rows);
    Ok(())
}
