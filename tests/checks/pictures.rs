//! Charts and schematics as pictures, read by somebody else's reader of XML.

use polewright::design::{Design, StageDesign};
use polewright::export::{Picture, What, available, export};
use polewright::outcome::StageOutcome;
use polewright::plots::{
    self, Axis, Caption, Chart, Pen, Plot, Sign, Stripe, linear_ticks, schematic,
};
use polewright::quantity::exact;
use polewright::stages::{CATALOGUE, Stage, SymbolKind};
use roxmltree::{Document, Node};

use super::designs::{quiet, solved};
use super::export::full;

const SIZE: (f64, f64) = (480.0, 300.0);

/// A picture that is read as the browser would read it, by itself.
fn read(text: &str) -> Document<'_> {
    let document = Document::parse(text).unwrap_or_else(|error| panic!("{error}: {text:.400}"));
    let root = document.root_element();
    assert_eq!(
        root.tag_name().namespace(),
        Some("http://www.w3.org/2000/svg")
    );
    for node in root.descendants() {
        assert!(!node.has_attribute("style") && node.tag_name().name() != "style");
    }
    document
}

fn named<'a, 'b>(document: &'b Document<'a>, name: &str) -> Vec<Node<'b, 'a>> {
    let all = document.descendants();
    all.filter(|node| node.tag_name().name() == name).collect()
}

fn attribute(node: &Node, name: &str) -> f64 {
    let text = node.attribute(name);
    let number = text.and_then(|text| text.parse().ok());
    number.unwrap_or_else(|| panic!("{name} of {node:?}"))
}

/// Every place that lines and circles of a chart go through, from the chart's own corner.
fn places(document: &Document) -> Vec<(f64, f64)> {
    let mut places = Vec::new();
    let is_in_chart = |node: &Node| node.ancestors().any(|node| node.has_attribute("transform"));
    let named = |document, name| named(document, name).into_iter().filter(is_in_chart);
    for name in ["polyline", "polygon"] {
        for node in named(document, name) {
            for pair in node.attribute("points").expect("points").split(' ') {
                let (x, y) = pair.split_once(',').expect("a pair");
                places.push((x.parse().expect("x"), y.parse().expect("y")));
            }
        }
    }
    for node in named(document, "circle") {
        places.push((attribute(&node, "cx"), attribute(&node, "cy")));
    }
    places
}

/// A stage of each circuit with its own ask, solved.
fn stage_of(circuit: &dyn Stage) -> StageOutcome {
    let stage = StageDesign {
        circuit: circuit.id().to_owned(),
        ask: circuit.default_ask(),
        ..StageDesign::default()
    };
    let design = Design {
        stages: vec![stage],
        ..quiet(Design::default(), 100)
    };
    solved(&design).stages.remove(0)
}

#[test]
fn schematics_show_every_part_once_with_its_value() {
    for circuit in CATALOGUE {
        let stage = stage_of(*circuit);
        let text = schematic::svg(&stage, "Stage 1 <&>");
        let picture = read(&text);
        let of_class = |class: &str| -> Vec<String> {
            let texts = named(&picture, "text").into_iter();
            let texts = texts.filter(|node| node.attribute("class") == Some(class));
            texts
                .map(|node| node.text().expect("words").to_owned())
                .collect()
        };
        let mut drawn = of_class("name");
        let mut wanted: Vec<String> = circuit
            .netlist()
            .parts()
            .iter()
            .map(|part| part.name.to_string())
            .collect();
        drawn.sort();
        wanted.sort();
        assert_eq!(drawn, wanted, "{}", circuit.id());
        let bought = stage.parts.iter().map(|part| exact(part.value, part.unit));
        let given = stage.given.iter().map(|part| exact(part.value, part.unit));
        let mut wanted: Vec<String> = bought.chain(given).collect();
        let mut drawn = of_class("value");
        drawn.sort();
        wanted.sort();
        assert_eq!(drawn, wanted, "{}", circuit.id());
        let title = picture
            .root_element()
            .first_element_child()
            .expect("a title");
        assert_eq!(title.text(), Some("Stage 1 <&>"));
    }
}

#[test]
fn schematics_hold_what_they_show() {
    for circuit in CATALOGUE {
        let stage = stage_of(*circuit);
        let [left, top, width, height] = schematic::view_box(&stage.drawing);
        let text = schematic::svg(&stage, "");
        let picture = read(&text);
        for node in named(&picture, "text") {
            let (x, y) = (attribute(&node, "x"), attribute(&node, "y"));
            // Letters of a sans-serif face at 14 px, about.
            let wide = 7.6 * node.text().unwrap_or_default().chars().count() as f64;
            let (from, to) = match node.attribute("text-anchor") {
                Some("start") => (x, x + wide),
                Some("end") => (x - wide, x),
                _ => (x - wide / 2.0, x + wide / 2.0),
            };
            assert!(
                from >= left && to <= left + width && y - 12.0 >= top && y + 4.0 <= top + height,
                "{}: {:?} is cut",
                circuit.id(),
                node.text()
            );
        }
        let symbols = &stage.drawing.symbols;
        let boxes = symbols
            .iter()
            .filter(|s| matches!(s.kind, SymbolKind::Resistor(_)));
        // One more is the paper.
        assert_eq!(named(&picture, "rect").len(), 1 + boxes.count());
    }
}

fn axis(low: f64, high: f64) -> Axis {
    let ticks = linear_ticks(low, high, 5, &[1.0, 2.0, 5.0], |v| format!("{v}"));
    Axis { low, high, ticks }
}

/// With all that a plot may have, some of it outside the axes, some of it no number.
fn plot() -> Plot {
    let wild = [
        f64::NAN,
        f64::INFINITY,
        -40.0,
        0.5,
        7.0,
        f64::NEG_INFINITY,
        1e300,
    ];
    let wave = (-20..=120).map(|k| (f64::from(k) / 10.0, (f64::from(k) / 5.0).sin() * 3.0));
    let wild_points = wild.iter().flat_map(|x| wild.map(|y| (*x, y)));
    Plot {
        x: axis(0.0, 10.0),
        y: axis(-2.0, 2.0),
        bands: vec![Stripe {
            points: wave
                .clone()
                .chain(wild_points.clone())
                .map(|(x, y)| (x, y - 1.0, y))
                .collect(),
            opacity: 0.2,
            pen: Pen::Real,
        }],
        lines: [Pen::Asked, Pen::Ideal, Pen::Real, Pen::Guide]
            .map(|pen| (wave.clone().chain(wild_points.clone()).collect(), pen))
            .to_vec(),
        points: wild_points.clone().chain([(1.0, 1.0)]).collect(),
        dots: wild_points.chain([(2.0, -1.0)]).collect(),
        square: false,
    }
}

#[test]
fn a_chart_stays_within_its_box() {
    let text = plots::svg(&plot(), &Caption::titled("Wave"), SIZE);
    let picture = read(&text);
    let places = places(&picture);
    assert!(places.len() > 400, "{}", places.len());
    let (left, right, top, bottom) = plots::MARGINS;
    let height = SIZE.1 - 20.0;
    for (x, y) in places {
        assert!((left..=SIZE.0 - right).contains(&x), "{x}");
        assert!((top..=height - bottom).contains(&y), "{y}");
    }
    let told: Vec<_> = named(&picture, "text")
        .iter()
        .filter_map(Node::text)
        .map(str::to_owned)
        .collect();
    for label in ["Wave", "0", "2", "10", "-2", "1"] {
        assert!(told.iter().any(|text| text == label), "{label}: {told:?}");
    }
    // Drawn in the colours of the printed sheet.
    let inks: Vec<&str> = named(&picture, "polyline")
        .iter()
        .filter_map(|n| n.attribute("stroke"))
        .collect();
    assert!(inks.contains(&"#8a2a0b") && inks.contains(&"#000000"));
}

#[test]
fn charts_of_nothing_are_pictures_too() {
    let endless = |low, high| Axis {
        low,
        high,
        ticks: plot().x.ticks,
    };
    let ends = [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        0.0,
        f64::MAX,
        -f64::MAX,
    ];
    for low in ends {
        for high in ends {
            for square in [false, true] {
                let one = Plot {
                    x: endless(low, high),
                    square,
                    ..plot()
                };
                let other = Plot {
                    y: endless(low, high),
                    square,
                    ..plot()
                };
                for plot in [one, other, Plot::default()] {
                    for size in [SIZE, (0.0, 0.0), (1e-3, 500.0)] {
                        let text = plots::svg(&plot, &Caption::titled(""), size);
                        read(&text);
                        assert!(
                            !text.contains("NaN") && !text.contains("inf"),
                            "{text:.600}"
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn words_of_users_are_words() {
    let words = "</title><script>alert(1)</script> & \"µm\"\u{0}\u{7}";
    let caption = Caption {
        title: words.to_owned(),
        note: words.to_owned(),
        legend: vec![
            (Sign::Line(Pen::Real), words.to_owned()),
            (Sign::Point, words.to_owned()),
            (Sign::Band, words.to_owned()),
            (Sign::Dot, words.to_owned()),
        ],
    };
    let mut plot = plot();
    plot.y.ticks[0].label = Some(words.to_owned());
    let text = plots::svg(&plot, &caption, SIZE);
    let picture = read(&text);
    assert!(named(&picture, "script").is_empty());
    let kept = "</title><script>alert(1)</script> & \"µm\"";
    let told = named(&picture, "text")
        .into_iter()
        .chain(named(&picture, "tspan"))
        .filter(|n| n.text() == Some(kept))
        .count();
    assert_eq!(told, 7);
    assert_eq!(named(&picture, "title")[0].text(), Some(kept));
}

#[test]
fn all_that_is_drawn_of_a_loop_is_a_picture() {
    let design = full();
    let outcome = solved(&design);
    let there = available(&outcome);
    let noise = outcome.noise.as_ref().expect("noise");
    let looped = noise.looped.as_ref().expect("a loop");
    let mut left_out = 0;
    let mut names = Vec::new();
    for what in What::ALL {
        let What::Picture(picture) = what else {
            continue;
        };
        let is_stage = |place: u8| usize::from(place) < design.stages.len();
        if let Picture::Schematic(place) = picture
            && !is_stage(place)
        {
            assert!(!there.contains(&what));
            continue;
        }
        // A loop that is not stable has no noise.
        let is_of_noise = matches!(
            picture,
            Picture::Chart(Chart::DriveNoise | Chart::PositionNoise)
        );
        if is_of_noise && looped.why.is_some() {
            assert!(!there.contains(&what));
            left_out += 1;
            continue;
        }
        assert!(there.contains(&what), "{what:?}");
        let file = export(&design, &outcome, what, 1).expect("a picture");
        assert_eq!(file.media_type, "image/svg+xml");
        let document = read(&file.text);
        let root = document.root_element();
        let (width, height) = (attribute(&root, "width"), attribute(&root, "height"));
        assert!(width >= 100.0 && height >= 100.0, "{what:?}");
        if let Picture::Chart(chart) = picture {
            let plot = chart.plot(&design, &outcome).expect("a chart");
            let caption = chart.caption(&design, &outcome).on(&plot);
            let told = caption.height(width);
            let (left, right, top, bottom) = plots::MARGINS;
            let places = places(&document);
            assert!(places.len() > 3, "{what:?} is empty");
            for (x, y) in places {
                let is_in = (left..=width - right).contains(&x);
                assert!(
                    is_in && (top..=height - told - bottom).contains(&y),
                    "{what:?}: {x}, {y}"
                );
            }
            let words: Vec<_> = document
                .descendants()
                .filter(Node::is_text)
                .filter_map(|n| n.text())
                .collect();
            assert!(words.contains(&caption.title.as_str()), "{what:?}");
            for (_, meaning) in &caption.legend {
                assert!(words.contains(&meaning.as_str()), "{what:?}: {meaning}");
            }
        }
        names.push(file.name);
    }
    for name in [
        "schematic-1.svg",
        "schematic-2.svg",
        "magnitude.svg",
        "nyquist.svg",
        "distributions.svg",
    ] {
        assert!(names.iter().any(|known| known == name), "{name}: {names:?}");
    }
    assert_eq!(
        names.len(),
        Chart::ALL.len() - left_out + design.stages.len() + 2
    );
}
