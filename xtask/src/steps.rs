//! The record of a run of several steps.

use std::time::{Duration, Instant};

use anyhow::Result;

/// Steps done so far, in their order.
#[derive(Default)]
pub struct Steps(Vec<Step>);

struct Step {
    name: &'static str,
    passed: bool,
    took: Duration,
}

impl Steps {
    /// Does one step, says how it went, and hands back what it made if it passed.
    pub fn run<T>(&mut self, name: &'static str, step: impl FnOnce() -> Result<T>) -> Option<T> {
        println!("\n── {name}");
        let start = Instant::now();
        let result = step();
        let took = start.elapsed();
        match &result {
            Ok(_) => println!("── {name}: passed in {:.1} s", took.as_secs_f64()),
            Err(error) => println!(
                "── {name}: FAILED in {:.1} s\n{error:#}",
                took.as_secs_f64()
            ),
        }
        self.0.push(Step {
            name,
            passed: result.is_ok(),
            took,
        });
        result.ok()
    }

    /// Prints all steps and, as the last line, how many of them passed; says whether all did.
    pub fn report(self) -> bool {
        println!();
        for step in &self.0 {
            let verdict = if step.passed { "passed" } else { "FAILED" };
            let seconds = step.took.as_secs_f64();
            println!("{:<24} {verdict} {seconds:>8.1} s", step.name);
        }
        let failed = self.0.iter().filter(|step| !step.passed).count();
        println!("{} passed, {failed} failed", self.0.len() - failed);
        failed == 0
    }
}
