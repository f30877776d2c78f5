//! The table that `bench` prints.

/// One line: what was measured, what came out, and the goal if there is one.
pub struct Row {
    what: String,
    figure: String,
    goal: String,
}

impl Row {
    /// A line that only says what the lines below it are about.
    pub fn heading(text: impl Into<String>) -> Self {
        Self {
            what: text.into(),
            figure: String::new(),
            goal: String::new(),
        }
    }

    /// A figure without a goal.
    pub fn new(what: &str, figure: impl Into<String>) -> Self {
        Self {
            what: format!("  {what}"),
            figure: figure.into(),
            goal: String::new(),
        }
    }

    /// The same with a goal, which is to stay below `limit`.
    pub fn below(self, limit: f64, unit: &str, value: f64) -> Self {
        let verdict = if value < limit { "yes" } else { "no" };
        Self {
            goal: format!("< {limit} {unit}: {verdict}"),
            ..self
        }
    }

    /// The same with a goal, which is to reach `limit`.
    pub fn above(self, limit: f64, unit: &str, value: f64) -> Self {
        let verdict = if value >= limit { "yes" } else { "no" };
        Self {
            goal: format!("≥ {limit} {unit}: {verdict}"),
            ..self
        }
    }

    fn is_heading(&self) -> bool {
        self.figure.is_empty()
    }
}

/// Prints the rows with their columns aligned.
pub fn print(rows: &[Row]) {
    let width = |column: fn(&Row) -> &str| {
        let lines = rows.iter().filter(|row| !row.is_heading());
        lines
            .map(|row| column(row).chars().count())
            .max()
            .unwrap_or(0)
    };
    let (what, figure) = (width(|row| &row.what), width(|row| &row.figure));
    for row in rows {
        if row.is_heading() {
            println!("\n{}", row.what);
        } else {
            let line = format!("{:<what$}  {:<figure$}  {}", row.what, row.figure, row.goal);
            println!("{}", line.trim_end());
        }
    }
}
