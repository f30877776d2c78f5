//! Which op amp stands where in a design.

use std::collections::BTreeMap;

use super::{Design, InputError, StageDesign};
use crate::parts::{DataSheet, OpAmp, OpAmpClass, OpAmps};
use crate::stages::catalogued;

/// Most op amps of a list.
pub const MOST_OP_AMPS: usize = 12;

impl Design {
    /// The data sheet of one op amp of a stage, by its designator: what it names, else what the stage names, else the
    /// usual one. A name that is in no list stands for the usual one.
    pub fn data_sheet(&self, stage: &StageDesign, designator: &str) -> &DataSheet {
        let named = stage.op_amps.get(designator).or(stage.op_amp.as_ref());
        named
            .and_then(|name| self.own_op_amp(name))
            .unwrap_or(&self.op_amp)
    }

    /// The data sheet that stands for all op amps of a stage but those that name another.
    pub fn stage_data_sheet(&self, stage: &StageDesign) -> &DataSheet {
        let named = stage.op_amp.as_ref();
        named
            .and_then(|name| self.own_op_amp(name))
            .unwrap_or(&self.op_amp)
    }

    /// The data sheets of a stage's op amps, in the netlist's order.
    pub fn data_sheets(&self, stage: &StageDesign) -> Vec<&DataSheet> {
        let names = stage.op_amp_names();
        let sheets = names.iter().map(|name| self.data_sheet(stage, name));
        sheets.collect()
    }

    /// What decides a stage's response of its op amps.
    pub fn op_amps_of(&self, stage: &StageDesign) -> OpAmps {
        let own = stage.op_amps.keys().map(|designator| {
            let op_amp = self.data_sheet(stage, designator).op_amp();
            (designator.clone(), op_amp)
        });
        OpAmps {
            usual: self.stage_data_sheet(stage).op_amp(),
            own: own.collect(),
        }
    }

    /// The slowest op amp of a stage: what its circuit must do with.
    pub fn slowest_op_amp(&self, stage: &StageDesign) -> OpAmp {
        let op_amps = self.op_amps_of(stage);
        let all = stage.op_amp_names();
        let all = all.iter().map(|designator| op_amps.of(designator));
        let slowest = all.min_by(|a, b| a.gain_bandwidth.total_cmp(&b.gain_bandwidth));
        slowest.unwrap_or(&op_amps.usual).clone()
    }

    /// Puts an op amp of a class on the list, under a name that is not there yet; nothing where the list is full.
    pub fn add_op_amp(&mut self, class: &OpAmpClass) {
        if self.op_amps.len() >= MOST_OP_AMPS {
            return;
        }
        let taken = |name: &String| self.op_amps.iter().any(|own| own.name == *name);
        let numbered = (2..).map(|number| format!("{} {number}", class.name));
        let mut names = std::iter::once(class.name.to_owned()).chain(numbered);
        if let Some(name) = names.find(|name| !taken(name)) {
            self.op_amps.push(DataSheet {
                name,
                ..(class.data)()
            });
        }
    }

    /// Takes an op amp off the list; what names it has the usual one then.
    pub fn remove_op_amp(&mut self, place: usize) {
        if place < self.op_amps.len() {
            let gone = self.op_amps.remove(place);
            rename(&mut self.stages, &gone.name, None);
        }
    }

    fn own_op_amp(&self, name: &str) -> Option<&DataSheet> {
        self.op_amps.iter().find(|own| own.name == name)
    }
}

impl StageDesign {
    /// The designators of a circuit's op amps, in the netlist's order.
    pub fn op_amp_names(&self) -> Vec<String> {
        let Some(circuit) = catalogued(&self.circuit) else {
            return Vec::new();
        };
        let netlist = circuit.netlist();
        netlist.op_amps().map(|part| part.name.clone()).collect()
    }
}

/// Makes all stages that name an op amp name it by another name; none for the usual one.
pub(super) fn rename(stages: &mut [StageDesign], before: &str, after: Option<&str>) {
    for stage in stages {
        if stage.op_amp.as_deref() == Some(before) {
            stage.op_amp = after.map(str::to_owned);
        }
        let own = std::mem::take(&mut stage.op_amps);
        let named = own.into_iter().filter_map(|(designator, name)| {
            let name = match name == before {
                true => after?.to_owned(),
                false => name,
            };
            Some((designator, name))
        });
        stage.op_amps = named.collect::<BTreeMap<_, _>>();
    }
}

/// Names that are missing or stand twice, and stages that name what is not there.
pub(super) fn check(design: &Design) -> Vec<InputError> {
    let mut errors = Vec::new();
    for (place, own) in design.op_amps.iter().enumerate() {
        let at = format!("/op_amps/{place}/name");
        let before = &design.op_amps[..place];
        if own.name.is_empty() {
            errors.push(InputError::new(
                &at,
                format!("Name of op amp {} is empty; write one.", place + 1),
            ));
        } else if ["true", "false"].contains(&own.name.as_str()) {
            errors.push(InputError::new(
                &at,
                format!(
                    "Name of op amp {} is a word that files keep for themselves; write another one.",
                    place + 1
                ),
            ));
        } else if before.iter().any(|other| other.name == own.name) {
            errors.push(InputError::new(
                &at,
                format!(
                    "Name of op amp {} stands twice; write another one.",
                    place + 1
                ),
            ));
        }
    }
    for (index, stage) in design.stages.iter().enumerate() {
        let known = stage.op_amp_names();
        for designator in stage.op_amps.keys() {
            if !known.contains(designator) {
                errors.push(InputError::new(
                    &format!("/stages/{index}/op_amps/{designator}"),
                    format!("This circuit has no op amp “{designator}”."),
                ));
            }
        }
    }
    errors
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parts::CLASSES;

    #[test]
    fn names_are_followed_and_what_is_gone_is_the_usual_one() {
        let mut design = Design::default();
        for _ in 0..2 {
            design.add_op_amp(&CLASSES[1]);
        }
        assert_eq!(design.op_amps[1].name, "JFET input 2");
        design.stages[0].op_amp = Some("JFET input".to_owned());
        design.stages[0].op_amps = [("U1".to_owned(), "JFET input 2".to_owned())].into();
        let of = |design: &Design| {
            let stage = &design.stages[0];
            let own = design.data_sheet(stage, "U1").name.clone();
            (own, design.stage_data_sheet(stage).name.clone())
        };
        let renamed = design
            .with("/op_amps/1/name", "quick".into())
            .expect("a name");
        assert_eq!(of(&renamed), ("quick".to_owned(), "JFET input".to_owned()));
        assert_eq!(super::super::check(&renamed), Ok(()));
        let mut fewer = renamed;
        fewer.remove_op_amp(1);
        assert_eq!(
            of(&fewer),
            ("JFET input".to_owned(), "JFET input".to_owned())
        );
        fewer.remove_op_amp(0);
        assert_eq!(of(&fewer), (String::new(), String::new()));
        // A file may name what is not there: it has the usual one.
        fewer.stages[0].op_amp = Some("nowhere".to_owned());
        assert_eq!(of(&fewer).0, "");
    }

    #[test]
    fn the_list_ends_somewhere() {
        let mut design = Design::default();
        for _ in 0..2 * MOST_OP_AMPS {
            design.add_op_amp(&CLASSES[0]);
        }
        assert_eq!(design.op_amps.len(), MOST_OP_AMPS);
        assert_eq!(super::super::check(&design), Ok(()));
    }
}
