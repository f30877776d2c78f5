//! What a trace of Chromium says of the page's thread.

use serde_json::Value;

/// What is traced for it.
pub const CATEGORIES: &str =
    "devtools.timeline,disabled-by-default-devtools.timeline,blink.user_timing";
/// The mark the page is made to leave when it has drawn.
pub const DRAWN: &str = "bench-drawn";
/// The mark it is made to leave when the spread is done.
pub const READY: &str = "bench-ready";

/// A task of the page's thread, in milliseconds.
#[derive(Debug, PartialEq)]
pub struct Task {
    /// By the clock on the wall.
    pub took: f64,
    /// Of it, what the processor spent on it and on no other program.
    pub worked: f64,
    /// What the browser says it did in it, in its order, where that took a millisecond or more.
    pub doings: Vec<(String, f64)>,
}

/// Reads the trace: the tasks of the marked thread that began between the two marks.
pub fn tasks_of_spread(trace: &[Value]) -> Vec<Task> {
    let events: Vec<&Value> = trace
        .iter()
        .filter(|event| event["method"] == "Tracing.dataCollected")
        .map(|event| &event["params"])
        .collect();
    let spreads = spreads(&events);
    let follows_drawing = |event: &&&Value| {
        let at = microseconds(event, "ts");
        event["name"] == "RunTask"
            && event["ph"] == "X"
            && spreads.iter().any(|(page, drawn, ready)| {
                thread(event) == *page && (*drawn..*ready).contains(&at)
            })
    };
    let tasks = events.iter().filter(follows_drawing);
    tasks
        .map(|task| Task {
            took: microseconds(task, "dur") / 1e3,
            worked: microseconds(task, "tdur") / 1e3,
            doings: doings(&events, task),
        })
        .collect()
}

fn doings(events: &[&Value], task: &Value) -> Vec<(String, f64)> {
    let begin = microseconds(task, "ts");
    let end = begin + microseconds(task, "dur");
    let mut inside: Vec<&Value> = events
        .iter()
        .copied()
        .filter(|event| {
            event["ph"] == "X"
                && event["name"] != task["name"]
                && !is_mark(event, DRAWN)
                && !is_mark(event, READY)
                && thread(event) == thread(task)
                && (begin..end).contains(&microseconds(event, "ts"))
                && microseconds(event, "dur") >= 1000.0
        })
        .collect();
    inside.sort_by(|a, b| microseconds(a, "ts").total_cmp(&microseconds(b, "ts")));
    inside
        .iter()
        .map(|event| {
            let name = event["name"].as_str().unwrap_or_default().to_owned();
            (name, microseconds(event, "dur") / 1e3)
        })
        .collect()
}

/// On which thread, from when, and until when the spread followed a drawing.
fn spreads<'a>(events: &[&'a Value]) -> Vec<((&'a Value, &'a Value), f64, f64)> {
    let mut marks: Vec<&Value> = events
        .iter()
        .copied()
        .filter(|event| is_mark(event, DRAWN) || is_mark(event, READY))
        .collect();
    marks.sort_by(|a, b| microseconds(a, "ts").total_cmp(&microseconds(b, "ts")));
    marks
        .windows(2)
        .filter(|pair| is_mark(pair[0], DRAWN) && is_mark(pair[1], READY))
        .map(|pair| {
            (
                thread(pair[0]),
                microseconds(pair[0], "ts"),
                microseconds(pair[1], "ts"),
            )
        })
        .collect()
}

fn is_mark(event: &Value, name: &str) -> bool {
    event["name"] == name
}

fn thread(event: &Value) -> (&Value, &Value) {
    (&event["pid"], &event["tid"])
}

fn microseconds(event: &Value, key: &str) -> f64 {
    event[key].as_f64().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn tasks_between_the_marks_count() {
        let event = |name: &str, ts: f64, tid: u32| {
            let params = json!({ "name": name, "ph": "X", "pid": 1, "tid": tid, "ts": ts,
                "dur": 4000.0, "tdur": 3000.0 });
            json!({ "method": "Tracing.dataCollected", "params": params })
        };
        let inner = {
            let mut inner = event("Layout", 16.0, 1);
            inner["params"]["dur"] = json!(2000.0);
            inner
        };
        let trace = [
            event("RunTask", 5.0, 1),
            event("RunTask", 15.0, 1),
            event("RunTask", 16.0, 2),
            inner,
            event(DRAWN, 10.0, 1),
            event(READY, 20.0, 1),
            event("RunTask", 25.0, 1),
        ];
        assert_eq!(
            tasks_of_spread(&trace),
            [Task {
                took: 4.0,
                worked: 3.0,
                doings: vec![("Layout".into(), 2.0)],
            }]
        );
    }
}
