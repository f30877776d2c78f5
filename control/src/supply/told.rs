//! A supply in sentences.

use std::collections::BTreeSet;

use super::{Hit, ModeBand, Source, Supply};

/// What is known, loudest first. `modes` is how many the model has, `is_stable` whether the loop round it is.
pub fn told(
    supply: &Supply,
    bands: &[ModeBand],
    hits: &[Hit],
    modes: usize,
    is_stable: bool,
) -> Vec<String> {
    let mut told = Vec::new();
    told.push(match (bands.len(), hits.len()) {
        (0, _) => "The plant has no mode with a peak on which a line could fall.".to_owned(),
        (_, 0) => {
            "No line of the supply up to these orders falls within a mode's width.".to_owned()
        }
        (_, 1) => "1 line of the supply may fall within a mode's width.".to_owned(),
        (_, count) => format!("{count} lines of the supply may fall within a mode's width."),
    });
    for converter in 0..supply.converters.len() {
        told.extend(of_one(supply, hits, converter));
    }
    for second in 0..supply.converters.len() {
        told.extend((0..second).filter_map(|first| of_two(supply, hits, (first, second))));
    }
    let damped: Vec<usize> = (0..modes)
        .filter(|mode| bands.iter().all(|band| band.mode != *mode))
        .collect();
    if !damped.is_empty() && !bands.is_empty() {
        told.push(format!(
            "Left out, as too well damped to have a peak: {}.",
            of_modes(&damped.into_iter().collect())
        ));
    }
    if !is_stable && !hits.is_empty() {
        told.push(
            "The loop is not stable as it stands: only path and plant are counted, as with the loop open."
                .to_owned(),
        );
    }
    told
}

/// What no other switching frequency would change.
fn of_one(supply: &Supply, hits: &[Hit], converter: usize) -> Vec<String> {
    let name = supply.name(converter);
    let is_burst =
        |source| matches!(source, Source::Burst { converter: at, .. } if at == converter);
    let is_rate =
        |source| matches!(source, Source::Modulation { converter: at, .. } if at == converter);
    let bursts = on(hits, is_burst).map(|modes| {
        format!(
            "{name}: its bursts or their harmonics come over {modes}, whatever its switching frequency. A least load or \
             forced continuous conduction keeps it out of bursts.",
        )
    });
    let rates = on(hits, is_rate).map(|modes| {
        format!(
            "{name}: the rate of its spread spectrum or a harmonic of it falls on {modes}, whatever its switching \
             frequency. Another rate moves it.",
        )
    });
    bursts.into_iter().chain(rates).collect()
}

/// Two that come so near to each other that they beat from nothing up.
fn of_two(supply: &Supply, hits: &[Hit], pair: (usize, usize)) -> Option<String> {
    let is_slow = |hit: &&Hit| matches!(hit.line.source, Source::Beat { converters, .. } if converters == pair && hit.line.range.0 == 0.0);
    let slow: Vec<Hit> = hits.iter().filter(is_slow).copied().collect();
    let modes = on(&slow, |_| true)?;
    Some(format!(
        "{} and {} come so near to each other, or to multiples of each other, that their beat drifts from 0 Hz up, over \
         {modes}. One clock for both removes the beat; so do frequencies further apart.",
        supply.name(pair.0),
        supply.name(pair.1),
    ))
}

/// The modes that lines of some sources hit.
fn on(hits: &[Hit], is_one: impl Fn(Source) -> bool) -> Option<String> {
    let hits = hits.iter().filter(|hit| is_one(hit.line.source));
    let modes: BTreeSet<usize> = hits.map(|hit| hit.mode).collect();
    (!modes.is_empty()).then(|| of_modes(&modes))
}

/// "mode 2", "modes 1 and 2", "modes 1, 2 and 3".
fn of_modes(modes: &BTreeSet<usize>) -> String {
    let mut numbers: Vec<String> = modes.iter().map(|mode| (mode + 1).to_string()).collect();
    let last = numbers.pop().unwrap_or_default();
    if numbers.is_empty() {
        format!("mode {last}")
    } else {
        format!("modes {} and {last}", numbers.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Burst, Converter, hits, lines};
    use super::*;

    #[test]
    fn sentences_say_what_helps() {
        let band = |mode, frequency: f64| ModeBand {
            mode,
            frequency,
            drift: (frequency, frequency),
            range: (0.99 * frequency, 1.01 * frequency),
        };
        let bands = [band(0, 27.0), band(2, 2350.0)];
        let mut supply = Supply::default();
        let quiet = hits(&lines(&supply), &bands);
        assert_eq!(
            told(&supply, &bands, &quiet, 3, true),
            [
                "No line of the supply up to these orders falls within a mode's width.",
                "Left out, as too well damped to have a peak: mode 2.",
            ]
        );
        supply.converters[0].name = "3.3 V".to_owned();
        supply.converters[0].burst = Some(Burst::default());
        supply.converters.push(Converter::default());
        supply.beats = 1;
        let loud = hits(&lines(&supply), &bands);
        let told = told(&supply, &bands, &loud, 3, false);
        assert_eq!(
            told[0],
            "7 lines of the supply may fall within a mode's width."
        );
        assert!(told[1].starts_with("3.3 V: its bursts or their harmonics come over mode 3,"));
        assert!(
            told[2].contains("3.3 V and Converter 2") && told[2].contains("over modes 1 and 3.")
        );
        assert!(told[4].starts_with("The loop is not stable"));
    }
}
