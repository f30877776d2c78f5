//! Curves and bands of both designs, over each other.

use std::sync::Arc;

use crate::page::prelude::*;
use leptos::html::Canvas;

use super::copy::Beside;
use super::tables::with_side;
use crate::comparison::Side;
use crate::page::desk::Desk;
use crate::page::legend::legend;
use crate::page::saving::Saving;
use crate::page::sight;
use crate::plots::response::{Bands, Response};
use crate::plots::{self, Caption, Pen, Plot, Sign, looped, motion, over};

/// A chart of one design, and whether there is one: what nobody looks at is not drawn to find that out.
#[derive(Clone, Copy)]
struct Chart {
    title: &'static str,
    is_there: fn(&Side) -> bool,
    read: fn(&Side) -> Option<Plot>,
}

const fn of_curves(title: &'static str, read: fn(&Side) -> Option<Plot>) -> Chart {
    Chart {
        title,
        is_there: |side| side.curves().is_some(),
        read,
    }
}

const fn of_loop(title: &'static str, read: fn(&Side) -> Option<Plot>) -> Chart {
    Chart {
        title,
        is_there: |side| side.closed().is_some(),
        read,
    }
}

/// Response, loop and motion.
const CHARTS: [Chart; 8] = [
    of_curves("Magnitude", |side| response(side, Response::Magnitude)),
    of_curves("Phase", |side| response(side, Response::Phase)),
    of_curves("Group delay", |side| response(side, Response::Delay)),
    of_curves("Step", |side| response(side, Response::Step)),
    of_loop("Open loop, magnitude", |side| {
        looped::open_magnitude(side.servo?)
    }),
    of_loop("Open loop, phase", |side| looped::open_phase(side.servo?)),
    of_loop("Sensitivity", |side| looped::sensitivity(side.servo?)),
    Chart {
        title: "Closed-loop response in time",
        is_there: |side| side.motion.is_some_and(|motion| motion.answer.is_some()),
        read: |side| {
            let answer = side.motion?.answer.as_ref()?;
            Some(motion::position(answer, None, &side.design.servo.units))
        },
    },
];

/// Of the path, or of its only stage.
fn response(side: &Side, chart: Response) -> Option<Plot> {
    let curves = side.curves()?;
    let bands = side.spread.and_then(|spread| match side.stages.len() {
        1 => Some(Bands::of_stage(spread)),
        _ => Bands::of_path(spread),
    });
    Some(chart.plot(curves, bands.as_ref()))
}

/// What the pens mean in a chart that is saved.
const LEGEND: [(Sign, &str); 4] = [
    (Sign::Line(Pen::Asked), "required"),
    (Sign::Line(Pen::Real), "this design"),
    (Sign::Line(Pen::Copy), "copy"),
    (Sign::Band, "boards: extremes, 5 to 95 %"),
];

/// All charts that one of the designs has.
#[component]
pub fn Charts() -> impl IntoView {
    let all = CHARTS.map(|chart| view! { <Figure chart /> });
    view! {
        {legend(&LEGEND)}
        <div class="comparison-charts">{all.collect_nodes()}</div>
    }
}

#[component]
fn Figure(chart: Chart) -> impl IntoView {
    let Chart {
        title,
        is_there,
        read,
    } = chart;
    let desk = expect_context::<Desk>();
    let beside = expect_context::<Beside>();
    let canvas: NodeRef<Canvas> = NodeRef::new();
    let plot = move || {
        // Bands of half of the boards would be drawn again and again.
        let is_whole = desk.spread_is_current.get();
        desk.stages.track();
        desk.stage.track();
        desk.path.track();
        desk.servo.track();
        desk.motion.track();
        let found = beside.found.get();
        let copy = beside.copy.get()?;
        let now = with_side(desk, |side| {
            let spread = side.spread.filter(|_| is_whole);
            read(&Side {
                spread,
                ..side.clone()
            })
        });
        over(now.flatten(), read(&Side::of(&copy.design, &found))).map(Arc::new)
    };
    sight::follow(desk, canvas, plot);
    let picture = Box::new(move || {
        let caption = Caption {
            title: title.to_owned(),
            note: "two designs".to_owned(),
            legend: LEGEND.map(|(sign, text)| (sign, text.to_owned())).to_vec(),
        };
        Some(plots::svg(&*untrack(plot)?, &caption, plots::SIZE))
    });
    let file = format!(
        "comparison-{}",
        title.to_lowercase().replace(", ", "-").replace(' ', "-")
    );
    let has_none = move || {
        let found = beside.found.get();
        desk.stages.track();
        desk.servo.track();
        desk.motion.track();
        let now = with_side(desk, is_there).unwrap_or(false);
        let copy = beside.copy.get();
        let copy = copy.is_some_and(|copy| is_there(&Side::of(&copy.design, &found)));
        !now && !copy
    };
    view! {
        <figure hidden=has_none>
            <figcaption><strong>{title}</strong></figcaption>
            <div class="plot" role="img" aria-label=format!("{title} of both designs")><canvas node_ref=canvas></canvas></div>
            <Saving title=format!("{title} of both designs") file picture />
        </figure>
    }
}
