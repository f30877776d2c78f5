//! `bench`: how fast and how heavy, in one table from one run on one machine.
//!
//! A goal that is missed is said, and is no failure: machines differ.

mod advice;
mod bands;
mod engines;
mod groups;
mod intake;
mod latency;
mod loops;
mod measured;
mod million;
mod numbers;
mod plant;
mod side_by_side;
mod slider;
mod table;
mod tasks;
mod trace;
mod weight;
mod workers;

use anyhow::Result;
use tokio::runtime;
use xshell::Shell;
use xtask::browser::Record;
use xtask::page::Page;

use crate::serve::Site;
use crate::{build, chromium, python, tools};
use groups::{Group, Groups};
use table::Row;

/// Builds what the named groups measure, all where none is named; measures it, and prints the table.
pub fn run(sh: &Shell, names: &[String]) -> Result<()> {
    let asked = Groups::named(names)?;
    tools::ensure(sh)?;
    chromium::ensure(sh)?;
    build::page(sh)?;
    let address = Site::of_built_page(sh)?.address;
    let rows = runtime::Builder::new_current_thread()
        .enable_all()
        .build()?
        .block_on(rows(sh, &address, &asked))?;
    table::print(&rows);
    Ok(())
}

async fn rows(sh: &Shell, address: &str, asked: &Groups) -> Result<Vec<Row>> {
    let wants = |group| asked.any(&[group]);
    let open = || Page::open(address, Record::Console);
    let mut rows = Vec::new();
    if asked.any(&[Group::Engines, Group::Bands, Group::Threads]) {
        rows.extend(against_numpy(sh, address, asked).await?);
    }
    if wants(Group::Workers) {
        rows.extend(workers::rows(sh).await?);
    }
    if wants(Group::Catalogue) {
        rows.extend(engines::catalogue(&open().await?).await?);
    }
    if wants(Group::Keyboard) {
        rows.extend(latency::rows(address).await?);
    }
    if wants(Group::Million) {
        rows.extend(million::rows(address).await?);
    }
    if wants(Group::Advice) {
        rows.extend(advice::rows(&open().await?).await?);
    }
    // One benchmark times both.
    let native = match asked.any(&[Group::Loops, Group::Intake]) {
        true => Some(loops::native(sh)?),
        false => None,
    };
    if let (Some((_, native)), true) = (&native, wants(Group::Loops)) {
        let control = loops::control(sh, &python::ensure(sh)?)?;
        let browser = loops::browser(&open().await?).await?;
        rows.extend(loops::rows(&control, native, &browser));
    }
    if wants(Group::LoopKeyboard) {
        rows.extend(slider::rows(sh, address).await?);
    }
    if let (Some((read, _)), true) = (&native, wants(Group::Intake)) {
        rows.extend(intake::rows(address, read).await?);
    }
    if wants(Group::Measured) {
        rows.extend(measured::rows(&open().await?).await?);
    }
    if wants(Group::Weight) {
        rows.extend(weight::rows(sh, address).await?);
    }
    Ok(rows)
}

/// The groups that time the same boards as NumPy does: what is timed for several of them is timed once.
async fn against_numpy(sh: &Shell, address: &str, asked: &Groups) -> Result<Vec<Row>> {
    let python = python::ensure(sh)?;
    let page = Page::open(address, Record::Console).await?;
    let pinned = engines::pinned(&page).await?;
    let own = match asked.any(&[Group::Engines, Group::Bands]) {
        true => {
            let browser = engines::browser(&page, &pinned).await?;
            Some((engines::native(sh, &pinned)?, browser))
        }
        false => None,
    };
    drop(page);
    let mut rows = Vec::new();
    if let (Some((native, browser)), true) = (&own, asked.any(&[Group::Engines])) {
        let numpy = engines::numpy(sh, &python)?;
        rows.extend(engines::rows(&numpy, native, browser));
    }
    if asked.any(&[Group::Bands, Group::Threads]) {
        let numpy = bands::numpy(sh, &python)?;
        if let (Some((native, browser)), true) = (&own, asked.any(&[Group::Bands])) {
            rows.extend(bands::rows(&numpy, native, browser));
        }
        if asked.any(&[Group::Threads]) {
            rows.extend(side_by_side::rows(sh, &numpy, &pinned)?);
        }
    }
    Ok(rows)
}
