//! Which stage of one path answers which stage of the other.

use crate::design::StageDesign;

/// A stage of each path, by their places; only one where the other path has no such stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pair {
    pub now: Option<usize>,
    pub copy: Option<usize>,
}

/// How much two stages have in common; 0 where they do not belong together.
fn likeness(now: &StageDesign, copy: &StageDesign) -> u32 {
    let is_asked_alike = now.ask == copy.ask;
    match (now.circuit == copy.circuit, is_asked_alike) {
        (true, true) => 8,
        (true, false) => 6,
        (false, true) => 5,
        (false, false) if now.ask.family() == copy.ask.family() => 3,
        (false, false) => 0,
    }
}

/// Pairs of stages that have the most in common without crossing, in the order of the paths.
///
/// Method: alignment of two sequences by dynamic programming (Needleman and Wunsch, J. Mol. Biol. 48, 1970), a stage
/// without its like costing nothing.
pub fn pairs(now: &[StageDesign], copy: &[StageDesign]) -> Vec<Pair> {
    // best[i][j]: of the stages from i and from j on.
    let mut best = vec![vec![0; copy.len() + 1]; now.len() + 1];
    for i in (0..now.len()).rev() {
        for j in (0..copy.len()).rev() {
            let together = match likeness(&now[i], &copy[j]) {
                0 => 0,
                common => common + best[i + 1][j + 1],
            };
            best[i][j] = together.max(best[i + 1][j]).max(best[i][j + 1]);
        }
    }
    let (mut i, mut j) = (0, 0);
    let mut found = Vec::new();
    while i < now.len() || j < copy.len() {
        let is_pair = i < now.len() && j < copy.len() && {
            let common = likeness(&now[i], &copy[j]);
            common > 0 && best[i][j] == common + best[i + 1][j + 1]
        };
        let takes_now = i < now.len() && (j == copy.len() || best[i][j] == best[i + 1][j]);
        let pair = Pair {
            now: (is_pair || takes_now).then_some(i),
            copy: (is_pair || !takes_now).then_some(j),
        };
        i += usize::from(pair.now.is_some());
        j += usize::from(pair.copy.is_some());
        found.push(pair);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stage(circuit: &str) -> StageDesign {
        let ask = crate::stages::catalogued(circuit).map(|circuit| circuit.default_ask());
        StageDesign {
            circuit: circuit.to_owned(),
            ask: ask.expect("a circuit"),
            ..StageDesign::default()
        }
    }

    fn told(now: &[StageDesign], copy: &[StageDesign]) -> Vec<(Option<usize>, Option<usize>)> {
        let all = pairs(now, copy);
        all.into_iter().map(|pair| (pair.now, pair.copy)).collect()
    }

    #[test]
    fn a_stage_put_in_front_shifts_the_others() {
        let copy = [stage("mfb-notch"), stage("twin-t-notch")];
        let mut now = copy.to_vec();
        now.insert(0, stage("gain-inverting"));
        assert_eq!(
            told(&now, &copy),
            [(Some(0), None), (Some(1), Some(0)), (Some(2), Some(1))]
        );
        assert_eq!(
            told(&copy, &now),
            [(None, Some(0)), (Some(0), Some(1)), (Some(1), Some(2))]
        );
    }

    #[test]
    fn another_circuit_for_the_same_ask_is_the_same_stage() {
        let mut now = stage("mfb-notch");
        let copy = now.clone();
        now.circuit = "twin-t-notch".to_owned();
        assert_eq!(told(&[now], &[copy]), [(Some(0), Some(0))]);
    }

    #[test]
    fn what_has_nothing_in_common_stands_by_itself() {
        assert_eq!(
            told(&[stage("gain-inverting")], &[stage("mfb-notch")]),
            [(Some(0), None), (None, Some(0))]
        );
        assert_eq!(told(&[], &[]), []);
    }
}
