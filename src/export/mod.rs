//! What leaves the page: parts list, netlist, transfer functions, tables and pictures of all that is drawn. Texts in forms
//! that others read, made of an outcome alone; the parts list looks at the design too.

mod available;
mod netlist;
mod parts_list;
mod picture;
mod tables;
mod tolerance;
mod what;
mod zero_pole_gain;

pub use available::available;
pub use netlist::{Block, netlist};
pub use parts_list::{PartsRow, Substitute, parts_list};
pub use picture::Picture;
pub use what::{File, What, export};
pub use zero_pole_gain::{in_a_row, of_plant, of_transfer};
