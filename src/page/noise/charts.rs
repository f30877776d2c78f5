//! Densities: of the shown stage, of the path, and of drive and position.

use std::sync::Arc;

use crate::page::prelude::*;

use crate::outcome::NoiseOutcome;
use crate::page::cursor::Along;
use crate::page::desk::Desk;
use crate::page::legend::legend;
use crate::page::panel::{Panel, Reading};
use crate::plots::{Chart, Plot, noise, over_root_hertz};
use crate::quantity::{Unit, rounded};

/// What `draw` makes of the last good noise and the shown stage's place.
fn of_noise(
    desk: Desk,
    draw: fn(&NoiseOutcome, usize) -> Option<Plot>,
) -> Derived<Option<Arc<Plot>>> {
    memo(move || {
        let shown = desk.form.with(|form| form.stage);
        desk.noise
            .with(|noise| draw(noise.as_ref()?, shown).map(Arc::new))
    })
}

/// A cursor of its own that all charts of noise share is that of the curves: both are over frequency.
fn reading(desk: Desk, text: fn(f64) -> String, unit: Option<Derived<String>>) -> Reading {
    Reading {
        along: Along::Frequency,
        place: desk.cursor,
        text: Some(text),
        unit,
    }
}

/// The axis is logarithmic.
fn volts(lg: f64) -> String {
    rounded(10f64.powf(lg), Unit::VoltPerRootHertz, 3)
}

fn plain(lg: f64) -> String {
    rounded(10f64.powf(lg), Unit::One, 3)
}

#[component]
fn OneChart(
    chart: Chart,
    plot: Derived<Option<Arc<Plot>>>,
    reading: Reading,
    #[prop(optional)] told_in_file: Option<Derived<Option<String>>>,
) -> impl IntoView {
    let is_there = memo(move || plot.with(Option::is_some));
    view! {
        <Show when=move || is_there.get()>
            {move || match told_in_file {
                Some(told_in_file) => view! {
                    <Panel
                        title=chart.title()
                        file=chart.name()
                        legend=chart.legend()
                        note=chart.note()
                        told_in_file
                        plot
                        reading
                    />
                }
                .into_node(),
                None => view! {
                    <Panel title=chart.title() file=chart.name() legend=chart.legend() note=chart.note() plot reading />
                }
                .into_node(),
            }}
        </Show>
    }
}

/// The shown stage: at its output and referred to its input.
#[component]
pub fn OfStage() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let whose = memo(move || desk.stage.with(|stage| Some(stage.as_ref()?.title.clone())));
    let output = of_noise(desk, |all, shown| noise::stage(all.stages.get(shown)?));
    let input = of_noise(desk, |all, shown| {
        noise::referred(&all.stages.get(shown)?.density)
    });
    let cursor = reading(desk, volts, None);
    view! {
        <div>
            <OneChart chart=Chart::Noise plot=output reading=cursor told_in_file=whose />
            {legend(&Chart::Noise.legend())}
        </div>
        <OneChart chart=Chart::InputNoise plot=input reading=cursor told_in_file=whose />
    }
}

/// The whole path, where it is more than one stage.
#[component]
pub fn OfPath() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let output = of_noise(desk, |all, _| {
        let several = (all.stages.len() > 1).then_some(all);
        noise::path(several?)
    });
    let input = of_noise(desk, |all, _| {
        let several = (all.stages.len() > 1).then_some(all);
        noise::referred(&several?.path.density)
    });
    let cursor = reading(desk, volts, None);
    let is_there = memo(move || output.with(Option::is_some));
    view! {
        <Show when=move || is_there.get()>
            <div>
                <OneChart chart=Chart::PathNoise plot=output reading=cursor />
                {legend(&Chart::PathNoise.legend())}
            </div>
        </Show>
        <OneChart chart=Chart::PathInputNoise plot=input reading=cursor />
    }
}

/// Drive and position, where there is a plant.
#[component]
pub fn OfLoop() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let drive = of_noise(desk, |all, _| noise::drive(all.looped.as_ref()?));
    let position = of_noise(desk, |all, _| noise::position(all.looped.as_ref()?));
    let of_drive = memo(move || over_root_hertz(&desk.units().input));
    let of_position = memo(move || over_root_hertz(&desk.units().output));
    view! {
        <OneChart chart=Chart::DriveNoise plot=drive reading=reading(desk, plain, Some(of_drive)) />
        <OneChart chart=Chart::PositionNoise plot=position reading=reading(desk, plain, Some(of_position)) />
    }
}
