//! Charts side by side.

use maud::{Markup, PreEscaped, html};

use crate::design::Design;
use crate::numerics::put_in_order;
use crate::outcome::{Curves, Outcome, SpreadOutcome};
use crate::plots::response::{Bands, Response};
use crate::plots::{Caption, Chart, Plot, histogram, svg};

/// Sizes of one chart, CSS pixels: two beside each other, three, and three that are low.
pub const HALF: (f64, f64) = (400.0, 142.0);
pub const THIRD: (f64, f64) = (300.0, 172.0);
pub const LOW: (f64, f64) = (300.0, 128.0);

/// Most histograms in a row.
const HISTOGRAMS: usize = 3;

/// Those of these charts for which there is something to draw.
pub fn charts(design: &Design, outcome: &Outcome, of: &[Chart], size: (f64, f64)) -> Markup {
    let drawn = of.iter().filter_map(|chart| {
        let plot = chart.plot(design, outcome)?;
        let Caption { title, .. } = chart.caption(design, outcome);
        Some((plot, title))
    });
    beside(drawn.collect(), size)
}

/// Magnitude and phase of a stage that is not shown.
pub fn of_unshown(curves: &Curves) -> Markup {
    let drawn = [Response::Magnitude, Response::Phase].map(|response| {
        let plot = response.plot(curves, None::<Bands>.as_ref());
        (plot, response.title().to_owned())
    });
    beside(drawn.into(), HALF)
}

fn beside(drawn: Vec<(Plot, String)>, size: (f64, f64)) -> Markup {
    let columns = if size == HALF {
        "sheet-charts"
    } else {
        "sheet-charts sheet-thirds"
    };
    html! {
        @if !drawn.is_empty() {
            div class=(columns) {
                @for (plot, title) in &drawn { figure { (PreEscaped(svg(plot, &Caption::titled(title), size))) } }
            }
        }
    }
}

/// What the lines of a response mean.
pub fn legend(has_bands: bool) -> String {
    let bands = if has_bands {
        " Shaded: all boards, and 5 to 95 % of them."
    } else {
        ""
    };
    format!(
        "Wide and grey: required. Dashed: bought parts, ideal op amp. Solid: bought parts, real op amp.{bands}"
    )
}

/// The figures with limits over the boards, those that most boards miss first.
pub fn histograms(spread: &SpreadOutcome) -> Markup {
    let mut limited: Vec<_> = spread
        .figures
        .iter()
        .filter(|figure| figure.held.is_some())
        .collect();
    put_in_order(&mut limited, |a, b| {
        a.held.unwrap_or(1.0).total_cmp(&b.held.unwrap_or(1.0))
    });
    limited.truncate(HISTOGRAMS);
    html! {
        @if !limited.is_empty() {
            figure.sheet-histograms { (PreEscaped(histogram::svg("Histograms of figures with limits", &limited))) }
        }
    }
}
