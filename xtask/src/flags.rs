//! The command line.

xflags::xflags! {
    /// What this project needs beyond cargo itself.
    cmd xtask {
        /// Build the page into dist/, having installed what that takes.
        cmd build {}
        /// Build the page and serve it on 127.0.0.1 until Ctrl-C.
        cmd serve {
            /// The port; without it 8017, or the next that is free.
            optional --port port: u16
        }
        /// Run every check, as continuous integration does.
        cmd test {}
        /// Measure speed and weight, and print one table.
        cmd bench {
            /// Groups of its rows; all without any. A name that is none's is answered with the list.
            repeated groups: String
        }
        /// Leave pictures of the built page in target/shots/.
        cmd shots {
            /// What to put after the # of the address.
            optional --fragment fragment: String
        }
    }
}
