//! The longest task among some, as rows of the table.

use super::numbers::most;
use super::table::Row;
use super::trace::Task;

/// How long the longest took, and what the browser did in it.
pub fn rows(what: &str, tasks: &[Task]) -> [Row; 2] {
    let longest_task = tasks
        .iter()
        .max_by(|a, b| a.took.total_cmp(&b.took))
        .map_or(String::new(), told);
    let longest = most(&list(tasks, |task| task.took));
    let worked = most(&list(tasks, |task| task.worked));
    let task = format!("{longest:.1} ms, {worked:.1} ms of them work");
    [
        Row::new(what, task).below(8.0, "ms", longest),
        Row::new("what that task did", longest_task),
    ]
}

/// What the browser did in a task; what stands later may have been done within what stands before.
fn told(task: &Task) -> String {
    let doings = task
        .doings
        .iter()
        .map(|(name, took)| format!("{name} {took:.1} ms"));
    doings.collect::<Vec<_>>().join(", ")
}

fn list(tasks: &[Task], what: fn(&Task) -> f64) -> Vec<f64> {
    tasks.iter().map(what).collect()
}
