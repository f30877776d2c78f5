//! What a design is for.

use super::{Field, Group, Kind};
use crate::design::About;

pub(super) fn about(all: &mut Vec<(Group, Field)>, about: &About) {
    let text = |path: String, label: &str, longest, lines, help| Field {
        path,
        label: label.to_owned(),
        kind: Kind::Text { longest, lines },
        help,
    };
    let of_design = [
        text(
            "/about/name".to_owned(),
            "Design name",
            About::NAME,
            false,
            "What the design is called: it names the file, and stands on the build sheet.",
        ),
        text(
            "/about/date".to_owned(),
            "Date",
            About::DATE,
            false,
            "The day that the build sheet carries, as 2026-03-31.",
        ),
        text(
            "/about/notes".to_owned(),
            "Notes",
            About::NOTES,
            true,
            "What the design is for, and what must not be forgotten.",
        ),
    ];
    all.extend(of_design.map(|field| (Group::About, field)));
    for place in 0..about.log.len() {
        let at = format!("/about/log/{place}");
        let number = place + 1;
        let of_entry = [
            text(
                format!("{at}/date"),
                &format!("Date of change {number}"),
                About::DATE,
                false,
                "The day of the change.",
            ),
            text(
                format!("{at}/change"),
                &format!("Change {number}"),
                About::CHANGE,
                false,
                "What was changed on the board, and what it did.",
            ),
        ];
        all.extend(of_entry.map(|field| (Group::LogEntry(place), field)));
    }
}
