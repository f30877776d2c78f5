//! How a pasted text was read, and its correction.

use crate::page::prelude::*;

use crate::exchange::Intake;
use crate::plant::sweep::{
    Columns, FrequencyUnit, MagnitudeUnit, PhaseUnit, Reading, Response, Separator, WeightColumn,
    WeightKind,
};

/// Choices by their place in a list.
struct Choice<T: 'static> {
    label: &'static str,
    options: &'static [(T, &'static str)],
}

const SEPARATORS: Choice<Separator> = Choice {
    label: "Between columns",
    options: &[
        (Separator::Tab, "tab"),
        (Separator::Semicolon, "semicolon"),
        (Separator::Comma, "comma"),
        (Separator::Bar, "bar"),
        (Separator::Blanks, "blanks"),
    ],
};

const DECIMALS: Choice<bool> = Choice {
    label: "Decimal sign",
    options: &[(false, "point"), (true, "comma")],
};

const FREQUENCIES: Choice<FrequencyUnit> = Choice {
    label: "Frequency in",
    options: &[
        (FrequencyUnit::Millihertz, "mHz"),
        (FrequencyUnit::Hertz, "Hz"),
        (FrequencyUnit::Kilohertz, "kHz"),
        (FrequencyUnit::Megahertz, "MHz"),
        (FrequencyUnit::Gigahertz, "GHz"),
        (FrequencyUnit::RadiansPerSecond, "rad/s"),
    ],
};

const MAGNITUDES: Choice<MagnitudeUnit> = Choice {
    label: "Magnitude in",
    options: &[
        (MagnitudeUnit::Decibels, "dB"),
        (MagnitudeUnit::Ratio, "ratio"),
    ],
};

const PHASES: Choice<PhaseUnit> = Choice {
    label: "Phase in",
    options: &[
        (PhaseUnit::Degrees, "degrees"),
        (PhaseUnit::Radians, "radians"),
    ],
};

/// What a response is written as, whatever its columns and units.
#[derive(Clone, Copy, PartialEq)]
enum Form {
    Polar,
    Cartesian,
    Complex,
    Magnitude,
}

const FORMS: Choice<Form> = Choice {
    label: "Response as",
    options: &[
        (Form::Polar, "magnitude and phase"),
        (Form::Cartesian, "real and imaginary part"),
        (Form::Complex, "complex numbers"),
        (Form::Magnitude, "magnitude alone"),
    ],
};

const WEIGHTS: Choice<Option<WeightKind>> = Choice {
    label: "Weight of rows",
    options: &[
        (None, "none: all equal"),
        (Some(WeightKind::Coherence), "a coherence γ²"),
        (Some(WeightKind::Weight), "a weight"),
    ],
};

/// A text, by its intake and its place.
type Text = (Intake, usize);

/// A select over a list of values.
fn select<T: Copy + PartialEq + Send + 'static>(
    (intake, text): Text,
    label: &'static str,
    options: Vec<(T, String)>,
    now: T,
    take: impl Fn(T) + Send + 'static,
) -> impl Content {
    let values: Vec<T> = options.iter().map(|(value, _)| *value).collect();
    let items = options
        .into_iter()
        .enumerate()
        .map(|(place, (value, name))| {
            view! { <option value=place.to_string() selected=value == now>{name}</option> }
        })
        .collect_nodes();
    // Each text has its own.
    let text = if text == 0 {
        String::new()
    } else {
        format!("-{}", text + 1)
    };
    let of = match intake {
        Intake::Plant => "",
        Intake::Bench => "bench-",
    };
    let id = format!(
        "{of}reading-{}{text}",
        label.to_ascii_lowercase().replace(' ', "-")
    );
    let chosen = move |event| {
        let place = event_target_value(&event).parse::<usize>().ok();
        if let Some(value) = place.and_then(|place| values.get(place)) {
            take(*value);
        }
    };
    view! {
        <div class="field">
            <label for=id.clone()>{label}</label>
            <select id=id on:change=chosen>{items}</select>
        </div>
    }
}

fn of<T: Copy>(choice: &Choice<T>) -> Vec<(T, String)> {
    let options = choice.options.iter();
    options
        .map(|(value, name)| (*value, (*name).to_owned()))
        .collect()
}

/// What a response may be written as: a plant needs its phase.
fn forms(intake: Intake) -> Vec<(Form, String)> {
    let is_taken = |form: &Form| intake == Intake::Bench || *form != Form::Magnitude;
    let all = of(&FORMS).into_iter();
    all.filter(|(form, _)| is_taken(form)).collect()
}

/// A column's place, and what it is called.
type Named = (usize, String);

/// What corrects columns that were guessed.
#[derive(Clone, Copy)]
struct Correction<F> {
    /// As they are now.
    columns: Columns,
    text: Text,
    change: F,
}

impl<F: Fn(Columns) + Copy + Send + 'static> Correction<F> {
    fn apply(self, set: impl FnOnce(&mut Columns)) {
        let mut columns = self.columns;
        set(&mut columns);
        (self.change)(columns);
    }

    /// A select for the column of something.
    fn pick(
        self,
        label: &'static str,
        names: &[Named],
        now: usize,
        set: fn(&mut Columns, usize),
    ) -> impl Content + use<F> {
        select(self.text, label, names.to_vec(), now, move |place| {
            self.apply(|columns| set(columns, place));
        })
    }

    /// Which columns make the response, and their units.
    fn response(self, names: &[Named]) -> Node {
        let text = self.text;
        match self.columns.response {
            Response::Polar { magnitude, magnitude_unit, phase, phase_unit } => view! {
                {self.pick("Magnitude in column", names, magnitude, |c, place| {
                    if let Response::Polar { magnitude, .. } = &mut c.response { *magnitude = place; }
                })}
                {select(text, MAGNITUDES.label, of(&MAGNITUDES), magnitude_unit, move |unit| self.apply(|c| {
                    if let Response::Polar { magnitude_unit, .. } = &mut c.response { *magnitude_unit = unit; }
                }))}
                {self.pick("Phase in column", names, phase, |c, place| {
                    if let Response::Polar { phase, .. } = &mut c.response { *phase = place; }
                })}
                {select(text, PHASES.label, of(&PHASES), phase_unit, move |unit| self.apply(|c| {
                    if let Response::Polar { phase_unit, .. } = &mut c.response { *phase_unit = unit; }
                }))}
            }
            .into_node(),
            Response::Cartesian { real, imaginary } => view! {
                {self.pick("Real part in column", names, real, |c, place| {
                    if let Response::Cartesian { real, .. } = &mut c.response { *real = place; }
                })}
                {self.pick("Imaginary part in column", names, imaginary, |c, place| {
                    if let Response::Cartesian { imaginary, .. } = &mut c.response { *imaginary = place; }
                })}
            }
            .into_node(),
            Response::Complex { column } => view! {
                {self.pick("Response in column", names, column, |c, place| {
                    c.response = Response::Complex { column: place };
                })}
            }
            .into_node(),
            Response::Magnitude { magnitude, magnitude_unit } => view! {
                {self.pick("Magnitude in column", names, magnitude, |c, place| {
                    if let Response::Magnitude { magnitude, .. } = &mut c.response { *magnitude = place; }
                })}
                {select(text, MAGNITUDES.label, of(&MAGNITUDES), magnitude_unit, move |unit| self.apply(|c| {
                    if let Response::Magnitude { magnitude_unit, .. } = &mut c.response { *magnitude_unit = unit; }
                }))}
            }
            .into_node(),
        }
    }
}

impl Form {
    /// How a response is written now, and its first and second column.
    fn of(response: Response) -> (Form, usize, usize) {
        match response {
            Response::Polar {
                magnitude, phase, ..
            } => (Form::Polar, magnitude, phase),
            Response::Cartesian { real, imaginary } => (Form::Cartesian, real, imaginary),
            // What a second column would be is not known.
            Response::Complex { column } => (Form::Complex, column, column + 1),
            Response::Magnitude { magnitude, .. } => (Form::Magnitude, magnitude, magnitude + 1),
        }
    }

    /// The response in this form, in these columns.
    fn response(self, first: usize, second: usize) -> Response {
        match self {
            Form::Polar => Response::Polar {
                magnitude: first,
                magnitude_unit: MagnitudeUnit::Decibels,
                phase: second,
                phase_unit: PhaseUnit::Degrees,
            },
            Form::Cartesian => Response::Cartesian {
                real: first,
                imaginary: second,
            },
            Form::Complex => Response::Complex { column: first },
            Form::Magnitude => Response::Magnitude {
                magnitude: first,
                magnitude_unit: MagnitudeUnit::Decibels,
            },
        }
    }
}

/// All columns, those of the first rows and those that only have a name.
fn named(reading: &Reading) -> Vec<Named> {
    let width = reading
        .preview
        .iter()
        .map(Vec::len)
        .max()
        .unwrap_or(0)
        .max(reading.names.len());
    let name = |place: usize| {
        let name = reading.names.get(place).map_or("", String::as_str);
        let mark = if name.is_empty() { "" } else { ": " };
        (place, format!("{}{mark}{name}", place + 1))
    };
    (0..width).map(name).collect()
}

/// The first rows, and a select for everything that was guessed; `change` takes corrected columns of the text of
/// this number.
pub fn told<F: Fn(Columns) + Copy + Send + 'static>(
    reading: &Reading,
    text: Text,
    change: F,
) -> impl Content + use<F> {
    let columns = reading.columns;
    let names = named(reading);
    let correction = Correction {
        columns,
        text,
        change,
    };
    let (form, first, second) = Form::of(columns.response);
    let weight = columns.weight;
    let weight_column = weight.map(|now| {
        correction.pick("Weight in column", &names, now.column, |c, place| {
            if let Some(weight) = &mut c.weight {
                weight.column = place;
            }
        })
    });
    let unused = (0..names.len())
        .find(|place| ![columns.frequency, first, second].contains(place))
        .unwrap_or(names.len());
    view! {
        <div class="columns-read">
            {correction.pick("Frequency in column", &names, columns.frequency, |c, place| c.frequency = place)}
            {select(text, FREQUENCIES.label, of(&FREQUENCIES), columns.frequency_unit, move |unit| {
                change(Columns { frequency_unit: unit, ..columns });
            })}
            {select(text, FORMS.label, forms(text.0), form, move |form| {
                change(Columns { response: form.response(first, second), ..columns });
            })}
            {correction.response(&names)}
            {select(text, WEIGHTS.label, of(&WEIGHTS), weight.map(|now| now.kind), move |kind| {
                let column = weight.map_or(unused, |now| now.column);
                change(Columns { weight: kind.map(|kind| WeightColumn { column, kind }), ..columns });
            })}
            {weight_column}
            {select(text, SEPARATORS.label, of(&SEPARATORS), columns.separator, move |separator| {
                change(Columns { separator, ..columns });
            })}
            {select(text, DECIMALS.label, of(&DECIMALS), columns.decimal_comma, move |decimal_comma| {
                change(Columns { decimal_comma, ..columns });
            })}
        </div>
        {first_rows(reading, &names)}
    }
}

/// The first rows as a table, with the columns that are read marked.
fn first_rows(reading: &Reading, names: &[Named]) -> impl Content + use<> {
    let columns = reading.columns;
    let head = names
        .iter()
        .map(|(place, name)| {
            let used = columns.takes(*place);
            view! { <th scope="col" class="number" class:read-column=used>{name.clone()}</th> }
        })
        .collect_nodes();
    let rows = reading
        .preview
        .iter()
        .map(|cells| {
            let cells = cells
                .iter()
                .map(|cell| view! { <td class="number">{cell.clone()}</td> });
            view! { <tr>{cells.collect_nodes()}</tr> }
        })
        .collect_nodes();
    view! {
        <div class="scroll" tabindex="0" role="region" aria-label="First rows of the text">
            <table class="preview">
                <thead><tr>{head}</tr></thead>
                <tbody>{rows}</tbody>
            </table>
        </div>
    }
}
