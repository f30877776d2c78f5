//! `bench`: how fast and how heavy, in one table from one run on one machine.
//!
//! A goal that is missed is said, and is no failure: machines differ.

mod advice;
mod bands;
mod engines;
mod intake;
mod latency;
mod loops;
mod million;
mod numbers;
mod plant;
mod side_by_side;
mod slider;
mod table;
mod tasks;
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
    let numpy_bands = bands::numpy(sh, &python)?;
    let control = loops::control(sh, &python)?;
    let address = Site::of_built_page(sh)?.address;
    let rows = runtime::Builder::new_current_thread()
        .enable_all()
        .build()?
        .block_on(async {
            let page = Page::open(&address, Record::Console).await?;
            let pinned = engines::pinned(&page).await?;
            let browser = engines::browser(&page, &pinned).await?;
            let catalogue = engines::catalogue(&page).await?;
            let advice = advice::rows(&page).await?;
            let loops = loops::browser(&page).await?;
            drop(page);
            let native = engines::native(sh, &pinned)?;
            let (read, native_loops) = loops::native(sh)?;
            let mut rows = engines::rows(&numpy, &native, &browser);
            rows.extend(bands::rows(&numpy_bands, &native, &browser));
            rows.extend(side_by_side::rows(sh, &numpy_bands, &pinned)?);
            rows.extend(catalogue);
            rows.extend(latency::rows(&address).await?);
            rows.extend(million::rows(&address).await?);
            rows.extend(advice);
            rows.extend(loops::rows(&control, &native_loops, &loops));
            rows.extend(slider::rows(sh, &address).await?);
            rows.extend(intake::rows(&address, &read).await?);
            rows.extend(weight::rows(sh, &address).await?);
            anyhow::Ok(rows)
        })?;
    table::print(&rows);
    Ok(())
}
