//! A titled chart that follows its data.

use std::sync::Arc;

use crate::page::prelude::*;
use leptos::html::Canvas;

use super::chart::size;
use super::cursor::{Along, Cursor};
use super::desk::Desk;
use super::saving::Saving;
use super::sight;
use crate::design::with_unit;
use crate::plots::{self, Caption, Frame, Pen, Plot, Sign};

/// How a panel is read with a cursor.
#[derive(Clone, Copy)]
pub struct Reading {
    pub along: Along,
    /// Where the cursor stands; shared by panels that are read together.
    pub place: Held<Option<f64>>,
    /// Writes a value of the vertical axis; none where only the place is read.
    pub text: Option<fn(f64) -> String>,
    /// Written behind a value.
    pub unit: Option<Derived<String>>,
}

/// A titled canvas that draws `plot`.
#[component]
pub fn Panel(
    #[prop(into)] title: String,
    /// What is told beside the title.
    #[prop(optional)]
    note: &'static str,
    #[prop(into)] plot: Derived<Option<Arc<Plot>>>,
    /// A chart over frequency or time is read with a cursor.
    #[prop(optional)]
    reading: Option<Reading>,
    /// The name of the file that it is saved as, and what its pens mean there.
    file: &'static str,
    legend: Vec<(Sign, &'static str)>,
    /// What it is of, where it is saved; the note where nothing else is said.
    #[prop(optional)]
    told_in_file: Option<Derived<Option<String>>>,
    /// A place that is marked, in the plot's own coordinates.
    #[prop(optional, into)]
    mark: Derived<Option<(f64, f64)>>,
    /// Told which of the plot's points was clicked, the dots after the points.
    #[prop(optional)]
    pick: Option<fn(Desk, usize)>,
) -> impl IntoView {
    let desk = expect_context::<Desk>();
    let canvas: NodeRef<Canvas> = NodeRef::new();
    sight::follow(desk, canvas, move || plot.get());
    let dot = move || {
        let (x, y) = mark.get()?;
        let plot = plot.get()?;
        let frame = Frame::of(&plot, size(&canvas.get()?))?;
        let (left, top) = frame.holds((x, y)).then(|| frame.at((x, y)))?;
        let (left, top) = (format!("{left:.1}px"), format!("{top:.1}px"));
        Some(view! { <div class="dot-mark" style:left=left style:top=top></div> })
    };
    let clicked = move |event: leptos::ev::MouseEvent| {
        if let (Some(pick), Some(plot), Some(canvas)) =
            (pick, plot.get_untracked(), canvas.get_untracked())
        {
            let place = (f64::from(event.offset_x()), f64::from(event.offset_y()));
            let frame = Frame::of(&plot, size(&canvas));
            if let Some(index) = frame.and_then(|frame| frame.nearest(&plot, place)) {
                pick(desk, index);
            }
        }
    };
    let told = move || {
        let reading = reading.filter(|reading| reading.place.get().is_some())?;
        told(reading, &*plot.get()?)
    };
    let caption = StoredValue::new(Caption {
        title: title.clone(),
        note: note.to_owned(),
        legend: legend
            .into_iter()
            .map(|(sign, text)| (sign, text.to_owned()))
            .collect(),
    });
    let picture = Box::new(move || {
        let mut caption = caption.get_value();
        if let Some(told) = told_in_file {
            caption.note = told.get_untracked().unwrap_or_default();
        }
        Some(plots::svg(&*plot.get_untracked()?, &caption, plots::SIZE))
    });
    let inside = match reading {
        None => view! {
            <div class="plot" class:not-clickable=pick.is_none() role="img" aria-label=title.clone() on:click=clicked>
                <canvas node_ref=canvas></canvas>
                {dot}
            </div>
        }
        .into_node(),
        Some(Reading { along, place, .. }) => {
            let ends = memo(move || {
                plot.with(|plot| {
                    let x = &plot.as_ref()?.x;
                    Some(match along {
                        Along::Frequency => (10f64.powf(x.low), 10f64.powf(x.high)),
                        Along::Time | Along::Ratio => (x.low, x.high),
                    })
                })
            });
            view! {
                <Cursor name=title.clone() along ends place>
                    <canvas node_ref=canvas></canvas>
                </Cursor>
            }
            .into_node()
        }
    };
    // No line ends inside a unit.
    let heading = title.replace("/√", "/\u{2060}√");
    view! {
        <figure>
            <figcaption>
                <strong>{heading}</strong>
                <span class="secondary note" hidden=move || told().is_some()>{note}</span>
                <span class="reading" aria-live="off">{told}</span>
            </figcaption>
            {inside}
            <Saving title file picture />
        </figure>
    }
}

/// What stands under the cursor: the place, the curve, and the measured point nearest to it.
fn told(reading: Reading, plot: &Plot) -> Option<impl Content + use<>> {
    let at = reading.place.get()?;
    let x = reading.along.drawn(at);
    if !(plot.x.low..=plot.x.high).contains(&x) {
        return None;
    }
    let write = |y: f64| {
        let number = reading.text?(y);
        Some(match reading.unit {
            Some(unit) => unit.with(|unit| with_unit(number, unit)),
            None => number,
        })
    };
    let value = |pen: Pen| {
        let line = plot.lines.iter().rev().find(|(_, own)| *own == pen)?;
        let after = line.0.partition_point(|(at, _)| *at < x);
        let (a, b) = (line.0.get(after.checked_sub(1)?)?, line.0.get(after)?);
        let y = a.1 + (b.1 - a.1) * ((x - a.0) / (b.0 - a.0));
        write(y).filter(|_| y.is_finite())
    };
    let apart = |(at, _): &(f64, f64)| (at - x).abs();
    let near = plot
        .points
        .iter()
        .min_by(|a, b| apart(a).total_cmp(&apart(b)));
    let near = near.and_then(|(_, y)| write(*y));
    Some(view! {
        <span class="where">{reading.along.text(at)}</span>
        {near.map(|text| view! { <span class="measured">{text}</span> })}
        {value(Pen::Asked).map(|text| view! { <span class="required-value">{text}</span> })}
        {value(Pen::Real).map(|text| view! { <span class="curve">{text}</span> })}
    })
}
